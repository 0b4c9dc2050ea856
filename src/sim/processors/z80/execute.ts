// What the micro-steps of microcode.ts do to the registers, and what follows the end of an instruction. `execute` runs from
// one machine cycle's last half clock to the set-up of the next: it never touches a pin.
// The numbers of the cases are those of OP and PUT in microcode.ts (written out: a switch over literals compiles to a jump).

import { decimalAdjust, PARITY, rotate, SIGN_ZERO, SIGN_ZERO_PARITY } from './flags.ts';
import { MICROCODE, ROW_OF, STEP_END, STEP_HALTED, STEP_INT0, STEP_INT1, STEP_INT2, STEP_NMI } from './microcode.ts';
import { CYCLE, FIRST_PHASE, PHASE_LOST } from './phases.ts';
import {
  A,
  ADDRESS,
  ALTERNATE,
  ATTENTION,
  ATTENTION_NMI_PENDING,
  B,
  C,
  COUNT,
  D,
  DATA_IN,
  DATA_IN_UNKNOWN,
  DATA_OUT,
  E,
  F,
  H,
  HALTED,
  I,
  IFF1,
  IFF2,
  IM,
  IN_BUSREQ,
  IN_IDLE,
  IN_INT,
  IN_NMI,
  IN_UNKNOWN_SHIFT,
  INSTRUCTION_AT,
  INSTRUCTIONS,
  L,
  LAST_Q,
  LATCH,
  LOST,
  LOST_INT,
  LOST_OPCODE,
  MICRO,
  PAGE,
  PC,
  PC_STEP,
  PHASE,
  PIN_CONTROL,
  PIN_HALT,
  Q,
  R,
  RECENT,
  SPH,
  SPL,
  TEMPORARY,
  VARIANT,
  W,
  Z,
} from './state.ts';

const FETCH = FIRST_PHASE[CYCLE.fetch]!;
const END = CYCLE.end;

/** Marks the processor lost for a reason (LOST_*): its outputs are unknown from the edge in hand until a reset. */
export const lose = (s: Int32Array, b: number, reason: number): void => {
  s[b + LOST] = reason;
  s[b + PHASE] = PHASE_LOST | (s[b + PHASE]! & 1);
};

/** The same from the next edge, for what is found out while an edge is worked on. */
export const loseNext = (s: Int32Array, b: number, reason: number): void => {
  s[b + LOST] = reason;
  s[b + PHASE] = PHASE_LOST | ((s[b + PHASE]! & 1) ^ 1);
};

const flags = (s: Int32Array, b: number, value: number): void => {
  s[b + F] = value;
  s[b + Q] = value;
};

/** Arithmetic and logic on A: k is ADD ADC SUB SBC AND XOR OR CP. */
const arithmetic = (s: Int32Array, b: number, k: number, v: number): void => {
  const a = s[b + A]!;
  let r: number;
  switch (k) {
    case 0:
    case 1: {
      const t = a + v + (k & s[b + F]!);
      r = t & 0xff;
      flags(s, b, SIGN_ZERO[r]! | ((a ^ v ^ r) & 0x10) | ((((a ^ ~v) & (a ^ r)) >> 5) & 4) | (t >> 8));
      break;
    }
    case 2:
    case 3: {
      const t = a - v - (k & 1 & s[b + F]!);
      r = t & 0xff;
      flags(s, b, SIGN_ZERO[r]! | ((a ^ v ^ r) & 0x10) | ((((a ^ v) & (a ^ r)) >> 5) & 4) | 2 | ((t >> 8) & 1));
      break;
    }
    case 4:
      r = a & v;
      flags(s, b, SIGN_ZERO_PARITY[r]! | 0x10);
      break;
    case 5:
      r = a ^ v;
      flags(s, b, SIGN_ZERO_PARITY[r]!);
      break;
    case 6:
      r = a | v;
      flags(s, b, SIGN_ZERO_PARITY[r]!);
      break;
    default: {
      // A compare takes bits 5 and 3 from the operand.
      const t = a - v;
      r = t & 0xff;
      flags(
        s,
        b,
        (SIGN_ZERO[r]! & 0xc0) |
          (v & 0x28) |
          ((a ^ v ^ r) & 0x10) |
          ((((a ^ v) & (a ^ r)) >> 5) & 4) |
          2 |
          ((t >> 8) & 1),
      );
      return;
    }
  }
  s[b + A] = r;
};

