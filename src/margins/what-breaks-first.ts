// What gives way first when the clock rises, when the supply falls, or when one part is slower than its sheet says, and what is
// seen at the bench then.

import { foldName, formatHex } from '../base/index.ts';
import { type Design, netlistAt, type NetPart } from '../netlist/index.ts';
import { gradeOf } from '../parts/index.ts';
import type { TimingRow } from './bus-timing/row.ts';
import type { BusTiming } from './bus-timing/timing.ts';
import type { MarginOptions } from './model.ts';

/** One thing that gives way. */
export interface Break {
  /** Hz, V, or percent slower. */
  readonly at: number;
  readonly what: string;
  readonly symptom: string;
}

/** Addresses of a part, for words. */
function placeOf(design: Design, stage: number, row: TimingRow): string {
  const region = design.map.find(
    (item) =>
      foldName(item.part) === foldName(row.target) &&
      item.stage <= stage &&
      (item.until === undefined || stage < item.until),
  );
  if (region === undefined) return row.target;
  const digits = region.space === 'ports' ? 2 : 4;
  const first = formatHex(region.at, digits);
  const last = formatHex(region.at + region.bytes - 1, digits);
  return first === last ? `${row.target} at ${first}` : `${row.target} at ${first} to ${last}`;
}

/** What is seen when a row turns negative. */
export function symptomOf(design: Design, stage: number, row: TimingRow): string {
  const place = placeOf(design, stage, row);
  if (row.cycle === 'clock') return `${row.target} itself is beyond what its maker promises; anything may go wrong`;
  if (row.check === 'turnaround')
    return `${row.target} and whatever drives next are on the data lines together for a moment: more current, noise, errors that come and go`;
  if (row.check === 'read hold') return `data from ${place} are gone before the processor has taken them`;
  if (row.kind === 'access') {
    const bit = row.bit === null ? '' : `bit ${/\d+$/.exec(row.bit)?.[0] ?? row.bit} of `;
    const first = row.bit === null ? '' : ' first';
    return row.cycle === 'fetch'
      ? `${bit}instructions from ${place} ${bit === '' ? 'come' : 'comes'} late${first} and ${bit === '' ? 'are' : 'is'} misread: the program leaves its path`
      : `${bit}data read from ${place} ${bit === '' ? 'come' : 'comes'} late${first}: wrong bytes${bit === '' ? ', the last bits to change first' : ''}`;
  }
  if (row.cycle.endsWith('read'))
    return `${place} is read outside its own rules: wrong bytes, or reads that count twice`;
  if (row.from.endsWith(' data')) return `bytes written to ${place} are taken before they are there: wrong contents`;
  return `writes to ${place} are missed, or reach a neighbouring address`;
}

/** Rising clock: what turns negative, lowest frequency first. Rows that no clock mends come first, at 0 Hz. */
export function risingClock(design: Design, stage: number, timing: BusTiming): Break[] {
  return timing.rows
    .filter((row) => row.marginNs !== null && row.maxClockHz !== null)
    .map((row) => ({
      at: row.maxClockHz!,
      what: `${row.cycle} with ${row.target}: ${row.check}`,
      symptom: symptomOf(design, stage, row),
    }))
    .sort((a, b) => a.at - b.at);
}

/** How much slower than printed each part may be: percent of its own share of a path, the least over all paths. */
export function slowPart(timing: BusTiming): Break[] {
  const least = new Map<string, Break>();
  for (const row of timing.rows) {
    if (row.marginNs === null || row.cycle === 'clock') continue;
    const shares = new Map<string, number>();
    for (const step of row.path)
      if (step.symbol !== 'load' && step.ns > 0) shares.set(step.part, (shares.get(step.part) ?? 0) + step.ns);
    for (const [part, ns] of shares) {
      const percent = (row.marginNs / ns) * 100;
      const before = least.get(part);
      if (before === undefined || percent < before.at)
        least.set(part, { at: percent, what: part, symptom: `${row.cycle} with ${row.target}: ${row.check}` });
    }
  }
  return [...least.values()].sort((a, b) => a.at - b.at);
}

/** A part's least supply, V; undefined where it isn't printed or the part has none. */
export function leastSupply(part: NetPart, options: MarginOptions): number | undefined {
  if (!part.record.pins.some((pin) => pin.kind === 'supply')) return undefined;
  return (
    gradeOf(part.record, part.grade)?.supply?.min ??
    part.record.supply?.min ??
    (part.family === undefined ? undefined : options.families.get(part.family)?.supply.min)
  );
}

/** Falling supply: whose least supply is passed first, and where a supervisor takes the machine into reset. */
export function fallingSupply(design: Design, stage: number, options: MarginOptions): Break[] {
  const found: Break[] = [];
  for (const part of netlistAt(design, stage).parts) {
    const facts = part.record.facts;
    if (part.record.category === 'supervisor') {
      for (const [key, word] of [
        ['threshold-max', 'may'],
        ['threshold-min', 'does'],
      ] as const) {
        const volts = facts?.[key];
        if (typeof volts === 'number')
          found.push({ at: volts, what: part.name, symptom: `${part.name} ${word} hold the machine in reset` });
      }
      continue;
    }
    if (part.record.category === 'supply' || part.record.category === 'connector') continue;
    const volts = leastSupply(part, options);
    if (volts !== undefined)
      found.push({
        at: volts,
        what: part.name,
        symptom: `${part.name} (${part.type}) is below what its maker promises`,
      });
  }
  return found.sort((a, b) => b.at - a.at || (a.what < b.what ? -1 : 1));
}

/** The supervisor against the part that wants most: V of its lowest threshold less that part's least supply. */
export interface SupervisorMargin {
  readonly supervisor: string;
  readonly part: string;
  readonly thresholdMin: number;
  readonly leastSupply: number;
  readonly margin: number;
}

export function supervisorMargin(design: Design, stage: number, options: MarginOptions): SupervisorMargin | null {
  const parts = netlistAt(design, stage).parts;
  const supervisor = parts.find(
    (part) => part.record.category === 'supervisor' && typeof part.record.facts?.['threshold-min'] === 'number',
  );
  if (supervisor === undefined) return null;
  const thresholdMin = supervisor.record.facts!['threshold-min'] as number;
  let most: { part: string; volts: number } | undefined;
  for (const part of parts) {
    if (part === supervisor || part.record.category === 'supply' || part.record.category === 'connector') continue;
    const volts = leastSupply(part, options);
    if (volts !== undefined && (most === undefined || volts > most.volts)) most = { part: part.name, volts };
  }
  if (most === undefined) return null;
  return {
    supervisor: supervisor.name,
    part: most.part,
    thresholdMin,
    leastSupply: most.volts,
    margin: thresholdMin - most.volts,
  };
}
