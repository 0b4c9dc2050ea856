// The built state: what is on the boards now, or was as of any record, folded from the facts in the journal and from nothing
// else. A later change of the layout changes the plan, never what is believed to be there.

import type { Finding } from '../base/index.ts';
import type { Fact, ImageFact, PartInFact, WireInFact } from './facts.ts';
import type { JournalRecord, Measured } from './journal.ts';

/** A part on the boards. */
export interface BuiltPart {
  readonly part: string;
  readonly type: string;
  readonly value: string | undefined;
  readonly rotation: 0 | 90 | 180 | 270;
  readonly leads: readonly (readonly [number, string])[];
  /** The physical piece: its label. */
  readonly device: string;
  /** The stage in which it was put in, by name, where the record says so. */
  readonly stage: string | undefined;
}

export interface BuiltWire {
  readonly wire: string;
  readonly net: string;
  readonly from: string;
  readonly to: string;
  readonly cutMm: number;
  readonly colour: string;
  readonly style: string;
  readonly lead: string | undefined;
  readonly stage: string | undefined;
}

export interface BuiltLead {
  readonly pod: string;
  readonly channel: number;
  readonly net: string;
  readonly hole: string | undefined;
}

export interface BuiltDevice {
  readonly device: string;
  readonly file: string;
  readonly bytes: number | undefined;
  readonly sum: string | undefined;
  /** When it was programmed. */
  readonly time: string;
}

/** Maps are keyed by part, wire id, `pod:channel`, device and lead. */
export interface Built {
  readonly parts: ReadonlyMap<string, BuiltPart>;
  readonly wires: ReadonlyMap<string, BuiltWire>;
  readonly leads: ReadonlyMap<string, BuiltLead>;
  readonly devices: ReadonlyMap<string, BuiltDevice>;
  /** Pieces of wire that were taken out to go in again elsewhere, by the id they had. */
  readonly spares: ReadonlyMap<string, BuiltWire>;
  /** Labels on devices, and crimped leads that are made. */
  readonly labels: ReadonlyMap<string, string>;
  readonly leadsMade: ReadonlySet<string>;
  /** The last measurement of each proof or touch, by its id. */
  readonly measured: ReadonlyMap<string, Measured & { readonly record: string; readonly time: string }>;
  /** Names of stages in which something was done. */
  readonly stages: ReadonlySet<string>;
  /** Records that count, in order: those taken back are left out, and so are the undo records. */
  readonly records: readonly JournalRecord[];
}

/** The key of an instrument's lead in `Built.leads`. */
export function leadKey(pod: string, channel: number): string {
  return `${pod}:${channel}`;
}

/** The records that still count, without those taken back and without the undo records themselves. */
export function effectiveRecords(records: readonly JournalRecord[]): JournalRecord[] {
  const takenBack = new Set<string>();
  // An undo names an earlier record, so going backwards each undo is known to count or not when it is met.
  for (let i = records.length - 1; i >= 0; i--) {
    const record = records[i]!;
    if (record.act === 'undo' && record.undoes !== undefined && !takenBack.has(record.id)) takenBack.add(record.undoes);
  }
  // A mending that came with a step goes with it.
  const gone = new Set(records.filter((record) => record.act === 'done' && takenBack.has(record.id)).map(stepAndTime));
  return records.filter(
    (record) =>
      record.act !== 'undo' && !takenBack.has(record.id) && !(cameWithStep(record) && gone.has(stepAndTime(record))),
  );
}

const stepAndTime = (record: JournalRecord): string => `${record.step ?? ''} ${record.time}`;

/** A mending that was entered together with a step, and is taken back with it. */
export function cameWithStep(record: JournalRecord): boolean {
  return record.act === 'mend' && record.step !== undefined;
}

interface State {
  readonly parts: Map<string, BuiltPart>;
  readonly wires: Map<string, BuiltWire>;
  readonly leads: Map<string, BuiltLead>;
  readonly devices: Map<string, BuiltDevice>;
  readonly spares: Map<string, BuiltWire>;
  readonly labels: Map<string, string>;
  readonly leadsMade: Set<string>;
  readonly measured: Map<string, Measured & { readonly record: string; readonly time: string }>;
  readonly stages: Set<string>;
  /** What sits in each hole. */
  readonly holes: Map<string, string>;
}

const partIn = (fact: PartInFact, stage: string | undefined): BuiltPart => ({
  part: fact.part,
  type: fact.type,
  value: fact.value,
  rotation: fact.rotation,
  leads: fact.leads,
  device: fact.device ?? fact.part,
  stage,
});
const wireIn = (fact: WireInFact, stage: string | undefined): BuiltWire => ({
  wire: fact.wire,
  net: fact.net,
  from: fact.from,
  to: fact.to,
  cutMm: fact.cutMm,
  colour: fact.colour,
  style: fact.style,
  lead: fact.lead,
  stage,
});
const imageIn = (fact: ImageFact, time: string): BuiltDevice => ({
  device: fact.device,
  file: fact.file,
  bytes: fact.bytes,
  sum: fact.sum,
  time,
});

