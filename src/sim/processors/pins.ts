// Processors as parts: which pins make up the words of state that a processor model knows, and its edge. One entry for each
// processor; a kernel sees no difference to other parts.

import { expandRange } from '../../parts/index.ts';
import type { SimPart } from '../model.ts';
import type { PartModel } from '../models/model.ts';
import { Z80, z80Step, z80PowerUp } from './z80/index.ts';

/** Makes the model of a processor for a part of its type. */
export type ProcessorMaker = (part: SimPart) => PartModel;

const Z80_CLOCK = 5;

/**
 * Inputs: D7-D0; /WAIT /INT /NMI /BUSREQ /RESET CLK. Outputs: A15-A0; D7-D0; controls. What it reads at an edge is what stood
 * at its pins before that edge (Z80 inputs are sampled by the edge; hold times are zero).
 */
function z80Model(part: SimPart): PartModel {
  const isCmos = /cmos|84c/i.test(`${part.grade ?? ''} ${part.type}`);
  return {
    ins: [expandRange('D0-D7')!, ['/WAIT', '/INT', '/NMI', '/BUSREQ', '/RESET', 'CLK']],
    outs: [
      expandRange('A0-A15')!,
      expandRange('D0-D7')!,
      ['/M1', '/MREQ', '/IORQ', '/RD', '/WR', '/RFSH', '/HALT', '/BUSACK'],
    ],
    words: Z80.Z80_WORDS,
    drivesFrom: [false, false],
    commitsFrom: [false, true],
    commitsOn: ['CLK'],
    power(s, b, random) {
      const registers = Uint8Array.from({ length: 24 }, () => random() & 0xff);
      z80PowerUp(s, b, { technology: isCmos ? 'CMOS' : 'NMOS', registers });
    },
    drive(s, b, _i, o) {
      const control = s[b + Z80.PIN_CONTROL]!;
      if (control >= Z80.PIN_ADDRESS_FLOATS) {
        if ((control & Z80.PIN_UNKNOWN) !== 0) {
          s[o] = -1;
          s[o + 1] = 0xff00ff;
          s[o + 2] = 0xff00ff;
          return;
        }
      }
      const address = s[b + Z80.PIN_ADDRESS]!;
      s[o] = (control & Z80.PIN_ADDRESS_FLOATS) !== 0 ? 0 : address | (~address << 16);
      const data = s[b + Z80.PIN_DATA]!;
      s[o + 1] = (data & Z80.DATA_DRIVEN) === 0 ? 0 : (data & 0xff) | ((~data & 0xff) << 16);
      let word = (control & 0xff) | ((~control & 0xff) << 16);
      if ((control & Z80.PIN_CONTROL_FLOATS) !== 0) word &= ~0x1e001e;
      s[o + 2] = word;
    },
    commit(s, b, p, i) {
      const before = s[p + 1]!;
      const now = s[i + 1]!;
      const edge = (before ^ now) & (0x10001 << Z80_CLOCK);
      if (edge !== 0x10001 << Z80_CLOCK) return false;
      const rises = ((now >>> Z80_CLOCK) & 1) !== 0;
      if (((s[b + Z80.PHASE]! & 1) === 0) !== rises) return false;
      const data = s[p]!;
      const address = s[b + Z80.PIN_ADDRESS]!;
      const driven = s[b + Z80.PIN_DATA]!;
      const control = s[b + Z80.PIN_CONTROL]!;
      z80Step(s, b, data & 0xff, data & (data >>> 16) & 0xff, (before & 31) | ((before & (before >>> 16) & 31) << 8));
      // Only what the pins drive is seen by the rest of the machine.
      return s[b + Z80.PIN_CONTROL] !== control || s[b + Z80.PIN_ADDRESS] !== address || s[b + Z80.PIN_DATA] !== driven;
    },
  };
}

/** Processor models by the name that records use, in small letters. */
export const PROCESSOR_MODELS: Readonly<Record<string, ProcessorMaker>> = { z80: z80Model };
