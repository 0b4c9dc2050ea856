// The Z80 model alone: clocks a second with flat memory, for a program of loads, arithmetic, calls, stack, block moves and
// bit instructions, and for no-operations. Medians of five rounds, of the process's own time.

import { PROCESSORS, Z80, z80BeginAt, z80PowerUp, z80Step } from '../src/sim/index.ts';

const line = (text: string): void => {
  process.stdout.write(`${text}\n`);
};

function median(rounds: number, work: () => number): number {
  const rates: number[] = [];
  for (let round = 0; round < rounds; round++) {
    const start = process.cpuUsage().user;
    const clocks = work();
    rates.push(clocks / (process.cpuUsage().user - start));
  }
  return rates.sort((a, b) => a - b)[rounds >> 1]!;
}

// ld hl,8000; ld de,9000; ld bc,20; ldir; ld a,(8000); add a,b; xor c; push hl; pop de; call sub; inc (ix+2); bit 3,(hl);
// djnz; jp 0. sub: sla c; rr (hl); adc hl,de; ex de,hl; ret
const program = [
  0x31, 0x00, 0xf0, 0x21, 0x00, 0x80, 0x11, 0x00, 0x90, 0x01, 0x20, 0x00, 0xed, 0xb0, 0xdd, 0x21, 0x00, 0xa0, 0x06,
  0x08, 0x3a, 0x00, 0x80, 0x80, 0xa9, 0xe5, 0xd1, 0xcd, 0x40, 0x00, 0xdd, 0x34, 0x02, 0xcb, 0x5e, 0x10, 0xef, 0xc3,
  0x00, 0x00,
];
const subroutine = [0xcb, 0x21, 0xcb, 0x1e, 0xed, 0x5a, 0xeb, 0xc9];

function image(): Uint8Array {
  const memory = new Uint8Array(65536);
  memory.set(program, 0);
  memory.set(subroutine, 0x40);
  return memory;
}

const CLOCKS = 20_000_000;
const runFlat = PROCESSORS['z80']!.runFlat;
runFlat(image(), 0, 200_000);
line(`mixed program, flat memory: ${median(5, () => runFlat(image(), 0, CLOCKS).clocks).toFixed(1)} M clocks/s`);

const state = new Int32Array(Z80.Z80_WORDS);
const fed = (byte: number): number => {
  z80PowerUp(state, 0, { technology: 'NMOS' });
  z80BeginAt(state, 0, 0);
  for (let clock = 0; clock < CLOCKS; clock++) {
    z80Step(state, 0, byte, 0, Z80.IN_IDLE);
    z80Step(state, 0, byte, 0, Z80.IN_IDLE);
  }
  return CLOCKS;
};
fed(0);
line(`no-operations, data bus held at 00: ${median(5, () => fed(0x00)).toFixed(1)} M clocks/s`);
line(`data bus held at 7E, LD A,(HL): ${median(5, () => fed(0x7e)).toFixed(1)} M clocks/s`);
