// Every Z80 instruction as a row of micro-steps, built once into typed arrays. A micro-step is one word: an operation
// done on arriving (with the byte the cycle before has read), what to put on the address and data outputs, and the machine
// cycle to run. The rows say machine cycles and T-states as the maker's instruction pages do (UM0080, "Z80 instruction
// description", M cycles and T states); undocumented instructions follow the pattern of their neighbours and the measured
// vectors. This file decides which steps; execute.ts does them.

import { CYCLE } from './phases.ts';
import { A, B, C, D, E, H, IXH, IYH, L, SPH, W } from './state.ts';

/** Operations; the numbers are the cases of `execute`. x and y are register words, k a number of three bits. */
export const OP = {
  none: 0,
  /** x = byte read */
  load: 1,
  /** x = y */
  move: 2,
  /** pair x = pair y */
  movePair: 3,
  /** temporary = byte read */
  keep: 4,
  /** arithmetic k of A with register x, with the byte read */
  alu: 5,
  aluRead: 6,
  inc: 7,
  dec: 8,
  /** temporary = byte read + 1, - 1 */
  incRead: 9,
  decRead: 10,
  incPair: 11,
  decPair: 12,
  /** pair x += pair y */
  addPair: 13,
  /** HL = HL + pair y + carry, - pair y - carry */
  adcPair: 14,
  sbcPair: 15,
  /** RLCA RRCA RLA RRA by k */
  rotateA: 16,
  daa: 17,
  cpl: 18,
  scf: 19,
  ccf: 20,
  exchangeAf: 21,
  exchangeAll: 22,
  exchangeDeHl: 23,
  /** rotate k of register x; of the byte read into the temporary; the same copied to register x */
  rotate: 24,
  rotateRead: 25,
  rotateReadCopy: 26,
  bit: 27,
  bitRead: 28,
  res: 29,
  resRead: 30,
  resReadCopy: 31,
  set: 32,
  setRead: 33,
  setReadCopy: 34,
  /** WZ = pair x + displacement read */
  displace: 35,
  /** the opcode k is the page of comes next: fetch it */
  prefix: 36,
  /** temporary = byte read, an opcode: unknown bits lose the processor */
  keepOpcode: 37,
  /** go to the row of the temporary in page k */
  dispatch: 38,
  /** W = byte read; PC = WZ */
  jump: 39,
  /** the same if condition k; end either way */
  jumpIf: 40,
  /** temporary = byte read; end unless condition k */
  relativeIf: 41,
  /** temporary = byte read; end if B is 0 */
  relativeUnlessB: 42,
  /** PC += temporary; WZ = PC */
  relative: 43,
  decB: 44,
  /** W = byte read; end unless condition k */
  callIf: 45,
  /** PC = WZ */
  toWz: 46,
  /** end unless condition k */
  endUnless: 47,
  /** PC = WZ = 8 k */
  restart: 48,
  /** Z = byte read, W = A */
  port: 49,
  /** Z += 1, W = A (after a store through an absolute address or a port) */
  afterStore: 50,
  /** x = byte read, with flags; flags alone */
  input: 51,
  inputFlags: 52,
  /** nibbles between A and the byte read */
  rrd: 53,
  rld: 54,
  neg: 55,
  /** after RETN and RETI: PC = WZ, IFF1 = IFF2 */
  returnFrom: 56,
  interruptMode: 57,
  loadI: 58,
  loadR: 59,
  fromI: 60,
  fromR: 61,
  di: 62,
  ei: 63,
  halt: 64,
  /** LDI, LDD (k bit 0: down; bit 1: repeats) and their fellows */
  blockLoad: 65,
  blockCompare: 66,
  blockInput: 67,
  blockOutput: 68,
  /** B -= 1 with the byte read kept, before the write of OUTI */
  blockOutputStart: 69,
  /** PC -= 2 and what that does to flags, for loads and compares, for input and output */
  repeat: 70,
  repeatIo: 71,
  /** Z = byte read as a vector, W = I; unknown bits lose the processor */
  vector: 72,
  /** PC = WZ = byte read and temporary */
  toVector: 73,
  /** PC = WZ = 0x66 */
  toNmi: 74,
  /** after EX (SP),HL: pair x = WZ */
  fromWz: 75,
  /** PC = pair y */
  jumpPair: 76,
} as const;

