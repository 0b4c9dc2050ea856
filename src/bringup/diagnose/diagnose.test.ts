// From an observation to a place. The observations are made by the trial engine itself with other levels of floating nets: what is
// tested here is the search and its words; figures from an independent source are those of benchmarks/diagnosis.

import { expect, test } from 'vitest';
import { demoProject } from '../../../tests/support/demo.ts';
import { Build } from '../../app/index.ts';
import { bringupInput } from '../../app/bringup-input.ts';
import { bothEdits, type Edit, type Fault, makeFaults, nodesOf, probeOf } from '../faults/index.ts';
import type { Observed } from '../model.ts';
import { coverageOf, GuidedSession, makeDictionary, probeNets, readAnswer } from '../probes/index.ts';
import { evaluate, evaluatePairs, prepare, rank, Trial } from './index.ts';

const input = bringupInput(new Build(demoProject('tide-clerk'), 'first'), 4)!;
const { bench, plan, images } = input;
const faults = makeFaults(bench, { otherImages: input.otherImages });
const data = Array.from({ length: 8 }, (_, k) => `D${k}`);
const NETS = ['cpu-clock', '/reset', '/RD', '/WR', 'A0', 'A1', 'A2', 'A3', ...data];
const LEAD = 7;

function observe(edit: Edit, floats: 0 | 1, halves: number): Observed {
  const trial = new Trial(plan);
  trial.setHalf(1);
  const strips = NETS.map((net) => probeOf(bench, net)!.strip);
  trial.wire(nodesOf(bench, strips, edit), edit, { floats, wins: 0, unfed: 'dead' }, images);
  const levels = NETS.map(() => new Uint8Array(halves));
  for (let k = 0; k < 24; k++) trial.half();
  for (let k = 0; k < halves; k++) {
    trial.half();
    if (k === LEAD) trial.releaseReset();
    levels.forEach((level, n) => {
      level[k] = trial.level[trial.probes[n]!]!;
    });
  }
  const all = new Uint8Array(halves).fill(1);
  return {
    halves,
    sinceReset: -LEAD,
    firstHigh: levels[0]![0] === 1,
    times: Float64Array.from({ length: halves }, (_, k) => (k + 1) * 135e-9),
    nets: NETS.map((net, n) => ({ net, level: levels[n]!, known: all, strong: all })),
    by: 'clock',
    sure: 1,
  };
}

const diagnose = (observed: readonly Observed[], some: readonly Fault[] = faults) => {
  const prepared = prepare({ bench, plan, faults: some, observed, images });
  const results = evaluate(prepared);
  return { prepared, results, diagnosis: rank(prepared, [results]) };
};

/** Every third slip, and those that are looked for. */
const few = (...more: readonly Fault[]): Fault[] => faults.filter((fault, k) => k % 3 === 0 || more.includes(fault));

const find = (kind: string, words: string): Fault =>
  faults.find((fault) => fault.kind === kind && fault.text.includes(words))!;

test('the machine as meant is called correct, and nothing is excluded that could not show', () => {
  const { diagnosis } = diagnose([observe({}, 0, 600)], few());
  expect(diagnosis.verdict).toBe('correct');
  expect(diagnosis.correct).toBeGreaterThan(0.5);
  expect(diagnosis.groups[0]!.holdsCorrect).toBe(true);
  expect(diagnosis.groups[0]!.faults.length).toBeGreaterThan(20);
}, 60_000);

test('a missing wire and exchanged wires come first, with their holes', () => {
  const missing = find('wire-absent', 'wire A1 ');
  const a = diagnose([observe(missing.edit, 0, 600)], few(missing)).diagnosis;
  expect(a.verdict).toBe('differs');
  expect(a.groups[0]!.places.map(({ place }) => place.key)).toContain(missing.places[0]!.key);
  const crossed = find('ends-exchanged', 'ends of D');
  const b = diagnose([observe(crossed.edit, 1, 600)], few(crossed)).diagnosis;
  expect(b.groups[0]!.places.map(({ place }) => place.key)).toContain(crossed.places[0]!.key);
  expect(b.groups[0]!.places[0]!.place.holes.length).toBe(2);
}, 60_000);

test('parts of the work put together are the whole, and the same again', () => {
  const observed = observe(find('wire-absent', 'wire D3 ').edit, 1, 300);
  const prepared = prepare({ bench, plan, faults: few(), observed: [observed], images });
  const halves = [0, 1].map((part) => evaluate(prepared, { part, of: 2 }));
  const one = rank(prepared, halves);
  const two = rank(prepared, [evaluate(prepared)]);
  expect(one.groups[0]!.faults.map(({ id }) => id).sort()).toEqual(two.groups[0]!.faults.map(({ id }) => id).sort());
  expect(JSON.stringify(rank(prepared, halves))).toBe(JSON.stringify(one));
}, 60_000);