/** Applies one fact; `complain` is told what can't be so. */
function apply(state: State, fact: Fact, record: JournalRecord, complain: (message: string) => void): void {
  const free = (holes: readonly string[], item: string): void => {
    for (const hole of holes) if (state.holes.get(hole) === item) state.holes.delete(hole);
  };
  const fill = (holes: readonly string[], item: string): void => {
    for (const hole of holes) {
      const there = state.holes.get(hole);
      if (there !== undefined && there !== item)
        complain(`${item} is put into hole ${hole}, where ${there} already is`);
      state.holes.set(hole, item);
    }
  };
  const dropWire = (id: string): boolean => {
    const wire = state.wires.get(id);
    if (wire === undefined) return false;
    free([wire.from, wire.to], `wire ${id}`);
    state.wires.delete(id);
    return true;
  };
  switch (fact.fact) {
    case 'part-in': {
      const before = state.parts.get(fact.part);
      if (before !== undefined)
        free(
          before.leads.map(([, hole]) => hole),
          fact.part,
        );
      fill(
        fact.leads.map(([, hole]) => hole),
        fact.part,
      );
      state.parts.set(fact.part, partIn(fact, record.stage));
      return;
    }
    case 'part-out': {
      const before = state.parts.get(fact.part);
      if (before === undefined) {
        complain(`${fact.part} is taken out, but it isn't in`);
        return;
      }
      free(
        before.leads.map(([, hole]) => hole),
        fact.part,
      );
      state.parts.delete(fact.part);
      return;
    }
    case 'wire-in': {
      if (fact.was !== undefined && !dropWire(fact.was)) complain(`wire ${fact.was} is moved, but it isn't in`);
      dropWire(fact.wire);
      if (fact.piece !== undefined) state.spares.delete(fact.piece);
      fill([fact.from, fact.to], `wire ${fact.wire}`);
      state.wires.set(fact.wire, wireIn(fact, record.stage));
      return;
    }
    case 'wire-out':
      if (fact.kept === true && state.wires.has(fact.wire)) state.spares.set(fact.wire, state.wires.get(fact.wire)!);
      if (!dropWire(fact.wire)) complain(`wire ${fact.wire} is taken out, but it isn't in`);
      return;
    case 'image':
      state.devices.set(fact.device, imageIn(fact, record.time));
      return;
    case 'label':
      state.labels.set(fact.device, fact.text);
      return;
    case 'lead-made':
      state.leadsMade.add(fact.lead);
      return;
    case 'lead-on':
      state.leads.set(leadKey(fact.pod, fact.channel), {
        pod: fact.pod,
        channel: fact.channel,
        net: fact.net,
        hole: fact.hole,
      });
      return;
    case 'lead-off':
      state.leads.delete(leadKey(fact.pod, fact.channel));
      return;
  }
}

/** The empty bench. */
export const EMPTY_BUILT: Built = {
  parts: new Map(),
  wires: new Map(),
  leads: new Map(),
  devices: new Map(),
  spares: new Map(),
  labels: new Map(),
  leadsMade: new Set(),
  measured: new Map(),
  stages: new Set(),
  records: [],
};

/**
 * What the records say is on the boards. With `upTo`, as of that record (its id), itself included; an undo that came later
 * then doesn't count yet. Findings name what can't be so: two things in one hole, something taken out that wasn't in.
 */
export function builtState(
  records: readonly JournalRecord[],
  upTo?: string,
): { readonly value: Built; readonly findings: readonly Finding[] } {
  const end = upTo === undefined ? records.length : records.findIndex((record) => record.id === upTo) + 1;
  const counted = effectiveRecords(upTo === undefined ? records : records.slice(0, end));
  const state: State = {
    parts: new Map(),
    wires: new Map(),
    leads: new Map(),
    devices: new Map(),
    spares: new Map(),
    labels: new Map(),
    leadsMade: new Set(),
    measured: new Map(),
    stages: new Set(),
    holes: new Map(),
  };
  const findings: Finding[] = [];
  for (const record of counted) {
    const complain = (message: string): void => {
      findings.push({
        code: 'stage/built-contradicts',
        severity: 'warning',
        message: `The journal can't be right at line ${record.line}: ${message}.`,
        where: [],
        notes: [{ text: 'A record was lost, taken back out of order, or written for an act that was done otherwise.' }],
        help: 'Look at these holes, and mark what is really there.',
      });
    };
    if (record.stage !== undefined && (record.act === 'done' || record.act === 'program'))
      state.stages.add(record.stage);
    for (const fact of record.facts ?? []) apply(state, fact, record, complain);
    if (record.measured !== undefined)
      state.measured.set(record.measured.what, { ...record.measured, record: record.id, time: record.time });
  }
  return { value: { ...state, records: counted }, findings };
}