/** What goes out; the numbers are the cases of `execute`. */
export const PUT = {
  none: 0,
  /** address PC */
  pc: 1,
  /** address PC, then PC + 1 */
  immediate: 2,
  /** address pair x */
  pair: 3,
  /** address pair x, byte register y */
  pairByte: 4,
  /** address pair x, byte temporary */
  pairTemporary: 5,
  /** address WZ, then WZ + 1 */
  wzUp: 6,
  /** address WZ, byte register y, then WZ + 1 */
  wzUpByte: 7,
  /** SP - 1, address SP, byte register y */
  push: 8,
  pushPcHigh: 9,
  pushPcLow: 10,
  /** address SP, then SP + 1 */
  pop: 11,
  /** address pair x, WZ = pair x + 1 */
  pairWz: 12,
  /** the same with byte register y */
  pairWzByte: 13,
  /** address BC, WZ = BC + 1, byte 0 (NMOS) or 0xFF (CMOS) */
  portNothing: 14,
  /** address pair x, WZ = pair x - 1 */
  pairWzDown: 15,
  /** address BC, byte temporary, WZ = BC + 1 */
  portTemporaryUp: 16,
  portTemporaryDown: 17,
  /** address WZ; address SP */
  wz: 18,
  sp: 19,
} as const;

/** Pages of opcodes. */
export const PAGE = { main: 0, cb: 1, ed: 2, ix: 3, iy: 4, ixBit: 5, iyBit: 6 } as const;

type Put = readonly [what: number, x?: number, y?: number];
interface Act {
  readonly op: number;
  readonly x?: number;
  readonly y?: number;
  readonly k?: number;
}

const words: number[] = [];
const step = (act: Act | undefined, put: Put | undefined, cycle: keyof typeof CYCLE, count = 0): number => {
  const op = act?.op ?? OP.none;
  const what = put?.[0] ?? PUT.none;
  const x = act?.x ?? put?.[1] ?? 0;
  const y = act?.y ?? put?.[2] ?? 0;
  return op | (what << 7) | (CYCLE[cycle] << 12) | (x << 16) | (y << 20) | ((act?.k ?? 0) << 24) | (count << 27);
};
const row = (...steps: readonly number[]): number => {
  const start = words.length;
  words.push(...steps);
  return start;
};

const act = (op: keyof typeof OP, fields: Omit<Act, 'op'> = {}): Act => ({ op: OP[op], ...fields });
const end = (what?: Act): number => step(what, undefined, 'end');
const extra = (count: number, what?: Act): number => step(what, undefined, 'extra', count);
const internal = (count: number, what?: Act): number => step(what, undefined, 'internal', count);
const immediate = (what?: Act): number => step(what, [PUT.immediate], 'memoryRead');
const read = (put: Put, what?: Act): number => step(what, put, 'memoryRead');
const write = (put: Put, what?: Act): number => step(what, put, 'memoryWrite');
const pop = (what?: Act): number => read([PUT.pop], what);
const push = (register: number): number => write([PUT.push, 0, register]);
const pushPc = (): readonly number[] => [write([PUT.pushPcHigh]), write([PUT.pushPcLow])];

/** The micro-step that ends an instruction. */
export const STEP_END: number = row(end());
/** Start of a non-maskable interrupt (UM0080 figure 10: a fetch whose byte is ignored, then as a restart). */
export const STEP_NMI: number = row(step(undefined, [PUT.pc], 'idleFetch'), extra(1), ...pushPc(), end(act('toNmi')));
/** Start of an interrupt in each mode (figure 9, and "interrupt response"). */
export const STEP_INT0: number = row(step(undefined, [PUT.pc], 'acknowledgeOpcode'));
export const STEP_INT1: number = row(
  step(undefined, [PUT.pc], 'acknowledge'),
  extra(1),
  ...pushPc(),
  end(act('restart', { k: 7 })),
);
export const STEP_INT2: number = row(
  step(undefined, [PUT.pc], 'acknowledge'),
  extra(1, act('vector')),
  ...pushPc(),
  read([PUT.wzUp]),
  read([PUT.wz], act('keep')),
  end(act('toVector')),
);
/** One no-operation of a halted processor (figure 11). */
export const STEP_HALTED: number = row(step(undefined, [PUT.pc], 'haltedFetch'), end());

const REGISTERS = [B, C, D, E, H, L, -1, A];
const PAIRS = [B, D, H, SPH];

