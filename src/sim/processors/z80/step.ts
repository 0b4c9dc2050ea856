// One edge of the clock for a Z80: the sequencer over the tables of phases.ts, reset, requests and the bus given away.
// `step` is the whole processor for a kernel that keeps time itself; `drive` and `commit` are the same in the form every
// part's behaviour has. Zero delay: outputs move at the edge their delay is measured from.
//
//            +---------+   A15-A0, D7-D0
//     CLK -->|         |   /M1 /MREQ /IORQ /RD /WR /RFSH /HALT /BUSACK -->
//   /WAIT -->|   Z80   |
//    /INT -->|         |   even phase: CLK rises, odd phase: CLK falls
//    /NMI -->|         |
// /BUSREQ -->|         |
//  /RESET -->|         |
//            +---------+
//
// Unknown levels: an opcode, a vector or a request whose level is unknown when it is sampled makes the processor lost: all
// outputs unknown until a proper reset (LOST says why). Unknown bits of other bytes are taken as the caller gives them and
// counted in UNSURE, or lose the processor too when STRICT is set. Registers hold known values always: at power-up those
// the caller gives.
//
// Not modelled: the reset that is shorter than three clocks (real parts do something, the maker does not say what: lost),
// what /RESET in the middle of a cycle does to that cycle before it takes, the CMOS part's power-down when the clock stops,
// and differences between makers in bits 3 and 5 after SCF and CCF.

import { execute, lose, loseNext } from './execute.ts';
import { ROW_OF } from './microcode.ts';
import {
  CYCLE,
  FIRST_PHASE,
  PHASE_AWAY,
  PHASE_EXTRA,
  PHASE_GIVE_BACK,
  PHASE_GRANT,
  PHASE_HELD,
  PHASE_LOST,
  PHASE_RELEASED,
  PHASES,
} from './phases.ts';
import {
  A,
  ADDRESS,
  ALTERNATE,
  ATTENTION,
  ATTENTION_NMI_LOW,
  ATTENTION_NMI_PENDING,
  ATTENTION_RESETTING,
  B,
  COUNT,
  DATA_DRIVEN,
  DATA_IN,
  DATA_IN_UNKNOWN,
  DATA_OUT,
  F,
  HALTED,
  I,
  IFF1,
  IFF2,
  IM,
  IN_BUSREQ,
  IN_IDLE,
  IN_NMI,
  IN_RESET,
  IN_UNKNOWN_SHIFT,
  IN_WAIT,
  INSTRUCTION_AT,
  INSTRUCTIONS,
  LAST_Q,
  LATCH,
  LOST,
  LOST_BUSREQ,
  LOST_DATA,
  LOST_NMI,
  LOST_OPCODE,
  LOST_POWER_UP,
  LOST_RESET,
  LOST_SHORT_RESET,
  LOST_WAIT,
  MICRO,
  PAGE,
  PC,
  PC_STEP,
  PHASE,
  PIN_ADDRESS,
  PIN_ADDRESS_FLOATS,
  PIN_ALL,
  PIN_CONTROL,
  PIN_CONTROL_FLOATS,
  PIN_DATA,
  PIN_HALT,
  PIN_UNKNOWN,
  Q,
  R,
  RECENT,
  RESET_EDGES,
  RESUME,
  SPH,
  SPL,
  STRICT,
  UNSURE,
  VARIANT,
  Z80_WORDS,
} from './state.ts';

const X_WAIT = IN_WAIT << IN_UNKNOWN_SHIFT;
const X_NMI = IN_NMI << IN_UNKNOWN_SHIFT;
const X_BUSREQ = IN_BUSREQ << IN_UNKNOWN_SHIFT;
const X_RESET = IN_RESET << IN_UNKNOWN_SHIFT;

/** What a Z80 is made as. */
export interface Z80Options {
  /** NMOS or CMOS: OUT (C),0, and P/V after an interrupted LD A,I or LD A,R. */
  readonly technology: 'NMOS' | 'CMOS';
  /** Registers as they come up, one byte each, as many as wanted; the rest are zero. Default none. */
  readonly registers?: Uint8Array;
  /** Lose the processor on any unknown bit it reads. Default false. */
  readonly strict?: boolean;
}

