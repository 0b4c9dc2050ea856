// Who is to answer where, as plain data: address spaces, ranges, and the conditions around them. What it means as functions
// is worked out in intent.ts, what comes of it in map-report.ts and check-map.ts.

import type { Finding, Formula, Span } from '../base/index.ts';
import { DECODE_CODES, type DecodeCode } from './codes.ts';

/** An address space as the decoder sees it. Formulas are over levels of nets. */
export interface AddressSpace {
  readonly name: 'memory' | 'ports';
  /** Nets of the address lines, bit 0 first. */
  readonly lines: readonly string[];
  /** The lines that the decoder gets; default all. What it does not see it does not tell apart. */
  readonly given?: readonly string[];
  /** When an address of this space is on the bus, such as `low(/MREQ) & high(/RFSH)`. Default always. */
  readonly cycle?: string | Formula;
  /** When the access is a read or a write; where absent, `access` of a range is left to the part itself. */
  readonly read?: string | Formula;
  readonly write?: string | Formula;
}

/** A stretch of addresses at which a part answers. */
export interface AddressRange {
  readonly space: 'memory' | 'ports';
  readonly at: number;
  readonly bytes: number;
  /** Condition under which it answers there, such as the level of a latch bit. Default always. */
  readonly when?: string | Formula;
  /** Answers to reads or writes only. Default both. */
  readonly access?: 'read' | 'write';
  /**
   * Whether the part may also answer where nothing is mapped: allowed, its select takes as few terms as that gives;
   * forbidden, it answers nowhere else at all; unsaid, as exactly as the lines that are given allow. Default as the plan says.
   */
  readonly mirrors?: 'allowed' | 'forbidden';
  /** Stages, from 1, that have it: from `stage` (default 1) up to but excluding `until`. */
  readonly stage?: number;
  readonly until?: number;
  readonly span?: Span;
}

/** A select that the decoder makes. */
export interface SelectIntent {
  readonly part: string;
  /** The net it drives. */
  readonly net: string;
  readonly activeLow: boolean;
  readonly pin?: number;
  readonly ranges: readonly AddressRange[];
  /** A further condition, such as the strobe that a part without one of its own needs. */
  readonly strobe?: string | Formula;
  /**
   * Set where the select follows the address alone, in cycles of every kind: the strobes that its part gets say which cycles
   * are meant, and the select is to be there before them. Default unset: it is active in cycles of its spaces only.
   */
  readonly isAddressOnly?: true;
  readonly span?: Span;
}

/** An output that is active while any of several parts is addressed: buffer enables, wait for slow parts. */
export interface GroupIntent {
  readonly net: string;
  readonly activeLow: boolean;
  readonly pin?: number;
  /** Parts of the selects. */
  readonly parts: readonly string[];
  /** A further condition. */
  readonly and?: string | Formula;
  readonly span?: Span;
}

/** The whole of what a decoder is to do with addresses. */
export interface AddressPlan {
  readonly spaces: readonly AddressSpace[];
  readonly selects: readonly SelectIntent[];
  readonly groups?: readonly GroupIntent[];
  /** For ranges that don't say; default unsaid. */
  readonly mirrors?: 'allowed' | 'forbidden';
  /** Levels that never occur together, such as `low(/RD) & low(/WR)`: free for every output. */
  readonly never?: string | Formula;
  readonly span?: Span;
}

/** The plan as of a stage: the ranges that exist then, and the selects that still have any. */
export function planAt(plan: AddressPlan, stage: number): AddressPlan {
  const exists = (range: AddressRange): boolean =>
    (range.stage ?? 1) <= stage && (range.until === undefined || stage < range.until);
  const selects = plan.selects
    .map((select) => ({ ...select, ranges: select.ranges.filter(exists) }))
    .filter((select) => select.ranges.length > 0);
  const parts = new Set(selects.map((select) => select.part));
  const groups = (plan.groups ?? [])
    .map((group) => ({ ...group, parts: group.parts.filter((part) => parts.has(part)) }))
    .filter((group) => group.parts.length > 0);
  return { ...plan, selects, groups };
}

/** Collects findings of a plan. */
export type PlanReport = (
  code: DecodeCode,
  message: string,
  place: { readonly span?: Span },
  extra?: Partial<Finding>,
) => void;

/** A report that appends to `findings`. */
export function planReport(plan: AddressPlan, findings: Finding[]): PlanReport {
  return (code, message, place, extra) => {
    const span = place.span ?? plan.span;
    const where = span === undefined ? [] : [span];
    findings.push({ code, severity: DECODE_CODES[code].severity, message, where, notes: [], ...extra });
  };
}

/** Aligned blocks (address and size, a power of two) that make up a stretch of addresses, ascending. */
export function blocksOf(at: number, bytes: number): { at: number; bytes: number }[] {
  const blocks: { at: number; bytes: number }[] = [];
  const end = at + bytes;
  let next = at;
  while (next < end) {
    let size = 1;
    while (next % (size * 2) === 0 && next + size * 2 <= end) size *= 2;
    blocks.push({ at: next, bytes: size });
    next += size;
  }
  return blocks;
}
