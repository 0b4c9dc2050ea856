// The simulator's Z80 and the one of the bench machine, both written from Zilog's timing diagrams and neither from the other, pin
// by pin and half clock by half clock: random programs, and random waits, interrupts, bus requests and resets at their inputs.

import { expect, test } from 'vitest';
import { canCapture, type Requests, runRequests } from '../../benchmarks/bringup-source/index.ts';
import { createRng, type Rng } from '../../src/base/index.ts';
import { Z80Bench, type Z80InputName } from '../support/z80-bench.ts';
import { Z80 } from '../../src/sim/index.ts';

const there = canCapture();

/** Levels of the inputs: reset first, then each line low now and then. */
function schedule(rng: Rng, halves: number): Requests[] {
  const spell = (every: number, least: number, most: number, gap: number): (0 | 1)[] => {
    const line = new Array<0 | 1>(halves).fill(1);
    for (let at = 40 + rng.below(every); at < halves; at += gap + rng.below(every * 2)) {
      const length = least + rng.below(most - least + 1);
      for (let k = at; k < Math.min(halves, at + length); k++) line[k] = 0;
      at += length;
    }
    return line;
  };
  const wait = spell(40, 1, 9, 1);
  const int = spell(160, 2, 60, 1);
  // A second edge before the first is acknowledged would be a matter of ns.
  const nmi = spell(400, 1, 8, 200);
  const busrq = spell(300, 1, 40, 1);
  // Again near the end: what it does to the instruction it falls into nobody says, so registers may differ afterwards: its first fetch is seen.
  const again = halves - 26 + rng.below(4);
  return wait.map((_, k) => ({
    reset: k < 10 || (k >= again && k < again + 9) ? 0 : 1,
    busrq: busrq[k]!,
    wait: wait[k]!,
    int: int[k]!,
    nmi: nmi[k]!,
  }));
}

/** Programs are random bytes with the instructions in them that interrupts live on. */
function program(rng: Rng): Uint8Array {
  const memory = Uint8Array.from({ length: 65536 }, () => rng.below(256));
  for (let k = 0; k < 3000; k++) {
    const piece = [[0xfb], [0xed, 0x56], [0xed, 0x5e], [0xed, 0x46], [0xed, 0x4d], [0xed, 0x45], [0x76], [0xfb, 0x76]][
      rng.below(8)
    ]!;
    memory.set(piece, rng.below(65500));
  }
  memory.set([0x31, 0x00, 0xf0, 0xed, 0x5e, 0xfb], 0);
  return memory;
}

function bySimulator(memory: Uint8Array, levels: readonly Requests[]): string[] {
  const bench = new Z80Bench([], 'NMOS');
  bench.memory.set(memory);
  const inputs: readonly (readonly [Z80InputName, keyof Requests])[] = [
    ['RESET', 'reset'],
    ['BUSREQ', 'busrq'],
    ['WAIT', 'wait'],
    ['INT', 'int'],
    ['NMI', 'nmi'],
  ];
  return levels.map((level, k) => {
    bench.halves(
      1,
      inputs.flatMap(([name, key]) => (level[key] === 0 ? [[name, k, k + 1] as const] : [])),
    );
    const pins = bench.seen[k]!;
    const bit = (pin: number): string => ((pins.control & pin) !== 0 ? '1' : '0');
    const strobes = [Z80.PIN_MREQ, Z80.PIN_IORQ, Z80.PIN_RD, Z80.PIN_WR];
    return [
      pins.addressFloats ? 'zzzz' : pins.address.toString(16).padStart(4, '0'),
      pins.dataDriven ? pins.data.toString(16).padStart(2, '0') : 'zz',
      strobes.map((pin) => (pins.controlFloats ? 'z' : bit(pin))).join(''),
      [Z80.PIN_M1, Z80.PIN_RFSH, Z80.PIN_HALT, Z80.PIN_BUSACK].map(bit).join(''),
    ].join(' ');
  });
}

/** Within the first three clocks of a reset: nobody says what becomes of the machine cycle that it falls into. */
const isTaking = (levels: readonly Requests[], k: number): boolean =>
  levels[k]!.reset === 0 && levels.slice(k - 7, k).some(({ reset }) => reset === 1);

test.skipIf(!there)(
  `pins under waits, interrupts, bus requests and resets${there ? '' : ' (skipped: no IEEE 1364 simulator is installed)'}`,
  () => {
    const halves = 20_000;
    for (let seed = 1; seed <= Number(process.env.PROOFBOARD_REQUESTS ?? 3); seed++) {
      const rng = createRng(seed);
      const memory = program(rng);
      const levels = schedule(rng, halves);
      const wanted = runRequests(memory, levels);
      const made = bySimulator(memory, levels);
      // Until the first reset is over nobody says what the pins do.
      for (let k = 12; k < halves; k++)
        if (made[k] !== wanted[k] && !isTaking(levels, k))
          expect.fail(
            `seed ${seed}, half clock ${k}: ${made[k]} here, ${wanted[k]} in Verilog; before: ${wanted.slice(k - 8, k).join(' | ')}`,
          );
    }
  },
);