/** Writes the state of a Z80 whose supply has just come on: outputs unknown until a reset. */
export const powerUp = (s: Int32Array, b: number, options: Z80Options): void => {
  s.fill(0, b, b + Z80_WORDS);
  const given = options.registers ?? new Uint8Array(0);
  for (let r = 0; r < Math.min(given.length, ALTERNATE + 8); r++) s[b + B + r] = given[r]!;
  s[b + VARIANT] = options.technology === 'CMOS' ? 1 : 0;
  s[b + STRICT] = options.strict ? 1 : 0;
  s[b + LATCH] = IN_IDLE;
  s[b + PC_STEP] = 1;
  s[b + LOST] = LOST_POWER_UP;
  s[b + PHASE] = PHASE_LOST;
  s[b + PIN_CONTROL] = PIN_UNKNOWN;
};

/**
 * Puts a Z80 at the rising edge that begins the fetch of an instruction at PC, registers as they stand: where a harness
 * that has no reset begins. Call after setting registers.
 */
export const beginAt = (s: Int32Array, b: number, pc: number): void => {
  s[b + PC] = pc & 0xffff;
  s[b + LOST] = 0;
  s[b + ATTENTION] = 0;
  s[b + RESET_EDGES] = 0;
  s[b + LATCH] = IN_IDLE;
  s[b + HALTED] = 0;
  s[b + PC_STEP] = 1;
  s[b + PAGE] = 0;
  s[b + ADDRESS] = pc & 0xffff;
  s[b + INSTRUCTION_AT] = pc & 0xffff;
  s[b + INSTRUCTIONS] = 0;
  s[b + PHASE] = FIRST_PHASE[CYCLE.fetch]!;
  s[b + PIN_CONTROL] = PIN_ALL;
  s[b + PIN_ADDRESS] = pc & 0xffff;
  s[b + PIN_DATA] = 0;
};

// UM0080, /RESET: PC, I and R zero, interrupts off, mode 0. AF and SP all ones: from memory, measured on real parts.
const reset = (s: Int32Array, b: number): void => {
  s[b + PC] = 0;
  s[b + I] = 0;
  s[b + R] = 0;
  s[b + IM] = 0;
  s[b + IFF1] = 0;
  s[b + IFF2] = 0;
  s[b + A] = 0xff;
  s[b + F] = 0xff;
  s[b + SPH] = 0xff;
  s[b + SPL] = 0xff;
  s[b + Q] = 0;
  s[b + LAST_Q] = 0;
  s[b + RECENT] = 0;
  s[b + HALTED] = 0;
  s[b + PC_STEP] = 1;
  s[b + LATCH] = IN_IDLE;
  s[b + LOST] = 0;
  s[b + UNSURE] = 0;
  s[b + PIN_DATA] = 0;
};

/** Looks at /RESET and /NMI when they are not idle; gives the inputs with the /NMI bit low while one is pending. */
const attend = (s: Int32Array, b: number, given: number): number => {
  let inputs = given;
  let attention = s[b + ATTENTION]!;
  const rises = (s[b + PHASE]! & 1) === 0;
  if (rises) {
    if ((inputs & X_RESET) !== 0) {
      s[b + RESET_EDGES] = 0;
      attention &= ~ATTENTION_RESETTING;
      lose(s, b, LOST_RESET);
    } else if ((inputs & IN_RESET) === 0) {
      // Zilog PS0178 and Mostek MK3880 note B: /RESET must be low for three clocks. It takes at the third rising edge.
      const edges = s[b + RESET_EDGES]! + 1;
      attention = (attention | ATTENTION_RESETTING) & ~ATTENTION_NMI_PENDING;
      if (edges >= 3) {
        reset(s, b);
        s[b + PHASE] = PHASE_HELD;
        s[b + RESET_EDGES] = 3;
      } else s[b + RESET_EDGES] = edges;
    } else if ((attention & ATTENTION_RESETTING) !== 0) {
      attention &= ~ATTENTION_RESETTING;
      if (s[b + RESET_EDGES]! >= 3) s[b + PHASE] = PHASE_RELEASED;
      else lose(s, b, LOST_SHORT_RESET);
      s[b + RESET_EDGES] = 0;
    }
  }
  const settled = (attention & ATTENTION_RESETTING) === 0 && s[b + LOST] === 0;
  if ((inputs & X_NMI) !== 0) {
    if (settled) lose(s, b, LOST_NMI);
  } else if ((inputs & IN_NMI) === 0) {
    if (settled && (attention & ATTENTION_NMI_LOW) === 0) attention |= ATTENTION_NMI_PENDING;
    attention |= ATTENTION_NMI_LOW;
  } else attention &= ~ATTENTION_NMI_LOW;
  s[b + ATTENTION] = attention;
  if ((attention & ATTENTION_NMI_PENDING) !== 0) inputs &= ~IN_NMI;
  else inputs |= IN_NMI;
  return inputs;
};

