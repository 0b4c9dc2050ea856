import { expect, test } from 'vitest';
import { demoProject } from '../../../tests/support/demo.ts';
import { bringupInput } from '../../app/bringup-input.ts';
import { Build } from '../../app/index.ts';
import { extract, type Layout } from '../../board/index.ts';
import { bothEdits, classShares, FAULT_CLASSES, makeFaults, nodesOf, probeOf, signatureOf } from './index.ts';

const build = new Build(demoProject('tide-clerk'), 'first');
const { bench, otherImages } = bringupInput(build, 6)!;
const faults = makeFaults(bench, { otherImages });

test('the nets of the boards are those that the extractor of the layout finds', () => {
  const nodes = nodesOf(bench, [], {});
  const joined = new Map(bench.netlist.parts.map((part) => [part.name, part.record.joined ?? []]));
  const { nodes: read } = extract(bench.layout, 6, (part) => joined.get(part) ?? []);
  const index = new Map(bench.pins.map((pin, k) => [`${bench.netlist.parts[pin.part]!.name}.${pin.number}`, k]));
  let pins = 0;
  const seen = new Set<number>();
  for (const node of read) {
    const own = new Set(node.pins.map((pin) => nodes.ofPin[index.get(`${pin.part}.${pin.number}`)!]!));
    pins += node.pins.length;
    expect(own.size).toBeLessThanOrEqual(1);
    for (const one of own) {
      expect(seen.has(one)).toBe(false);
      seen.add(one);
    }
  }
  expect(pins).toBe(bench.pins.length);
});

test('an edit of a wire is the layout without it, by the extractor', () => {
  const fault = faults.find(({ kind, places }) => kind === 'wire-absent' && places[0]!.text.includes('wire A0 '))!;
  const wire = fault.places[0]!.wire!;
  const layout: Layout = { ...bench.layout, wires: bench.layout.wires.filter(({ id }) => id !== wire) };
  const joined = new Map(bench.netlist.parts.map((part) => [part.name, part.record.joined ?? []]));
  const { nodes: read } = extract(layout, 6, (part) => joined.get(part) ?? []);
  const nodes = nodesOf(bench, [], fault.edit);
  const withPins = read.filter((node) => node.pins.length > 0);
  expect(new Set(nodes.ofPin).size).toBe(withPins.length);
  expect(new Set(nodesOf(bench, [], {}).ofPin).size).toBeLessThan(withPins.length);
});

test('every kind of slip is there, priors sum to 1, ids are unique', () => {
  const kinds = new Set(faults.map(({ kind }) => kind));
  // Nothing is crimped or left in at this stage of this machine.
  expect(FAULT_CLASSES.filter((kind) => !kinds.has(kind))).toEqual(['strap-left-in']);
  expect(faults.reduce((sum, { prior }) => sum + prior, 0)).toBeCloseTo(1, 9);
  expect(new Set(faults.map(({ id }) => id)).size).toBe(faults.length);
  expect(faults.every(({ places }) => places.length > 0 && places.every(({ holes }) => holes.length > 0))).toBe(true);
});

test('a missing wire and one that makes no contact have one signature; nothing changed has that of the boards', () => {
  const sign = (edit: Parameters<typeof nodesOf>[2]): string => signatureOf(nodesOf(bench, [], edit), edit);
  const absent = faults.find(({ kind, places }) => kind === 'wire-absent' && places[0]!.text.includes('wire A0 '))!;
  const open = faults.find(({ kind, places }) => kind === 'end-open' && places[0]!.key === absent.places[0]!.key)!;
  expect(sign(open.edit)).toBe(sign(absent.edit));
  expect(sign(absent.edit)).not.toBe(sign({}));
  expect(sign(bothEdits({}, absent.edit))).toBe(sign(absent.edit));
});

test('found faults of the build move the priors', () => {
  const before = classShares();
  const after = classShares(new Map([['bus-reversed', 6]]));
  expect(after['bus-reversed']).toBeGreaterThan(before['bus-reversed'] * 5);
  expect(after['wire-absent']).toBeLessThan(before['wire-absent']);
  const sum = FAULT_CLASSES.reduce((total, kind) => total + after[kind], 0);
  expect(sum).toBeCloseTo(1, 9);
});

test('the probe stands where the layout keeps a hole, else at the processor', () => {
  const kept = (bench.layout.probes ?? []).filter((probe) => probe.net === '/RD').map((probe) => probe.hole);
  expect(kept).toContain(probeOf(bench, '/RD')!.hole);
  const data = probeOf(bench, 'D0')!;
  expect(bench.pins.some((pin) => pin.strip === data.strip && pin.ref === 'CPU.D0')).toBe(true);
  expect(probeOf(bench, 'no such net')).toBeUndefined();
});