/** Rows of the main page, or of a page where HL is an index register. */
const mainRow = (opcode: number, index: number, bitPage: number): number => {
  const indexed = index !== H;
  const y = (opcode >> 3) & 7;
  const z = opcode & 7;
  const p = y >> 1;
  // H and L mean halves of the index register, save where the instruction also has (IX+d).
  const plain = (code: number): number => REGISTERS[code]!;
  const reg = (code: number): number => (code === 4 ? index : code === 5 ? index + 1 : plain(code));
  const pair = (code: number): number => (code === 2 ? index : PAIRS[code]!);
  const pushed = (code: number): number => (code === 3 ? A : pair(code));
  const memory = indexed ? W : H;
  // (IX+d): the displacement is read, then five clocks go by.
  const where = (): readonly number[] => (indexed ? [immediate(), internal(5, act('displace', { x: index }))] : []);

  switch (opcode >> 6) {
    case 0:
      switch (z) {
        case 0:
          if (y === 0) return row(end());
          if (y === 1) return row(end(act('exchangeAf')));
          if (y === 2)
            return row(extra(1, act('decB')), immediate(), internal(5, act('relativeUnlessB')), end(act('relative')));
          if (y === 3) return row(immediate(), internal(5, act('keep')), end(act('relative')));
          return row(immediate(), internal(5, act('relativeIf', { k: y - 4 })), end(act('relative')));
        case 1:
          if (y & 1) return row(internal(4), internal(3), end(act('addPair', { x: index, y: pair(p) })));
          return row(immediate(), immediate(act('load', { x: pair(p) + 1 })), end(act('load', { x: pair(p) })));
        case 2: {
          if (y < 4) {
            if (y & 1) return row(read([PUT.pairWz, pair(p)]), end(act('load', { x: A })));
            return row(write([PUT.pairWzByte, pair(p), A]), end(act('move', { x: W, y: A })));
          }
          const address = [immediate(), immediate(act('load', { x: W + 1 }))];
          const high = act('load', { x: W });
          if (y === 4)
            return row(...address, write([PUT.wzUpByte, 0, index + 1], high), write([PUT.pairByte, W, index]), end());
          if (y === 5)
            return row(
              ...address,
              read([PUT.wzUp], high),
              read([PUT.wz], act('load', { x: index + 1 })),
              end(act('load', { x: index })),
            );
          if (y === 6) return row(...address, write([PUT.pairByte, W, A], high), end(act('afterStore')));
          return row(...address, read([PUT.wzUp], high), end(act('load', { x: A })));
        }
        case 3:
          return row(extra(2, act(y & 1 ? 'decPair' : 'incPair', { x: pair(p) })), end());
        case 4:
        case 5:
          if (y !== 6) return row(end(act(z === 4 ? 'inc' : 'dec', { x: reg(y) })));
          return row(
            ...where(),
            read([PUT.pair, memory]),
            extra(1, act(z === 4 ? 'incRead' : 'decRead')),
            write([PUT.pairTemporary, memory]),
            end(),
          );
        case 6:
          if (y !== 6) return row(immediate(), end(act('load', { x: reg(y) })));
          if (!indexed) return row(immediate(), write([PUT.pairTemporary, H], act('keep', { x: H })), end());
          return row(
            immediate(),
            immediate(act('displace', { x: index })),
            extra(2, act('keep')),
            write([PUT.pairTemporary, W]),
            end(),
          );
        default:
          if (y < 4) return row(end(act('rotateA', { k: y })));
          return row(end(act((['daa', 'cpl', 'scf', 'ccf'] as const)[y - 4]!)));
      }
    case 1:
      if (opcode === 0x76) return row(end(act('halt')));
      if (z === 6) return row(...where(), read([PUT.pair, memory]), end(act('load', { x: plain(y) })));
      if (y === 6) return row(...where(), write([PUT.pairByte, memory, plain(z)]), end());
      return row(end(act('move', { x: reg(y), y: reg(z) })));
    case 2:
      if (z === 6) return row(...where(), read([PUT.pair, memory]), end(act('aluRead', { k: y })));
      return row(end(act('alu', { x: reg(z), k: y })));
    default:
      switch (z) {
        case 0:
          return row(extra(1), pop(act('endUnless', { k: y })), pop(act('load', { x: W + 1 })), end(act('jump')));
        case 1:
          if ((y & 1) === 0) {
            const high = pushed(p);
            return row(pop(), pop(act('load', { x: high + 1 })), end(act('load', { x: high })));
          }
          if (p === 0) return row(pop(), pop(act('load', { x: W + 1 })), end(act('jump')));
          if (p === 1) return row(end(act('exchangeAll')));
          if (p === 2) return row(end(act('jumpPair', { y: index })));
          return row(extra(2, act('movePair', { x: SPH, y: index })), end());
        case 2:
          return row(immediate(), immediate(act('load', { x: W + 1 })), end(act('jumpIf', { k: y })));
        case 3:
          if (y === 0) return row(immediate(), immediate(act('load', { x: W + 1 })), end(act('jump')));
          if (y === 1) {
            if (!indexed) return row(step(act('prefix', { k: PAGE.cb }), [PUT.pc], 'fetch'));
            return row(
              immediate(),
              immediate(act('displace', { x: index })),
              extra(2, act('keepOpcode')),
              end(act('dispatch', { k: bitPage })),
            );
          }
          if (y === 2)
            return row(
              immediate(),
              step(act('port', { x: W, y: A }), [PUT.pairByte, W, A], 'ioWrite'),
              end(act('afterStore')),
            );
          if (y === 3) return row(immediate(), step(act('port'), [PUT.wzUp], 'ioRead'), end(act('load', { x: A })));
          if (y === 4)
            return row(
              pop(),
              read([PUT.sp], act('load', { x: W + 1 })),
              extra(1, act('load', { x: W })),
              write([PUT.pairByte, SPH, index]),
              push(index + 1),
              extra(2),
              end(act('fromWz', { x: index })),
            );
          if (y === 5) return row(end(act('exchangeDeHl')));
          return row(end(act(y === 6 ? 'di' : 'ei')));
        case 4:
          return row(
            immediate(),
            immediate(act('load', { x: W + 1 })),
            extra(1, act('callIf', { k: y })),
            ...pushPc(),
            end(act('toWz')),
          );
        case 5:
          if ((y & 1) === 0) return row(extra(1), push(pushed(p)), push(pushed(p) + 1), end());
          if (p === 0)
            return row(
              immediate(),
              immediate(act('load', { x: W + 1 })),
              extra(1, act('load', { x: W })),
              ...pushPc(),
              end(act('toWz')),
            );
          return row(step(act('prefix', { k: p === 1 ? PAGE.ix : p === 2 ? PAGE.ed : PAGE.iy }), [PUT.pc], 'fetch'));
        case 6:
          return row(immediate(), end(act('aluRead', { k: y })));
        default:
          return row(extra(1), ...pushPc(), end(act('restart', { k: y })));
      }
  }
};

