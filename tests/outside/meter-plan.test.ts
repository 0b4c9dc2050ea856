// The meter plan against an exact solver and a meter of the test's own. On small random benches every single fault (a new wire
// or resistor missing, neighbouring strips bridged) must make some touch read outside what it expects, a sound bench must
// pass all of them, and the number of touches is compared with the least there can be over all pairs of strips, found by a
// general mixed-integer solver (HiGHS, as npm package `highs`).

import highsLoader from 'highs';
import { expect, test } from 'vitest';
import { type Layout, layoutAt } from '../../src/board/index.ts';
import { type BenchFacts, planTouches, type Touch } from '../../src/stage/index.ts';
import { layOut, randomMachine, rulesOf, stripOf, type TestMachine } from '../support/bench.ts';
import { type Fault, type MeterBench, meter } from '../support/meter.ts';

const OHMS = 2200;

/** Strips next to one another on full-size boards: columns left and right, and the other rail of a pair. */
function neighbours(strip: string): string[] {
  const plain = /^(\d+):(\d+)([af])$/.exec(strip);
  if (plain !== null)
    return [-1, 1]
      .map((d) => `${plain[1]}:${Number(plain[2]) + d}${plain[3]}`)
      .filter((name) => !/:(?:0|64)[af]$/.test(name));
  const rail = /^(\d+):([tb])([+-])(3|33)$/.exec(strip)!;
  return [`${rail[1]}:${rail[2]}${rail[3] === '+' ? '-' : '+'}${rail[4]}`];
}

function factsOf(machine: TestMachine): BenchFacts {
  return {
    rules: rulesOf(machine),
    onRail: (hole) => /:[tb]/.test(hole),
    neighbours,
    holesOf: () => [],
    probeHole: () => undefined,
    resistors: (part) => (/^RS/.test(part) ? [{ a: 1, b: 2, ohms: OHMS }] : []),
    inTheWay: (part) => (/^RS/.test(part) ? undefined : 'chip'),
  };
}

interface Case {
  readonly bench: MeterBench;
  readonly faults: readonly Fault[];
  readonly strips: readonly string[];
}

function caseOf(layout: Layout, stage: number): Case {
  const on = layoutAt(layout, stage);
  const before = layoutAt(layout, stage - 1);
  const resistors = on.parts
    .filter((part) => part.leads.length === 2)
    .map((part) => ({ part: part.part, a: part.leads[0]!.hole, b: part.leads[1]!.hole, ohms: OHMS }));
  const bench = { wires: on.wires, resistors };
  const used = new Set<string>(['1:t+3', '1:t-3']);
  const fresh = new Set<string>();
  for (const part of on.parts)
    for (const lead of part.leads) {
      used.add(stripOf(lead.hole)!);
      if (!before.parts.some((old) => old.part === part.part)) fresh.add(stripOf(lead.hole)!);
    }
  for (const wire of on.wires)
    for (const hole of [wire.from, wire.to]) {
      used.add(stripOf(hole)!);
      if (!before.wires.includes(wire)) fresh.add(stripOf(hole)!);
    }
  const read = meter(bench);
  const faults: Fault[] = [];
  for (const wire of on.wires) {
    if (before.wires.includes(wire)) continue;
    const without = meter(bench, { what: '', withoutWire: wire.id });
    // A wire that another way stands in for can't be told by a meter.
    if (without(stripOf(wire.from)!, stripOf(wire.to)!) !== 0)
      faults.push({ what: `no ${wire.id}`, withoutWire: wire.id });
  }
  for (const item of resistors)
    if (!before.parts.some((old) => old.part === item.part))
      faults.push({ what: `no ${item.part}`, withoutResistor: item.part });
  for (const a of used)
    for (const b of neighbours(a))
      if (a < b && used.has(b) && (fresh.has(a) || fresh.has(b)) && read(a, b) > 0)
        faults.push({ what: `${a}-${b}`, bridge: [a, b] });
  return { bench, faults, strips: [...used].sort() };
}