test('stopped early it ranks what it has', () => {
  const prepared = prepare({ bench, plan, faults, observed: [observe({}, 1, 300)], images });
  const results = evaluate(prepared, { progress: (done) => done < 64 });
  expect(results.length).toBeGreaterThan(10);
  expect(results.length).toBeLessThan(prepared.classes.length);
  expect(rank(prepared, [results]).groups.length).toBeGreaterThan(0);
});

test('two slips at once: pairs of the leaders are run, best first', () => {
  const [a, b] = [find('output-stuck', 'CPU.A2 stands high'), find('output-stuck', 'ROM.I/O1 stands low')];
  const both = bothEdits(a.edit, b.edit);
  const some = faults.filter((fault, k) => k % 9 === 0 || fault === a || fault === b);
  const { prepared, results } = diagnose([observe(both, 1, 400)], some);
  const pairs = evaluatePairs(prepared, results);
  // That the right pair leads is not reached yet (docs/bring-up.md); what is run is in order, and two different classes each.
  expect(pairs.length).toBeGreaterThan(0);
  expect(pairs.every((pair, k) => pair.a !== pair.b && (k === 0 || pair.nats <= pairs[k - 1]!.nats))).toBe(true);
}, 120_000);

test('a guided session finds a wire from levels and beeps typed in', () => {
  const truth = find('wire-absent', 'wire A4 ');
  const { prepared, results } = diagnose([observe(truth.edit, 1, 400)], few(truth));
  const session = new GuidedSession(prepared, results);
  const real = nodesOf(bench, [], truth.edit);
  const trial = new Trial(plan);
  trial.setHalf(1);
  let steps = 0;
  for (; steps < 12; steps++) {
    const [best] = session.next(1);
    if (best === undefined) break;
    const { measurement } = best;
    if (measurement.kind === 'look') {
      const wrong = truth.places.some(({ key }) => key === measurement.place.key);
      if (wrong) break;
      session.answer(measurement, { kind: 'look', wrong });
    } else if (measurement.kind === 'continuity') {
      const at = (hole: string): number => real.ofPin[bench.pins.findIndex((pin) => pin.hole === hole)]!;
      session.answer(measurement, { kind: 'continuity', joined: at(measurement.from) === at(measurement.to) });
    } else if (measurement.kind !== 'channel') {
      trial.wire(nodesOf(bench, [probeOf(bench, measurement.net)!.strip], truth.edit), truth.edit, {
        floats: 1,
        wins: 0,
        unfed: 'dead',
      });
      for (let k = 0; k < 24; k++) trial.half();
      trial.releaseReset();
      let high = 0;
      let edges = 0;
      let last = -1;
      for (let k = 0; k < 1000; k++) {
        trial.half();
        const now = trial.level[trial.probes[0]!]!;
        high += now;
        if (last >= 0 && now !== last) edges++;
        last = now;
      }
      if (measurement.kind === 'level')
        session.answer(measurement, { kind: 'level', level: high === 0 ? 'low' : high === 1000 ? 'high' : 'changes' });
      else
        session.answer(measurement, {
          kind: 'frequency',
          hertz: (edges / 2 / 1000) * (0.5e9 / plan.clocks[0]!.halfNs) * 2,
        });
    }
  }
  expect(steps).toBeLessThan(12);
}, 60_000);

test('what a proof covers: a channel more shows no less, and untested places are named', () => {
  const prepared = prepare({ bench, plan, faults, observed: [observe({}, 1, 60)], images });
  const where = probeNets(bench, (net) => probeOf(bench, net)?.strip);
  const which = prepared.classes.map((_, at) => at).filter((at) => at % 5 === 0);
  const dictionary = makeDictionary(plan, prepared.classes, which, where, { halves: 400, edgesPerHalf: 1 });
  const few = coverageOf(dictionary, prepared.classes, faults, ['cpu-clock', '/RD']);
  const more = coverageOf(dictionary, prepared.classes, faults, ['cpu-clock', '/RD', ...data]);
  expect(more.share).toBeGreaterThan(few.share);
  expect(few.untested.length).toBeGreaterThan(more.untested.length);
  expect(few.moreChannels.length).toBeGreaterThan(0);
}, 60_000);

test('answers as they are typed', () => {
  const nets = ['A7', '/RD', 'cpu-clock'];
  const holeOf = (text: string): string | undefined => (/^\d:/.test(text) ? text : undefined);
  expect(readAnswer('A7 stuck low', nets, holeOf)?.answer).toEqual({ kind: 'level', level: 'low' });
  expect(readAnswer('/rd high', nets, holeOf)?.measurement).toEqual({ kind: 'level', net: '/RD' });
  expect(readAnswer('cpu-clock 230 kHz', nets, holeOf)?.answer).toEqual({ kind: 'frequency', hertz: 230_000 });
  expect(readAnswer('2:20a 2:34e open', nets, holeOf)?.answer).toEqual({ kind: 'continuity', joined: false });
  expect(readAnswer('A7 green', nets, holeOf)).toBeUndefined();
  expect(readAnswer('', nets, holeOf)).toBeUndefined();
});
