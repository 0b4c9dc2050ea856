// Answers to the meter plan: readings recorded, which touches still stand, and what the wrong ones point at.

import type { StripId } from '../board/index.ts';
import { effectiveRecords } from './built.ts';
import type { JournalEntry, JournalRecord } from './journal.ts';
import type { Touch, TouchPlan } from './touch-model.ts';

/** Whether a reading in ohms (Infinity for open) is as the touch expects. */
export function touchPasses(touch: Touch, ohms: number): boolean {
  return 'open' in touch.expect ? ohms >= touch.expect.above : ohms >= touch.expect.least && ohms <= touch.expect.most;
}

/** The entry that records a reading. */
export function touchEntry(touch: Touch, ohms: number, time: string, stage: string): JournalEntry {
  return {
    act: 'measure',
    time,
    stage,
    text: touch.text,
    measured: {
      what: touch.id,
      expected:
        'open' in touch.expect ? `over ${touch.expect.above} ohm` : `${touch.expect.least} to ${touch.expect.most} ohm`,
      found: Number.isFinite(ohms) ? `${ohms} ohm` : 'open',
      pass: touchPasses(touch, ohms),
    },
  };
}

export interface TouchState {
  readonly touch: Touch;
  /** void: measured, but a wire or part it proves was put in anew since. */
  readonly status: 'open' | 'right' | 'wrong' | 'void';
  /** Ohms as found; undefined where it wasn't measured. */
  readonly ohms: number | undefined;
}

const foundOhms = (found: string): number => (found === 'open' ? Number.POSITIVE_INFINITY : Number.parseFloat(found));

/** The state of each touch of a plan by the journal, in the plan's order. */
export function touchStates(plan: TouchPlan, records: readonly JournalRecord[]): TouchState[] {
  const lastReading = new Map<string, { at: number; record: JournalRecord }>();
  const lastPut = new Map<string, number>();
  effectiveRecords(records).forEach((record, at) => {
    if (record.measured !== undefined) lastReading.set(record.measured.what, { at, record });
    for (const fact of record.facts ?? []) {
      if (fact.fact === 'wire-in') lastPut.set(`wire ${fact.wire}`, at);
      if (fact.fact === 'part-in') lastPut.set(`part ${fact.part}`, at);
    }
  });
  return plan.touches.map((touch) => {
    const reading = lastReading.get(touch.id);
    if (reading === undefined) return { touch, status: 'open', ohms: undefined };
    const ohms = foundOhms(reading.record.measured!.found);
    const changed = [
      ...touch.proves.wires.map((id) => `wire ${id}`),
      ...touch.proves.parts.map((name) => `part ${name}`),
    ].some((key) => (lastPut.get(key) ?? -1) > reading.at);
    return { touch, status: changed ? 'void' : touchPasses(touch, ohms) ? 'right' : 'wrong', ohms };
  });
}

/** One thing that would explain wrong readings. */
export interface TouchSuspect {
  readonly kind: 'wire' | 'part' | 'bridge';
  /** Wire id or part; for a bridge its two strips. */
  readonly wire?: string;
  readonly part?: string;
  readonly strips?: readonly [StripId, StripId];
  /** Touches with a wrong reading that it explains. */
  readonly explains: readonly string[];
}

/**
 * What the wrong readings point at, what explains most of them first. Whatever a right reading proves or excludes is left out:
 * a wire that is proved is not missing, a bridge that is excluded is not there.
 */
export function touchSuspects(states: readonly TouchState[]): TouchSuspect[] {
  const cleared = new Set<string>();
  const found = new Map<string, { suspect: Omit<TouchSuspect, 'explains'>; explains: string[] }>();
  const bridgeKey = ([a, b]: readonly [StripId, StripId]): string => `bridge ${a < b ? `${a} ${b}` : `${b} ${a}`}`;
  for (const { touch, status } of states) {
    if (status !== 'right') continue;
    for (const wire of touch.proves.wires) cleared.add(`wire ${wire}`);
    for (const part of touch.proves.parts) cleared.add(`part ${part}`);
    for (const strips of touch.excludes) cleared.add(bridgeKey(strips));
  }
  const add = (key: string, suspect: Omit<TouchSuspect, 'explains'>, touch: string): void => {
    if (cleared.has(key)) return;
    const known = found.get(key);
    if (known === undefined) found.set(key, { suspect, explains: [touch] });
    else known.explains.push(touch);
  };
  for (const { touch, status, ohms } of states) {
    if (status !== 'wrong' || ohms === undefined) continue;
    const tooMuch = 'open' in touch.expect ? false : ohms > touch.expect.most;
    if (tooMuch) {
      for (const wire of touch.proves.wires) add(`wire ${wire}`, { kind: 'wire', wire }, touch.id);
    } else {
      for (const strips of touch.excludes) add(bridgeKey(strips), { kind: 'bridge', strips }, touch.id);
    }
    // A resistor of the wrong value reads either way.
    for (const part of touch.proves.parts) add(`part ${part}`, { kind: 'part', part }, touch.id);
  }
  return [...found.values()]
    .map(({ suspect, explains }) => ({ ...suspect, explains }))
    .sort((a, b) => b.explains.length - a.explains.length);
}

/** What one reading alone points at; nothing where it is as expected. */
export function suspectsOf(
  touch: Touch,
  ohms: number,
): {
  readonly wires: readonly string[];
  readonly parts: readonly string[];
  readonly bridges: readonly (readonly [StripId, StripId])[];
} {
  const found = touchSuspects([{ touch, status: touchPasses(touch, ohms) ? 'right' : 'wrong', ohms }]);
  return {
    wires: found.flatMap((item) => item.wire ?? []),
    parts: found.flatMap((item) => item.part ?? []),
    bridges: found.flatMap((item) => (item.strips === undefined ? [] : [item.strips])),
  };
}
