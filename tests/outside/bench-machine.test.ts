// The bench machine in Verilog that captures for diagnosis come from, held against what others published and against the simulator:
// its processor, its boards and chips, its captures. All of it needs an IEEE 1364 simulator (Icarus Verilog 11 of Debian).

import { existsSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { expect, test } from 'vitest';
import {
  allFaults,
  canCapture,
  failingVectors,
  makeCapture,
  readProject,
  type Vector,
} from '../../benchmarks/bringup-source/index.ts';
import { Build, stageImages, stageMachine } from '../../src/app/index.ts';
import { buildCircuit, resetNs, Session } from '../../src/sim/index.ts';
import { demoProject } from '../support/demo.ts';

const there = canCapture();
const why = there ? '' : ' (skipped: no IEEE 1364 simulator is installed)';
const file = resolve('../shared/processor-vectors/z80.json.gz');
const hasVectors = existsSync(file);

test.skipIf(!there || !hasVectors)(
  `its Z80 does what measured parts do${why || (hasVectors ? '' : ' (skipped: no vector file beside the clone)')}`,
  () => {
    // Z80 single-step test set, MIT licence, 2024: one of twenty for each opcode here, all in the long run.
    const set = JSON.parse(gunzipSync(readFileSync(file)).toString('utf8')) as Record<string, Vector[]>;
    const each = Number(process.env.PROOFBOARD_VECTORS ?? 1);
    const vectors = Object.values(set).flatMap((list) => list.slice(0, each));
    expect(vectors.length).toBeGreaterThan(1500);
    const failing = failingVectors(vectors);
    expect({ count: failing.length, first: failing.slice(0, 5) }).toEqual({ count: 0, first: [] });
  },
);

const NETS = [
  'cpu-clock',
  '/reset',
  '/M1',
  '/MREQ',
  '/IORQ',
  '/RD',
  '/WR',
  ...Array.from({ length: 16 }, (_, k) => `A${k}`),
  ...Array.from({ length: 8 }, (_, k) => `D${k}`),
];

/**
 * Runs a project's good machine in both, from the first fetch on, and compares net by net at the end of each half clock. Not for
 * long: when a serial port or a display is ready again depends on the phase of a divider at power-up, and on the part.
 */
function compareWithSimulator(project: string, stage: number, clocks: number): { wrong: string[]; known: number } {
  const machine = readProject(`projects/${project}`);
  const { truth } = makeCapture(machine, { stage, channels: NETS, seed: 3, clocks, lateHalves: 'none', alters: false });
  const build = new Build(demoProject(project), 'first');
  const { images } = stageImages(build, stage);
  const input = stageMachine(build, stage, { images });
  const session = new Session(buildCircuit(input.netlist, input.contents).value, input.contents);
  const nets = NETS.map((net) => session.net(net)!);
  const half = 0.5e9 / machine.clockHz;
  const levels = (): string => nets.map((net) => String(session.level(net)).toLowerCase()).join('');
  // Both begin to count at the first fetch: what comes before is a matter of when the supervisor let go.
  const isFetch = (row: string): boolean => row[1] === '1' && row[NETS.indexOf('/M1')] === '0';
  session.runTo(resetNs(input.netlist) - 1.2e6);
  let edges = Math.round(session.now / half);
  const next = (): string => {
    session.runTo((++edges + 0.5) * half);
    return levels();
  };
  let row = next();
  for (let k = 0; k < 4e6 && !isFetch(row); k++) row = next();
  const from = truth.halves.findIndex(isFetch);
  expect(from).toBeGreaterThan(0);
  let compared = 0;
  let known = 0;
  const wrong: string[] = [];
  for (let h = from; h < truth.halves.length && wrong.length < 5; h++) {
    [...truth.halves[h]!].forEach((level, c) => {
      compared++;
      const here = row[c]!;
      // A data line counts while the processor reads it or drives it; late data belong to the next half clock.
      const isData = NETS[c]!.startsWith('D');
      const isMoved = isData && (truth.halves[h + 1]?.[c] !== level || truth.halves[h - 1]![c] !== level);
      if ((here !== '0' && here !== '1') || isMoved) return;
      known++;
      if (here !== level) wrong.push(`half clock ${h - from}: ${NETS[c]} is ${here} here, ${level} in Verilog`);
    });
    row = next();
  }
  return { wrong, known: known / compared };
}

const MACHINES = [
  ['tide-clerk', 6],
  ['light-keeper', 9],
] as const;
for (const [project, stage] of MACHINES)
  test.skipIf(!there)(`the simulator and the Verilog agree half clock by half clock on ${project}${why}`, () => {
    const { wrong, known } = compareWithSimulator(project, stage, Number(process.env.PROOFBOARD_COMPARE ?? 2000));
    expect(wrong).toEqual([]);
    expect(known).toBeGreaterThan(0.8);
  });

test.skipIf(!there)(`tide-clerk says what it is to say, from its own boards${why}`, () => {
  const machine = readProject('projects/tide-clerk');
  // 3,840 clocks a character: the first ones here, the whole line in the long run.
  const clocks = Number(process.env.PROOFBOARD_SERIAL ?? 30_000);
  const { truth } = makeCapture(machine, { stage: 6, channels: ['/M1'], seed: 1, clocks, alters: false });
  expect(String.fromCharCode(...truth.serial)).toContain('READY, TIDES'.slice(0, clocks > 60_000 ? 12 : 5));
});

test.skipIf(!there)(`good captures alter nothing, a cut fetch does, and all of it comes from the seed${why}`, () => {
  const machine = readProject('projects/tide-clerk', { images: { ROM: 'firmware/self-test.hex' } });
  const channels = ['cpu-clock', '/reset', '/RD', '/WR', 'A0', 'A1', 'A2', 'A3', ...NETS.slice(-8)];
  const base = { stage: 4, channels, clocks: 1000 };
  const good = [1, 2].map((seed) => makeCapture(machine, { ...base, seed }));
  expect(good.map(({ alters }) => alters)).toEqual([false, false]);
  expect(good[0]!.captureText).not.toBe(good[1]!.captureText);
  expect(makeCapture(machine, { ...base, seed: 1 }).captureText).toBe(good[0]!.captureText);
  const faults = allFaults(machine.layout, 4, Object.keys(machine.otherImages ?? {}));
  for (const kind of ['device-blank', 'chip-turned', 'rail-dead', 'strips-bridged', 'ends-exchanged'] as const)
    expect(faults.get(kind)?.length ?? 0, kind).toBeGreaterThan(0);
  const turned = makeCapture(machine, { ...base, seed: 1, fault: { kind: 'chip-turned', part: 'ROM' } });
  expect(turned.alters).toBe(true);
  expect(turned.truth.physics.dead.map(({ part }) => part)).toEqual(['ROM']);
  const spare = makeCapture(machine, { ...base, seed: 1, fault: { kind: 'leg-bent', part: 'CPU', pin: 23 } });
  expect(spare.alters).toBe(false);
});