const increment = (s: Int32Array, b: number, v: number): number => {
  const r = (v + 1) & 0xff;
  flags(s, b, (s[b + F]! & 1) | SIGN_ZERO[r]! | ((r & 15) === 0 ? 0x10 : 0) | (r === 0x80 ? 4 : 0));
  return r;
};

const decrement = (s: Int32Array, b: number, v: number): number => {
  const r = (v - 1) & 0xff;
  flags(s, b, (s[b + F]! & 1) | SIGN_ZERO[r]! | ((v & 15) === 0 ? 0x10 : 0) | (r === 0x7f ? 4 : 0) | 2);
  return r;
};

const shifted = (s: Int32Array, b: number, k: number, v: number): number => {
  const packed = rotate(k, v, s[b + F]! & 1);
  flags(s, b, packed >> 8);
  return packed & 0xff;
};

const setPair = (s: Int32Array, at: number, value: number): void => {
  s[at] = (value >> 8) & 0xff;
  s[at + 1] = value & 0xff;
};

const pairOf = (s: Int32Array, at: number): number => (s[at]! << 8) | s[at + 1]!;

const testBit = (s: Int32Array, b: number, k: number, v: number, visible: number): void => {
  const r = v & (1 << k);
  flags(s, b, (s[b + F]! & 1) | 0x10 | (r & 0x80) | (r === 0 ? 0x44 : 0) | (visible & 0x28));
};

/** Conditions NZ Z NC C PO PE P M. */
const holds = (f: number, k: number): boolean => {
  const flag = k < 2 ? 0x40 : k < 4 ? 1 : k < 6 ? 4 : 0x80;
  return ((f & flag) !== 0) === ((k & 1) === 1);
};

const exchange = (s: Int32Array, one: number, other: number): void => {
  const kept = s[one]!;
  s[one] = s[other]!;
  s[other] = kept;
};

const carryPair = (s: Int32Array, b: number, y: number, subtract: boolean): void => {
  const x = pairOf(s, b + H);
  const v = pairOf(s, y);
  const carry = s[b + F]! & 1;
  const t = subtract ? x - v - carry : x + v + carry;
  const r = t & 0xffff;
  const overflow = subtract ? (x ^ v) & (x ^ r) : ~(x ^ v) & (x ^ r);
  setPair(s, b + W, (x + 1) & 0xffff);
  setPair(s, b + H, r);
  flags(
    s,
    b,
    ((r >> 8) & 0xa8) |
      (r === 0 ? 0x40 : 0) |
      (((x ^ v ^ r) >> 8) & 0x10) |
      ((overflow >> 13) & 4) |
      (subtract ? 2 : 0) |
      ((t >> 16) & 1),
  );
};

/** Flags of INI, IND, OUTI and OUTD (undocumented save Z and N): `t` is byte + low address, see callers. */
const blockIoFlags = (s: Int32Array, b: number, value: number, t: number): void => {
  const count = s[b + B]!;
  flags(s, b, SIGN_ZERO[count]! | (value & 0x80 ? 2 : 0) | (t > 0xff ? 0x11 : 0) | PARITY[(t & 7) ^ count]!);
};

/**
 * Carries out micro-steps from number `start` until one asks for a machine cycle, and sets that up (PHASE, MICRO, ADDRESS,
 * DATA_OUT, COUNT). Called at the last half clock of a machine cycle.
 */
