// What the margins engine takes and gives: plain data. A figure that nobody printed is null all the way through; a margin that
// rests on it is null too and never a pass.

import type { FamilyRecord, PartRecord, TimingArc } from '../parts/index.ts';

/** What the boards add to a net: from a layout when there is one. */
export interface NetWiring {
  /** Length of all wires of the net together, mm. */
  readonly mm: number;
  /** Contact strips that the net occupies. */
  readonly strips: number;
  /** Instrument leads hooked on. */
  readonly leads: number;
}

/** Wiring by net name, case folded. Nets that are not in it are taken with no wire at all. */
export type Wiring = ReadonlyMap<string, NetWiring>;

/** Choices that every analysis shares. */
export interface MarginOptions {
  readonly families: ReadonlyMap<string, FamilyRecord>;
  readonly wiring?: Wiring;
  /** Passes through the array that an output of a logic device takes, by `PART.PIN` folded; 1 unless said. */
  readonly passes?: ReadonlyMap<string, number>;
}

/** What one wants to know of a figure: where it stands. */
export interface FigureSource {
  readonly text: string;
  /** True where the record says so itself. */
  readonly fromMemory: boolean;
}

/** The printed source of a figure of a record: the document behind its key. */
export function sourceOf(record: PartRecord, key: string | undefined): FigureSource {
  if (key === undefined) return { text: 'no source given', fromMemory: false };
  if (key === 'from memory') return { text: key, fromMemory: true };
  const text = Object.hasOwn(record.sources, key) ? record.sources[key]! : key;
  return { text, fromMemory: /^from memory/i.test(text) };
}

/** An arc's unit in ns: 1 for ns, undefined for what is no time. */
export function nsPerUnit(arc: Pick<TimingArc, 'unit'>): number | undefined {
  switch (arc.unit ?? 'ns') {
    case 'ns':
      return 1;
    case 'us':
      return 1e3;
    case 'ms':
      return 1e6;
    case 'ps':
      return 1e-3;
    default:
      return undefined;
  }
}
