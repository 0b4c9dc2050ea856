// Compiling and proving decoders: a 22-input one on a 22V10, a map with overlays and ports, a counter; and the minimiser
// beside a general-purpose library on the same functions (terms and time). Seeded; times are of the processor, medians, so
// that a busy machine changes them little.

import { espresso } from 'espresso-iisojs';
import { createRng } from '../src/base/index.ts';
import {
  type AddressPlan,
  type Cube,
  compileDevice,
  compilePlan,
  type DeviceRequest,
  minimise,
} from '../src/decode/index.ts';

/** Processor time of this process so far. */
function processorMs(): number {
  return process.cpuUsage().user / 1000;
}

function median(rounds: number, work: () => void): number {
  const times: number[] = [];
  for (let round = 0; round < rounds; round++) {
    const start = processorMs();
    work();
    times.push(processorMs() - start);
  }
  return times.sort((a, b) => a - b)[rounds >> 1]!;
}

const line = (text: string): void => {
  process.stdout.write(`${text}\n`);
};

const address = (bits: number): string[] => Array.from({ length: bits }, (_, k) => `A${k}`);
/** All that a 22V10 can look at: 21 inputs and one output. */
const wide: DeviceRequest = {
  device: '22V10',
  outputs: [
    {
      name: '/hit',
      activeLow: true,
      formula: `${address(21).join(' & ')} | A20 & ~A3 | ${address(21)
        .slice(5, 15)
        .map((name) => `~${name}`)
        .join(' & ')}`,
    },
  ],
};
const memory = {
  name: 'memory',
  lines: address(16),
  cycle: 'low(/MREQ) & high(/RFSH)',
  read: 'low(/RD)',
  write: 'low(/WR)',
} as const;
const ports = { name: 'ports', lines: address(8), cycle: 'low(/IORQ) & high(/M1)' } as const;
const plan: AddressPlan = {
  spaces: [memory, ports],
  never: 'low(/RD) & low(/WR) | low(/MREQ) & low(/IORQ)',
  selects: [
    {
      part: 'ROM',
      net: '/ROM',
      activeLow: true,
      ranges: [{ space: 'memory', at: 0, bytes: 0x2000, when: 'low(high-bank)' }],
    },
    {
      part: 'RAM',
      net: '/RAM',
      activeLow: true,
      ranges: [
        { space: 'memory', at: 0, bytes: 0x2000, when: 'high(high-bank)' },
        { space: 'memory', at: 0x2000, bytes: 0xd000 },
      ],
    },
    {
      part: 'LATCH',
      net: 'LATCH',
      activeLow: false,
      ranges: [{ space: 'memory', at: 0xf000, bytes: 4096, access: 'write' }],
    },
    {
      part: 'UART',
      net: '/UART',
      activeLow: true,
      ranges: [{ space: 'ports', at: 0x10, bytes: 8, mirrors: 'allowed' }],
    },
    { part: 'PIO', net: '/PIO', activeLow: true, ranges: [{ space: 'ports', at: 0x20, bytes: 4, mirrors: 'allowed' }] },
  ],
};
const bits = Array.from({ length: 8 }, (_, k) => `Q${k}`);
const counter: DeviceRequest = {
  device: '22V10',
  clock: 'osc',
  reset: 'low(/reset)',
  outputs: bits.map((name, k) => ({
    name,
    registered: true,
    formula: k === 0 ? `~${name}` : `${name} ^ (${bits.slice(0, k).join(' & ')})`,
  })),
};

for (const [name, work] of [
  ['22V10, one output of 21 inputs', () => compileDevice(wide).value?.proof.points],
  ['22V10, map of five parts', () => compilePlan(plan, { device: '22V10' }).value?.compiled.proof.points],
  ['22V10, counter of 8 bits', () => compileDevice(counter).value?.proof.points],
] as const) {
  const points = work();
  line(`${name}: ${median(7, work).toFixed(1)} ms compiled and proved (${points ?? 'not made'} points)`);
}

const rng = createRng(7);
let ours = 0;
let theirs = 0;
let oursMs = 0;
let theirsMs = 0;
let proved = 0;
const count = 200;
for (let round = 0; round < count; round++) {
  const variables = 8 + rng.below(15);
  const cubes = (most: number): Cube[] =>
    Array.from({ length: 1 + rng.below(most) }, () => {
      const care = rng.below(2 ** variables) | rng.below(2 ** variables);
      return { care, value: rng.below(2 ** variables) & care };
    });
  const on = cubes(24);
  const dontCare = cubes(6);
  const literals = (cover: readonly Cube[]): number[][] =>
    cover.map(({ care, value }) =>
      Array.from({ length: variables }, (_, v) => v)
        .filter((v) => (care >> v) & 1)
        .map((v) => v * 2 + ((value >> v) & 1)),
    );
  let start = processorMs();
  const mine = minimise({ variables, on, dontCare });
  oursMs += processorMs() - start;
  start = processorMs();
  const other = espresso(literals(on), literals(dontCare));
  theirsMs += processorMs() - start;
  ours += mine.cover.length;
  theirs += other.length;
  if (mine.isProved) proved++;
}
line(
  `minimiser, ${count} random functions of 8 to 22 inputs: ${ours} terms in ${oursMs.toFixed(0)} ms, ${proved} proved minimal`,
);
line(`general-purpose library on the same: ${theirs} terms in ${theirsMs.toFixed(0)} ms`);
