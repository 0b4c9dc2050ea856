// A Z80 alone with 64 KiB of memory, run until its program counter stays. No ports: inputs read 0xFF, outputs are lost; no
// requests ever come.

import type { FlatRun } from '../flat.ts';
import {
  B,
  HALTED,
  IN_IDLE,
  INSTRUCTION_AT,
  INSTRUCTIONS,
  LOST,
  PIN_ADDRESS,
  PIN_CONTROL,
  PIN_DATA,
  PIN_MREQ,
  PIN_RD,
  PIN_WR,
  R,
  Z80_WORDS,
} from './state.ts';
import { beginAt, powerUp, step } from './step.ts';

/**
 * Runs `memory` (65,536 bytes, changed in place) from `start` for at most `maximumClocks`. Registers are zero at the start.
 * Stops where one instruction follows itself with nothing changed but R (a jump to itself; a block instruction or DJNZ to
 * itself counts down and goes on), or at a halt.
 */
export const runZ80Flat = (memory: Uint8Array, start: number, maximumClocks: number): FlatRun => {
  const s = new Int32Array(Z80_WORDS);
  const last = new Int32Array(R);
  powerUp(s, 0, { technology: 'NMOS' });
  beginAt(s, 0, start);
  let clocks = 0;
  let began = 0;
  let at = s[INSTRUCTION_AT]!;
  while (clocks < maximumClocks) {
    const count = s[INSTRUCTIONS]!;
    do {
      half(s, memory);
      half(s, memory);
      clocks++;
    } while (s[INSTRUCTIONS] === count && clocks < maximumClocks);
    if (s[LOST] !== 0) break;
    if (s[HALTED] !== 0) return { stopped: true, at, clocks: began };
    const next = s[INSTRUCTION_AT]!;
    if (next === at && isUnchanged(s, last)) return { stopped: true, at, clocks: began };
    if (s[INSTRUCTIONS] !== count) {
      if (next === at) for (let r = 0; r < R; r++) last[r] = s[r]!;
      else {
        last[B] = -1;
        at = next;
        began = clocks;
      }
    }
  }
  return { stopped: false, at, clocks };
};

/** One edge of the clock: memory answers at once, and takes what is written as long as /WR is low. */
const half = (s: Int32Array, memory: Uint8Array): void => {
  const control = s[PIN_CONTROL]!;
  let data = 0xff;
  if ((control & PIN_MREQ) === 0) {
    if ((control & PIN_RD) === 0) data = memory[s[PIN_ADDRESS]!]!;
    else if ((control & PIN_WR) === 0) memory[s[PIN_ADDRESS]!] = s[PIN_DATA]! & 0xff;
  }
  step(s, 0, data, 0, IN_IDLE);
};

/** Registers from B to I: all that such an instruction changes, but R. */
const isUnchanged = (s: Int32Array, last: Int32Array): boolean => {
  for (let r = B; r < R; r++) if (s[r] !== last[r]) return false;
  return true;
};