export const execute = (s: Int32Array, b: number, start: number): void => {
  let u = start;
  for (;;) {
    const w = MICROCODE[u]!;
    u++;
    const x = b + ((w >> 16) & 15);
    const y = b + ((w >> 20) & 15);
    const k = (w >> 24) & 7;
    switch (w & 127) {
      case 0: // none
        break;
      case 1: // load
        s[x] = s[b + DATA_IN]!;
        break;
      case 2: // move
        s[x] = s[y]!;
        break;
      case 3: // movePair
        s[x] = s[y]!;
        s[x + 1] = s[y + 1]!;
        break;
      case 4: // keep
        s[b + TEMPORARY] = s[b + DATA_IN]!;
        break;
      case 5: // alu
        arithmetic(s, b, k, s[x]!);
        break;
      case 6: // aluRead
        arithmetic(s, b, k, s[b + DATA_IN]!);
        break;
      case 7: // inc
        s[x] = increment(s, b, s[x]!);
        break;
      case 8: // dec
        s[x] = decrement(s, b, s[x]!);
        break;
      case 9: // incRead
        s[b + TEMPORARY] = increment(s, b, s[b + DATA_IN]!);
        break;
      case 10: // decRead
        s[b + TEMPORARY] = decrement(s, b, s[b + DATA_IN]!);
        break;
      case 11: // incPair
        setPair(s, x, pairOf(s, x) + 1);
        break;
      case 12: // decPair
        setPair(s, x, pairOf(s, x) - 1);
        break;
      case 13: {
        // addPair
        const one = pairOf(s, x);
        const other = pairOf(s, y);
        const t = one + other;
        setPair(s, b + W, one + 1);
        setPair(s, x, t);
        flags(s, b, (s[b + F]! & 0xc4) | ((t >> 8) & 0x28) | (((one ^ other ^ t) >> 8) & 0x10) | (t >> 16));
        break;
      }
      case 14: // adcPair
        carryPair(s, b, y, false);
        break;
      case 15: // sbcPair
        carryPair(s, b, y, true);
        break;
      case 16: {
        // rotateA: flags as the long form, but S, Z and P/V stay
        const packed = rotate(k, s[b + A]!, s[b + F]! & 1);
        s[b + A] = packed & 0xff;
        flags(s, b, (s[b + F]! & 0xc4) | ((packed >> 8) & 0x29));
        break;
      }
      case 17: {
        // daa
        const packed = decimalAdjust(s[b + A]!, s[b + F]!);
        s[b + A] = packed & 0xff;
        flags(s, b, packed >> 8);
        break;
      }
      case 18: // cpl
        s[b + A] = s[b + A]! ^ 0xff;
        flags(s, b, (s[b + F]! & 0xc5) | 0x12 | (s[b + A]! & 0x28));
        break;
      case 19: // scf
        flags(s, b, (s[b + F]! & 0xc4) | (((s[b + LAST_Q]! ^ s[b + F]!) | s[b + A]!) & 0x28) | 1);
        break;
      case 20: {
        // ccf
        const f = s[b + F]!;
        flags(s, b, (f & 0xc4) | (((s[b + LAST_Q]! ^ f) | s[b + A]!) & 0x28) | ((f & 1) << 4) | ((f & 1) ^ 1));
        break;
      }
      case 21: // exchangeAf
        exchange(s, b + A, b + ALTERNATE + A);
        exchange(s, b + F, b + ALTERNATE + F);
        break;
      case 22: // exchangeAll
        for (let r = B; r <= L; r++) exchange(s, b + r, b + ALTERNATE + r);
        break;
      case 23: // exchangeDeHl
        exchange(s, b + D, b + H);
        exchange(s, b + E, b + L);
        break;
      case 24: // rotate
        s[x] = shifted(s, b, k, s[x]!);
        break;
      case 25: // rotateRead
        s[b + TEMPORARY] = shifted(s, b, k, s[b + DATA_IN]!);
        break;
      case 26: // rotateReadCopy
        s[x] = s[b + TEMPORARY] = shifted(s, b, k, s[b + DATA_IN]!);
        break;
      case 27: // bit
        testBit(s, b, k, s[x]!, s[x]!);
        break;
      case 28: // bitRead
        testBit(s, b, k, s[b + DATA_IN]!, s[b + W]!);
        break;
      case 29: // res
        s[x] = s[x]! & ~(1 << k);
        break;
      case 30: // resRead
        s[b + TEMPORARY] = s[b + DATA_IN]! & ~(1 << k);
        break;
      case 31: // resReadCopy
        s[x] = s[b + TEMPORARY] = s[b + DATA_IN]! & ~(1 << k);
        break;
      case 32: // set
        s[x] = s[x]! | (1 << k);
        break;
      case 33: // setRead
        s[b + TEMPORARY] = s[b + DATA_IN]! | (1 << k);
        break;
      case 34: // setReadCopy
        s[x] = s[b + TEMPORARY] = s[b + DATA_IN]! | (1 << k);
        break;
      case 35: // displace
        setPair(s, b + W, pairOf(s, x) + ((s[b + DATA_IN]! << 24) >> 24));
        break;
      case 36: // prefix
        s[b + PAGE] = k;
        break;
      case 37: // keepOpcode
        if (s[b + DATA_IN_UNKNOWN] !== 0) {
          loseNext(s, b, LOST_OPCODE);
          return;
        }
        s[b + TEMPORARY] = s[b + DATA_IN]!;
        break;
      case 38: // dispatch
        u = ROW_OF[k * 256 + s[b + TEMPORARY]!]!;
        continue;
      case 39: // jump
        s[b + W] = s[b + DATA_IN]!;
        s[b + PC] = pairOf(s, b + W);
        break;
      case 40: // jumpIf
        s[b + W] = s[b + DATA_IN]!;
        if (holds(s[b + F]!, k)) s[b + PC] = pairOf(s, b + W);
        break;
      case 41: // relativeIf
        s[b + TEMPORARY] = s[b + DATA_IN]!;
        if (holds(s[b + F]!, k)) break;
        u = STEP_END;
        continue;
      case 42: // relativeUnlessB
        s[b + TEMPORARY] = s[b + DATA_IN]!;
        if (s[b + B] !== 0) break;
        u = STEP_END;
        continue;
      case 43: {
        // relative
        const to = (s[b + PC]! + ((s[b + TEMPORARY]! << 24) >> 24)) & 0xffff;
        s[b + PC] = to;
        setPair(s, b + W, to);
        break;
      }
      case 44: // decB
        s[b + B] = (s[b + B]! - 1) & 0xff;
        break;
      case 45: // callIf
        s[b + W] = s[b + DATA_IN]!;
        if (holds(s[b + F]!, k)) break;
        u = STEP_END;
        continue;
      case 46: // toWz
        s[b + PC] = pairOf(s, b + W);
        break;
      case 47: // endUnless
        if (holds(s[b + F]!, k)) break;
        u = STEP_END;
        continue;
      case 48: // restart
        s[b + PC] = k * 8;
        setPair(s, b + W, k * 8);
        break;
      case 49: // port
        s[b + Z] = s[b + DATA_IN]!;
        s[b + W] = s[b + A]!;
        break;
      case 50: // afterStore
        s[b + Z] = (s[b + Z]! + 1) & 0xff;
        s[b + W] = s[b + A]!;
        break;
      case 51: {
        // input
        const v = s[b + DATA_IN]!;
        s[x] = v;
        flags(s, b, (s[b + F]! & 1) | SIGN_ZERO_PARITY[v]!);
        break;
      }
      case 52: // inputFlags
        flags(s, b, (s[b + F]! & 1) | SIGN_ZERO_PARITY[s[b + DATA_IN]!]!);
        break;
      case 53: // rrd
      case 54: {
        // rld
        const v = s[b + DATA_IN]!;
        const a = s[b + A]!;
        const low = (w & 127) === 53 ? v & 15 : v >> 4;
        s[b + TEMPORARY] = (w & 127) === 53 ? ((a & 15) << 4) | (v >> 4) : ((v << 4) & 0xf0) | (a & 15);
        s[b + A] = (a & 0xf0) | low;
        flags(s, b, (s[b + F]! & 1) | SIGN_ZERO_PARITY[s[b + A]!]!);
        break;
      }
      case 55: {
        // neg
        const v = s[b + A]!;
        s[b + A] = 0;
        arithmetic(s, b, 2, v);
        break;
      }
      case 56: // returnFrom
        s[b + W] = s[b + DATA_IN]!;
        s[b + PC] = pairOf(s, b + W);
        s[b + IFF1] = s[b + IFF2]!;
        break;
      case 57: // interruptMode
        s[b + IM] = k;
        break;
      case 58: // loadI
        s[b + I] = s[b + A]!;
        break;
      case 59: // loadR
        s[b + R] = s[b + A]!;
        break;
      case 60: // fromI
      case 61: {
        // fromR
        const v = s[b + ((w & 127) === 60 ? I : R)]!;
        s[b + A] = v;
        flags(s, b, (s[b + F]! & 1) | SIGN_ZERO[v]! | (s[b + IFF2]! << 2));
        s[b + RECENT] = 2;
        break;
      }
      case 62: // di
        s[b + IFF1] = 0;
        s[b + IFF2] = 0;
        break;
      case 63: // ei
        s[b + IFF1] = 1;
        s[b + IFF2] = 1;
        s[b + RECENT] = 1;
        break;
      case 64: // halt
        s[b + HALTED] = 1;
        s[b + PIN_CONTROL] = s[b + PIN_CONTROL]! & ~PIN_HALT;
        break;
      case 65: {
        // blockLoad
        const step = k & 1 ? -1 : 1;
        const n = s[b + A]! + s[b + TEMPORARY]!;
        const left = (pairOf(s, b + B) - 1) & 0xffff;
        setPair(s, b + B, left);
        setPair(s, b + D, pairOf(s, b + D) + step);
        setPair(s, b + H, pairOf(s, b + H) + step);
        flags(s, b, (s[b + F]! & 0xc1) | (n & 8) | ((n & 2) << 4) | (left === 0 ? 0 : 4));
        if (k < 2 || left !== 0) break;
        u = STEP_END;
        continue;
      }
      case 66: {
        // blockCompare
        const step = k & 1 ? -1 : 1;
        const v = s[b + TEMPORARY]!;
        const a = s[b + A]!;
        const r = (a - v) & 0xff;
        const half = (a ^ v ^ r) & 0x10;
        const n = r - (half >> 4);
        const left = (pairOf(s, b + B) - 1) & 0xffff;
        setPair(s, b + B, left);
        setPair(s, b + H, pairOf(s, b + H) + step);
        setPair(s, b + W, pairOf(s, b + W) + step);
        flags(
          s,
          b,
          (s[b + F]! & 1) | (SIGN_ZERO[r]! & 0xc0) | half | (n & 8) | ((n & 2) << 4) | (left === 0 ? 0 : 4) | 2,
        );
        if (k < 2 || (left !== 0 && r !== 0)) break;
        u = STEP_END;
        continue;
      }
      case 67: {
        // blockInput
        const step = k & 1 ? -1 : 1;
        const v = s[b + TEMPORARY]!;
        s[b + B] = (s[b + B]! - 1) & 0xff;
        setPair(s, b + H, pairOf(s, b + H) + step);
        blockIoFlags(s, b, v, v + ((s[b + C]! + step) & 0xff));
        if (k < 2 || s[b + B] !== 0) break;
        u = STEP_END;
        continue;
      }
      case 68: {
        // blockOutput
        const v = s[b + TEMPORARY]!;
        setPair(s, b + H, pairOf(s, b + H) + (k & 1 ? -1 : 1));
        blockIoFlags(s, b, v, v + s[b + L]!);
        if (k < 2 || s[b + B] !== 0) break;
        u = STEP_END;
        continue;
      }
      case 69: // blockOutputStart
        s[b + TEMPORARY] = s[b + DATA_IN]!;
        s[b + B] = (s[b + B]! - 1) & 0xff;
        break;
      case 70: // repeat
      case 71: {
        // repeatIo: measured behaviour, seen only when the instruction goes round again
        const back = (s[b + PC]! - 2) & 0xffff;
        s[b + PC] = back;
        setPair(s, b + W, back + 1);
        let f = (s[b + F]! & 0xd7) | ((back >> 8) & 0x28);
        if ((w & 127) === 71) {
          const count = s[b + B]!;
          let change = count;
          if (f & 1) {
            f &= ~0x10;
            if (f & 2) {
              change = count - 1;
              if ((count & 15) === 0) f |= 0x10;
            } else {
              change = count + 1;
              if ((count & 15) === 15) f |= 0x10;
            }
          }
          f ^= PARITY[change & 7]! ^ 4;
        }
        flags(s, b, f);
        break;
      }
      case 72: // vector
        if (s[b + DATA_IN_UNKNOWN] !== 0) {
          loseNext(s, b, LOST_OPCODE);
          return;
        }
        s[b + Z] = s[b + DATA_IN]!;
        s[b + W] = s[b + I]!;
        break;
      case 73: // toVector
        s[b + W] = s[b + DATA_IN]!;
        s[b + Z] = s[b + TEMPORARY]!;
        s[b + PC] = pairOf(s, b + W);
        break;
      case 74: // toNmi
        s[b + PC] = 0x66;
        setPair(s, b + W, 0x66);
        break;
      case 75: // fromWz
        s[x] = s[b + W]!;
        s[x + 1] = s[b + Z]!;
        break;
      case 76: // jumpPair
        s[b + PC] = pairOf(s, y);
        break;
    }
    switch ((w >> 7) & 31) {
      case 0: // none
        break;
      case 1: // pc
        s[b + ADDRESS] = s[b + PC]!;
        break;
      case 2: {
        // immediate
        const pc = s[b + PC]!;
        s[b + ADDRESS] = pc;
        s[b + PC] = (pc + s[b + PC_STEP]!) & 0xffff;
        break;
      }
      case 3: // pair
        s[b + ADDRESS] = pairOf(s, x);
        break;
      case 4: // pairByte
        s[b + ADDRESS] = pairOf(s, x);
        s[b + DATA_OUT] = s[y]!;
        break;
      case 5: // pairTemporary
        s[b + ADDRESS] = pairOf(s, x);
        s[b + DATA_OUT] = s[b + TEMPORARY]!;
        break;
      case 6: {
        // wzUp
        const wz = pairOf(s, b + W);
        s[b + ADDRESS] = wz;
        setPair(s, b + W, wz + 1);
        break;
      }
      case 7: {
        // wzUpByte
        const wz = pairOf(s, b + W);
        s[b + ADDRESS] = wz;
        s[b + DATA_OUT] = s[y]!;
        setPair(s, b + W, wz + 1);
        break;
      }
      case 8: // push
        s[b + ADDRESS] = pushed(s, b);
        s[b + DATA_OUT] = s[y]!;
        break;
      case 9: // pushPcHigh
        s[b + ADDRESS] = pushed(s, b);
        s[b + DATA_OUT] = s[b + PC]! >> 8;
        break;
      case 10: // pushPcLow
        s[b + ADDRESS] = pushed(s, b);
        s[b + DATA_OUT] = s[b + PC]! & 0xff;
        break;
      case 11: {
        // pop
        const sp = pairOf(s, b + SPH);
        s[b + ADDRESS] = sp;
        setPair(s, b + SPH, sp + 1);
        break;
      }
      case 12: // pairWz
        s[b + ADDRESS] = pairOf(s, x);
        setPair(s, b + W, pairOf(s, x) + 1);
        break;
      case 13: // pairWzByte
        s[b + ADDRESS] = pairOf(s, x);
        s[b + DATA_OUT] = s[y]!;
        setPair(s, b + W, pairOf(s, x) + 1);
        break;
      case 14: // portNothing
        s[b + ADDRESS] = pairOf(s, b + B);
        s[b + DATA_OUT] = s[b + VARIANT] === 0 ? 0 : 0xff;
        setPair(s, b + W, pairOf(s, b + B) + 1);
        break;
      case 15: // pairWzDown
        s[b + ADDRESS] = pairOf(s, x);
        setPair(s, b + W, pairOf(s, x) - 1);
        break;
      case 16: // portTemporaryUp
        s[b + ADDRESS] = pairOf(s, b + B);
        s[b + DATA_OUT] = s[b + TEMPORARY]!;
        setPair(s, b + W, pairOf(s, b + B) + 1);
        break;
      case 17: // portTemporaryDown
        s[b + ADDRESS] = pairOf(s, b + B);
        s[b + DATA_OUT] = s[b + TEMPORARY]!;
        setPair(s, b + W, pairOf(s, b + B) - 1);
        break;
      case 18: // wz
        s[b + ADDRESS] = pairOf(s, b + W);
        break;
      case 19: // sp
        s[b + ADDRESS] = pairOf(s, b + SPH);
        break;
    }
    const cycle = (w >> 12) & 15;
    if (cycle !== END) {
      s[b + MICRO] = u;
      s[b + COUNT] = w >> 27;
      s[b + PHASE] = FIRST_PHASE[cycle]!;
      return;
    }
    s[b + INSTRUCTION_AT] = s[b + PC]!;
    s[b + INSTRUCTIONS] = (s[b + INSTRUCTIONS]! + 1) | 0;
    s[b + PC_STEP] = 1;
    if (s[b + LATCH] !== IN_IDLE || s[b + HALTED] !== 0) {
      const next = afterInstruction(s, b);
      if (next < 0) return;
      if (next > 0) {
        u = next;
        continue;
      }
    }
    s[b + ADDRESS] = s[b + PC]!;
    s[b + PAGE] = 0;
    s[b + PHASE] = FETCH;
    return;
  }
};