const passes = (touch: Touch, ohms: number): boolean =>
  'open' in touch.expect ? ohms >= touch.expect.above : ohms >= touch.expect.least && ohms <= touch.expect.most;
/** A fault shows in a reading that becomes or ceases to be a short or open, or changes by more than 1.3. */
const shows = (sound: number, faulty: number): boolean =>
  sound === faulty
    ? false
    : sound === 0 || faulty === 0 || !Number.isFinite(sound) || !Number.isFinite(faulty)
      ? true
      : Math.max(sound / faulty, faulty / sound) > 1.3;

/** The least number of pairs of strips that show every fault, by the solver. */
async function least({ bench, faults, strips }: Case): Promise<number> {
  const sound = meter(bench);
  const faulty = faults.map((fault) => meter(bench, fault));
  const sets = new Map<string, number[]>();
  for (let i = 0; i < strips.length; i++)
    for (let j = i + 1; j < strips.length; j++) {
      const healthy = sound(strips[i]!, strips[j]!);
      const seen = faulty.flatMap((read, k) => (shows(healthy, read(strips[i]!, strips[j]!)) ? [k] : []));
      if (seen.length > 0) sets.set(seen.join(), seen);
    }
  // A pair that shows no more than another does isn't needed.
  const lists = [...sets.values()].sort((a, b) => b.length - a.length);
  const kept: Set<number>[] = [];
  for (const list of lists) if (!kept.some((set) => list.every((k) => set.has(k)))) kept.push(new Set(list));
  const rows = faults.map(
    (_, k) => `f${k}: ${kept.flatMap((set, i) => (set.has(k) ? [`x${i}`] : [])).join(' + ')} >= 1`,
  );
  const model = `Minimize\n obj: ${kept.map((_, i) => `x${i}`).join(' + ')}\nSubject To\n ${rows.join('\n ')}\nBinary\n ${kept
    .map((_, i) => `x${i}`)
    .join(' ')}\nEnd\n`;
  const highs = await highsLoader();
  const solved = highs.solve(model);
  expect(solved.Status).toBe('Optimal');
  return Math.round(solved.ObjectiveValue);
}

test('every single fault shows, a sound bench passes, and few touches are above the least', async () => {
  let planned = 0;
  let optimum = 0;
  let worst = 1;
  let faultCount = 0;
  for (let seed = 1; seed <= 12; seed++) {
    const machine = randomMachine(seed, 3 + (seed % 2), 2);
    const layout = layOut(machine, seed, 1);
    for (const stage of [1, 2])
      for (const chipsIn of [true, false]) {
        const { value, findings } = planTouches({ layout, stage, facts: factsOf(machine), chipsIn });
        expect(findings).toEqual([]);
        const one = caseOf(layout, stage);
        expect(one.faults.length).toBeGreaterThan(5);
        const sound = meter(one.bench);
        for (const touch of value.touches) expect(passes(touch, sound(touch.from.strip, touch.to.strip))).toBe(true);
        for (const fault of one.faults) {
          const read = meter(one.bench, fault);
          const found = value.touches.some((touch) => !passes(touch, read(touch.from.strip, touch.to.strip)));
          if (!found) throw new Error(`seed ${seed} stage ${stage}: nothing shows ${fault.what}`);
        }
        faultCount += one.faults.length;
        if (chipsIn) continue;
        const minimum = await least(one);
        expect(value.touches.length).toBeGreaterThanOrEqual(minimum);
        planned += value.touches.length;
        optimum += minimum;
        worst = Math.max(worst, value.touches.length / minimum);
      }
  }
  process.stdout.write(
    `meter plan: ${faultCount} faults, ${planned} touches, least ${optimum}, worst ${worst.toFixed(3)}\n`,
  );
  expect(planned / optimum).toBeLessThan(1.05);
  expect(worst).toBeLessThan(1.15);
}, 120_000);