const cbRow = (opcode: number): number => {
  const kind = opcode >> 6;
  const k = (opcode >> 3) & 7;
  const x = REGISTERS[opcode & 7]!;
  if (x >= 0) return row(end(act((['rotate', 'bit', 'res', 'set'] as const)[kind]!, { x, k })));
  if (kind === 1) return row(read([PUT.pair, H]), extra(1, act('bitRead', { k })), end());
  return row(
    read([PUT.pair, H]),
    extra(1, act((['rotateRead', 'bitRead', 'resRead', 'setRead'] as const)[kind]!, { k })),
    write([PUT.pairTemporary, H]),
    end(),
  );
};

/** DD CB d op and FD CB d op: the address is in WZ; the result also goes to a register unless its code is 6. */
const indexBitRow = (opcode: number): number => {
  const kind = opcode >> 6;
  const k = (opcode >> 3) & 7;
  const x = REGISTERS[opcode & 7]!;
  if (kind === 1) return row(read([PUT.pair, W]), extra(1, act('bitRead', { k })), end());
  const plain = (['rotateRead', 'bitRead', 'resRead', 'setRead'] as const)[kind]!;
  const copy = (['rotateReadCopy', 'bitRead', 'resReadCopy', 'setReadCopy'] as const)[kind]!;
  return row(
    read([PUT.pair, W]),
    extra(1, x < 0 ? act(plain, { k }) : act(copy, { k, x })),
    write([PUT.pairTemporary, W]),
    end(),
  );
};