/** T1 of a machine cycle rises while the latched /BUSREQ is not high: the cycle waits, or all is lost. */
const yieldBus = (s: Int32Array, b: number): void => {
  s[b + PIN_DATA] = 0;
  if ((s[b + LATCH]! & X_BUSREQ) !== 0) {
    loseNext(s, b, LOST_BUSREQ);
    return;
  }
  s[b + RESUME] = s[b + PHASE]!;
  s[b + PHASE] = PHASE_GRANT + 1;
  s[b + PIN_CONTROL] = PHASES[PHASE_GRANT]! & 0xffff;
  keepHalt(s, b);
};

/**
 * One edge of the clock. `data` is the byte at the data pins just before the edge and `unknown` its unknown bits; `inputs`
 * are IN_* levels at the same moment, unknown ones marked 8 bits higher. Afterwards PIN_ADDRESS, PIN_DATA and PIN_CONTROL
 * are what the pins drive. Edges alternate: the parity of PHASE says which one is to come (even: rising).
 */
export const step = (s: Int32Array, b: number, data: number, unknown: number, inputs: number): void => {
  let levels = inputs;
  if (inputs !== IN_IDLE || s[b + ATTENTION] !== 0) levels = attend(s, b, inputs);
  const p = s[b + PHASE]!;
  const phase = PHASES[p]!;
  s[b + PIN_CONTROL] = phase & 0xffff;
  // The numbers of the cases are those of ACTION in phases.ts.
  switch (phase >> 16) {
    case 0: // pass
      s[b + PHASE] = p + 1;
      break;
    case 1: // begin
      if ((s[b + LATCH]! & (IN_BUSREQ | X_BUSREQ)) !== IN_BUSREQ) {
        yieldBus(s, b);
        break;
      }
      s[b + PIN_ADDRESS] = s[b + ADDRESS]!;
      s[b + PIN_DATA] = 0;
      s[b + PHASE] = p + 1;
      break;
    case 2: // beginInternal
      if ((s[b + LATCH]! & (IN_BUSREQ | X_BUSREQ)) !== IN_BUSREQ) {
        yieldBus(s, b);
        break;
      }
      s[b + PIN_DATA] = 0;
      s[b + LATCH] = levels;
      s[b + PHASE] = p + 1;
      break;
    case 3: // extend
      s[b + PIN_DATA] = 0;
      s[b + LATCH] = levels;
      s[b + PHASE] = p + 1;
      break;
    case 4: // put
      s[b + PIN_DATA] = s[b + DATA_OUT]! | DATA_DRIVEN;
      s[b + PHASE] = p + 1;
      break;
    case 5: // wait
      if ((levels & (IN_WAIT | X_WAIT)) === IN_WAIT) s[b + PHASE] = p + 1;
      else if ((levels & X_WAIT) === 0) s[b + PHASE] = p - 1;
      else loseNext(s, b, LOST_WAIT);
      break;
    case 6: {
      // fetch
      const r = s[b + R]!;
      s[b + DATA_IN] = data & 0xff;
      s[b + DATA_IN_UNKNOWN] = unknown & 0xff;
      s[b + PIN_ADDRESS] = (s[b + I]! << 8) | r;
      s[b + R] = (r & 0x80) | ((r + 1) & 0x7f);
      s[b + PHASE] = p + 1;
      break;
    }
    case 7: // latch
      s[b + LATCH] = levels;
      s[b + PHASE] = p + 1;
      break;
    case 8: // decode
      s[b + PC] = (s[b + PC]! + s[b + PC_STEP]!) & 0xffff;
      decode(s, b);
      break;
    case 9: // decodeGiven
      decode(s, b);
      break;
    case 10: // next
      execute(s, b, s[b + MICRO]!);
      break;
    case 11: // read
      s[b + DATA_IN] = data & 0xff;
      s[b + DATA_IN_UNKNOWN] = unknown & 0xff;
      if ((unknown & 0xff) !== 0) {
        s[b + UNSURE] = (s[b + UNSURE]! + 1) | 0;
        if (s[b + STRICT] !== 0) {
          loseNext(s, b, LOST_DATA);
          break;
        }
      }
      execute(s, b, s[b + MICRO]!);
      break;
    case 12: {
      // count
      const left = s[b + COUNT]! - 1;
      s[b + COUNT] = left;
      if (left > 0) s[b + PHASE] = PHASE_EXTRA;
      else execute(s, b, s[b + MICRO]!);
      break;
    }
    case 13: // granted
      keepHalt(s, b);
      if ((levels & X_BUSREQ) !== 0) loseNext(s, b, LOST_BUSREQ);
      else if ((levels & IN_BUSREQ) === 0) s[b + PHASE] = PHASE_AWAY;
      else {
        s[b + PHASE] = PHASE_GIVE_BACK;
        s[b + LATCH] = s[b + LATCH]! | IN_BUSREQ;
      }
      break;
    case 14: // resume
      keepHalt(s, b);
      s[b + PHASE] = s[b + RESUME]!;
      break;
    case 15: // back
      s[b + PHASE] = p - 1;
      break;
    case 16: // start
      beginFetch(s, b);
      break;
    case 17: // away
      keepHalt(s, b);
      s[b + PHASE] = p + 1;
      break;
    case 18: // waitWrite
      if ((levels & (IN_WAIT | X_WAIT)) === IN_WAIT) s[b + PHASE] = p + 1;
      else if ((levels & X_WAIT) === 0) s[b + PHASE] = p + 3;
      else loseNext(s, b, LOST_WAIT);
      break;
    case 19: // waitMore
      if ((levels & (IN_WAIT | X_WAIT)) === IN_WAIT) s[b + PHASE] = p - 3;
      else if ((levels & X_WAIT) === 0) s[b + PHASE] = p - 1;
      else loseNext(s, b, LOST_WAIT);
      break;
  }
};