const pushed = (s: Int32Array, b: number): number => {
  const sp = (pairOf(s, b + SPH) - 1) & 0xffff;
  s[b + SPH] = sp >> 8;
  s[b + SPL] = sp & 0xff;
  return sp;
};

const resumeFromHalt = (s: Int32Array, b: number): void => {
  s[b + HALTED] = 0;
  s[b + PIN_CONTROL] = s[b + PIN_CONTROL]! | PIN_HALT;
};

/**
 * What follows an instruction when requests were seen at its last T-state, or while halted: a micro-step to go on with, 0 for
 * an ordinary fetch, -1 when the processor is lost. UM0080: a non-maskable interrupt goes first; a maskable one is taken
 * when IFF1 is set, /BUSREQ is not active, and the instruction before was not EI.
 */
const afterInstruction = (s: Int32Array, b: number): number => {
  const latch = s[b + LATCH]!;
  if ((latch & IN_NMI) === 0) {
    s[b + ATTENTION] = s[b + ATTENTION]! & ~ATTENTION_NMI_PENDING;
    s[b + LATCH] = latch | IN_NMI;
    s[b + IFF1] = 0;
    begun(s, b);
    return STEP_NMI;
  }
  if (s[b + IFF1] !== 0 && (s[b + RECENT]! & 1) === 0 && (latch & IN_BUSREQ) !== 0) {
    if ((latch & (IN_INT << IN_UNKNOWN_SHIFT)) !== 0) {
      loseNext(s, b, LOST_INT);
      return -1;
    }
    if ((latch & IN_INT) === 0) {
      s[b + IFF1] = 0;
      s[b + IFF2] = 0;
      // NMOS: the flag has not yet taken IFF2 when the interrupt clears it (Zilog, Z80 family questions and answers).
      if ((s[b + RECENT]! & 2) !== 0 && s[b + VARIANT] === 0) s[b + F] = s[b + F]! & ~4;
      begun(s, b);
      const mode = s[b + IM];
      if (mode === 0) {
        s[b + PC_STEP] = 0;
        s[b + PAGE] = 0;
        return STEP_INT0;
      }
      return mode === 1 ? STEP_INT1 : STEP_INT2;
    }
  }
  return s[b + HALTED] === 0 ? 0 : STEP_HALTED;
};

const begun = (s: Int32Array, b: number): void => {
  resumeFromHalt(s, b);
  s[b + LAST_Q] = s[b + Q]!;
  s[b + Q] = 0;
  s[b + RECENT] = 0;
};