const edRow = (opcode: number): number => {
  const y = (opcode >> 3) & 7;
  const z = opcode & 7;
  const p = y >> 1;
  if (opcode >> 6 === 1) {
    switch (z) {
      case 0:
        return row(
          step(undefined, [PUT.pairWz, B], 'ioRead'),
          end(y === 6 ? act('inputFlags') : act('input', { x: REGISTERS[y]! })),
        );
      case 1:
        return row(step(undefined, y === 6 ? [PUT.portNothing] : [PUT.pairWzByte, B, REGISTERS[y]!], 'ioWrite'), end());
      case 2:
        return row(internal(4), internal(3), end(act(y & 1 ? 'adcPair' : 'sbcPair', { y: PAIRS[p]! })));
      case 3: {
        const address = [immediate(), immediate(act('load', { x: W + 1 }))];
        const high = act('load', { x: W });
        const pair = PAIRS[p]!;
        if (y & 1)
          return row(
            ...address,
            read([PUT.wzUp], high),
            read([PUT.wz], act('load', { x: pair + 1 })),
            end(act('load', { x: pair })),
          );
        return row(...address, write([PUT.wzUpByte, 0, pair + 1], high), write([PUT.pairByte, W, pair]), end());
      }
      case 4:
        return row(end(act('neg')));
      case 5:
        return row(pop(), pop(act('load', { x: W + 1 })), end(act('returnFrom')));
      case 6:
        return row(end(act('interruptMode', { k: [0, 0, 1, 2][y & 3]! })));
      default:
        if (y < 2) return row(extra(1), end(act(y === 0 ? 'loadI' : 'loadR')));
        if (y < 4) return row(extra(1), end(act(y === 2 ? 'fromI' : 'fromR')));
        if (y < 6)
          return row(
            read([PUT.pairWz, H]),
            internal(4, act(y === 4 ? 'rrd' : 'rld')),
            write([PUT.pairTemporary, H]),
            end(),
          );
        return row(end());
    }
  }
  if (opcode >> 6 === 2 && z < 4 && y >= 4) {
    const down = y & 1;
    const repeats = y >= 6;
    const k = down | (repeats ? 2 : 0);
    const last = (op: keyof typeof OP, again: 'repeat' | 'repeatIo'): readonly number[] =>
      repeats ? [internal(5, act(op, { k })), end(act(again))] : [end(act(op, { k }))];
    // The operation of a repeating one ends the instruction itself the last time round.
    switch (z) {
      case 0:
        return row(
          read([PUT.pair, H]),
          write([PUT.pairTemporary, D], act('keep', { x: D })),
          extra(2),
          ...last('blockLoad', 'repeat'),
        );
      case 1:
        return row(read([PUT.pair, H]), internal(5, act('keep')), ...last('blockCompare', 'repeat'));
      case 2:
        return row(
          extra(1),
          step(undefined, [down ? PUT.pairWzDown : PUT.pairWz, B], 'ioRead'),
          write([PUT.pairTemporary, H], act('keep', { x: H })),
          ...last('blockInput', 'repeatIo'),
        );
      default:
        return row(
          extra(1),
          read([PUT.pair, H]),
          step(act('blockOutputStart'), [down ? PUT.portTemporaryDown : PUT.portTemporaryUp], 'ioWrite'),
          ...last('blockOutput', 'repeatIo'),
        );
    }
  }
  return row(end());
};

const starts = new Int32Array(7 * 256);
for (let opcode = 0; opcode < 256; opcode++) {
  starts[PAGE.main * 256 + opcode] = mainRow(opcode, H, 0);
  starts[PAGE.cb * 256 + opcode] = cbRow(opcode);
  starts[PAGE.ed * 256 + opcode] = edRow(opcode);
  starts[PAGE.ix * 256 + opcode] = mainRow(opcode, IXH, PAGE.ixBit);
  starts[PAGE.iy * 256 + opcode] = mainRow(opcode, IYH, PAGE.iyBit);
  const bits = indexBitRow(opcode);
  starts[PAGE.ixBit * 256 + opcode] = bits;
  starts[PAGE.iyBit * 256 + opcode] = bits;
}

/** First micro-step of each opcode, at page * 256 + opcode. */
export const ROW_OF: Int32Array = starts;
/** The micro-steps: bits 0-6 OP, 7-11 PUT, 12-15 CYCLE, 16-19 x, 20-23 y, 24-26 k, 27-29 T-states. */
export const MICROCODE: Int32Array = Int32Array.from(words);