/** While the bus is away from a halted processor, /HALT stays low. */
const keepHalt = (s: Int32Array, b: number): void => {
  if (s[b + HALTED] !== 0) s[b + PIN_CONTROL] = s[b + PIN_CONTROL]! & ~PIN_HALT;
};

const decode = (s: Int32Array, b: number): void => {
  if (s[b + DATA_IN_UNKNOWN] !== 0) {
    loseNext(s, b, LOST_OPCODE);
    return;
  }
  const page = s[b + PAGE]!;
  if (page === 0) {
    s[b + LAST_Q] = s[b + Q]!;
    s[b + Q] = 0;
    s[b + RECENT] = 0;
  }
  execute(s, b, ROW_OF[page * 256 + s[b + DATA_IN]!]!);
};

const beginFetch = (s: Int32Array, b: number): void => {
  s[b + ADDRESS] = s[b + PC]!;
  s[b + INSTRUCTION_AT] = s[b + PC]!;
  s[b + PAGE] = 0;
  s[b + PHASE] = FIRST_PHASE[CYCLE.fetch]!;
};

/** What a Z80 drives in this half clock. */
export interface Z80Pins {
  /** A15-A0; meaningless while addressFloats. */
  readonly address: number;
  readonly addressFloats: boolean;
  /** D7-D0; meaningless unless dataDriven. */
  readonly data: number;
  readonly dataDriven: boolean;
  /** Levels, PIN_M1 to PIN_BUSACK, 1 high. */
  readonly control: number;
  /** /MREQ, /IORQ, /RD and /WR float. */
  readonly controlFloats: boolean;
  /** Every output is unknown. */
  readonly unknown: boolean;
}

/** What the pins drive, from the state. Kernels in a hurry read PIN_ADDRESS, PIN_DATA and PIN_CONTROL instead. */
export const drive = (s: Int32Array, b: number): Z80Pins => {
  const control = s[b + PIN_CONTROL]!;
  return {
    address: s[b + PIN_ADDRESS]!,
    addressFloats: (control & PIN_ADDRESS_FLOATS) !== 0,
    data: s[b + PIN_DATA]! & 0xff,
    dataDriven: (s[b + PIN_DATA]! & DATA_DRIVEN) !== 0,
    control: control & PIN_ALL,
    controlFloats: (control & PIN_CONTROL_FLOATS) !== 0,
    unknown: (control & PIN_UNKNOWN) !== 0,
  };
};

/** What a Z80 sees just before an edge of its clock. */
export interface Z80Inputs {
  readonly data: number;
  /** Unknown bits of data. Default 0. */
  readonly unknownData?: number;
  /** IN_* levels, unknown ones 8 bits higher. */
  readonly levels: number;
}

/**
 * One edge of the clock. An edge of the other kind than the one to come (the first one after power-up may be) changes
 * nothing.
 */
export const commit = (s: Int32Array, b: number, inputs: Z80Inputs, edge: 'rise' | 'fall'): void => {
  if (((s[b + PHASE]! & 1) === 0) !== (edge === 'rise')) return;
  step(s, b, inputs.data, inputs.unknownData ?? 0, inputs.levels);
};
