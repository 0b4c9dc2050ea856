// The guided search of a stage: all that is known of a build put together (captures, readings of the meter plan, faults found before)
// for the session that says what to measure next.

import {
  type ClassResult,
  type Fault,
  GuidedSession,
  historyOf,
  makeFaults,
  type Observed,
  type Prepared,
  prepare,
  unmeasured,
} from '../bringup/index.ts';
import { netlistAt } from '../netlist/index.ts';
import { effectiveRecords, type JournalEntry, planTouches, touchStates } from '../stage/index.ts';
import type { Build } from './build.ts';
import { type BringupInput, bringupInput } from './bringup-input.ts';

/** Every plausible slip of a stage, weighed by the public reports and by what was found in this build before. */
export function stageFaults(build: Build, input: BringupInput): readonly Fault[] {
  const { records } = build.journal().value;
  return build.project.memo(`slips ${build.name} ${input.bench.stage}`, [input, records], () => {
    const texts = effectiveRecords(records).flatMap(({ act, text }) =>
      act === 'fault' && text !== undefined ? [text] : [],
    );
    return makeFaults(input.bench, {
      otherImages: input.otherImages,
      leftIn: input.leftIn,
      history: historyOf(texts),
    });
  });
}

/** Everything made ready for captures of a stage; without captures, for measuring alone. Undefined where nothing is laid. */
export function prepareStage(build: Build, stage: number, observed: readonly Observed[]): Prepared | undefined {
  const input = bringupInput(build, stage);
  if (input === undefined) return undefined;
  const { bench, plan, images } = input;
  return prepare({ bench, plan, faults: stageFaults(build, input), observed, images });
}

/**
 * A guided session over what captures left, or, without results, over every slip: something is wrong and nothing was captured. Wrong
 * readings of the meter plan count as evidence.
 */
export function guidedSession(build: Build, prepared: Prepared, results?: readonly ClassResult[]): GuidedSession {
  const session = new GuidedSession(
    prepared,
    results ?? unmeasured(prepared, true),
    results === undefined ? { mostClasses: 1200 } : {},
  );
  const layout = build.layout().value;
  const facts = build.facts();
  if (layout === undefined || facts === undefined) return session;
  const { stage } = prepared.input.bench;
  const plan = planTouches({ layout, stage, facts, netlist: netlistAt(build.design(), stage) }).value;
  for (const { touch, status } of touchStates(plan, build.journal().value.records)) {
    if (status !== 'wrong') continue;
    session.answer(
      { kind: 'continuity', from: touch.from.hole, to: touch.to.hole, about: touch.text },
      // What should be open is joined, what should be joined is open.
      { kind: 'continuity', joined: 'open' in touch.expect },
    );
  }
  return session;
}

/** What the journal is to say of a slip that was found: the mending steps follow from what it is about. */
export function foundFaultEntry(fault: Fault, time: string, stage: string): JournalEntry {
  return {
    act: 'fault',
    time,
    stage,
    text: fault.text,
    about: fault.places.map((place) => place.wire ?? place.pin ?? place.part ?? place.holes[0] ?? place.key),
  };
}
