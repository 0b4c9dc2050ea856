// Holds the Z80 model against single-step vectors: registers, memory and ports before and after one instruction, and the bus
// by clock. The form: `initial` and `final` hold registers by name (wz, q, p, ei are internal), `ram` pairs, `cycles`
// [address, data or null, "rwmi" flags] once a T-state, `ports` [address, value, "r" or "w"].
// How the half clocks here become that sampling: a T-state is looked at in its second half; a read or write request
// is said in the last T-state in whose second half its strobe is low; a byte written stands in that T-state, a byte read in the next.

import type { VectorCase, VectorOptions } from '../vector.ts';
import {
  A,
  ALTERNATE,
  B,
  C,
  D,
  E,
  F,
  H,
  I,
  IFF1,
  IFF2,
  IM,
  IN_IDLE,
  INSTRUCTIONS,
  IXH,
  IXL,
  IYH,
  IYL,
  L,
  LOST,
  PC,
  PIN_ADDRESS,
  PIN_CONTROL,
  PIN_DATA,
  PIN_IORQ,
  PIN_MREQ,
  PIN_RD,
  PIN_WR,
  Q,
  R,
  RECENT,
  SPH,
  SPL,
  W,
  Z,
  Z80_WORDS,
} from './state.ts';
import { beginAt, powerUp, step } from './step.ts';

type Registers = Readonly<Record<string, unknown>>;

const SINGLE: readonly (readonly [string, number])[] = [
  ['a', A],
  ['b', B],
  ['c', C],
  ['d', D],
  ['e', E],
  ['f', F],
  ['h', H],
  ['l', L],
  ['i', I],
  ['r', R],
  ['im', IM],
  ['iff1', IFF1],
  ['iff2', IFF2],
];
const DOUBLE: readonly (readonly [string, number, number])[] = [
  ['ix', IXH, IXL],
  ['iy', IYH, IYL],
  ['sp', SPH, SPL],
  ['wz', W, Z],
  ['af_', ALTERNATE + A, ALTERNATE + F],
  ['bc_', ALTERNATE + B, ALTERNATE + C],
  ['de_', ALTERNATE + D, ALTERNATE + E],
  ['hl_', ALTERNATE + H, ALTERNATE + L],
];

const isPairs = (value: unknown, length: number): value is readonly (readonly unknown[])[] =>
  Array.isArray(value) && value.every((row) => Array.isArray(row) && row.length >= length);
const isRecord = (value: unknown): value is Readonly<Record<string, unknown>> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
const hex = (value: unknown): string => (typeof value === 'number' ? value.toString(16) : String(value));

/** The longest instruction has 23 T-states; a model that needs more than this is stuck. */
const MOST_CLOCKS = 64;

const memory = new Uint8Array(65536);

/** Runs one vector on an NMOS Z80; returns what differs, in words, nothing when all agrees. */
export const runZ80Vector = (vector: VectorCase, options: VectorOptions): readonly string[] => {
  const { initial, final, cycles } = vector;
  const ports = vector['ports'] ?? [];
  if (!isRecord(initial) || !isRecord(final) || !isPairs(initial['ram'], 2) || !isPairs(final['ram'], 2))
    return ['not a vector: initial and final with ram are needed'];
  if (!isPairs(ports, 3)) return ['not a vector: ports are rows of three'];
  const s = new Int32Array(Z80_WORDS);
  powerUp(s, 0, { technology: 'NMOS' });
  const start = loadRegisters(s, initial);
  if (typeof start === 'string') return [start];
  beginAt(s, 0, start);
  memory.fill(0);
  for (const [at, value] of initial['ram']) memory[Number(at) & 0xffff] = Number(value);

  const differences: string[] = [];
  const seen: [number, number | null, string][] = [];
  const portsSeen: (readonly [number, number, string])[] = [];
  const portsLeft = [...ports];
  let read: number | null = null;
  while (s[INSTRUCTIONS] === 0 && seen.length < MOST_CLOCKS) {
    for (let half = 0; half < 2; half++) {
      const control = s[PIN_CONTROL]!;
      const address = s[PIN_ADDRESS]!;
      let data = 0xff;
      if ((control & PIN_RD) === 0) {
        if ((control & PIN_MREQ) === 0) data = memory[address]!;
        else {
          const row = portsLeft.find((port) => port[2] === 'r');
          data = row === undefined ? 0xff : Number(row[1]);
        }
      }
      const written = s[PIN_DATA]! & 0xff;
      step(s, 0, data, 0, IN_IDLE);
      const rising = ~control & s[PIN_CONTROL]!;
      if (rising & PIN_WR) {
        if ((control & PIN_MREQ) === 0) memory[address] = written;
        else portsSeen.push([address, written, 'w']);
        if (seen.length > 0) {
          const last = seen[seen.length - 1]!;
          last[1] = written;
          last[2] = (control & PIN_MREQ) === 0 ? '-wm-' : '-w-i';
        }
      }
      if (rising & PIN_RD) {
        const last = seen[seen.length - 1];
        if (last !== undefined) last[2] = (control & PIN_MREQ) === 0 ? 'r-m-' : 'r--i';
        if ((control & PIN_IORQ) === 0) {
          portsSeen.push([address, data, 'r']);
          const index = portsLeft.findIndex((port) => port[2] === 'r');
          if (index >= 0) portsLeft.splice(index, 1);
        }
        read = data;
      }
      if (half === 1) {
        seen.push([s[PIN_ADDRESS]!, read, '----']);
        read = null;
      }
    }
  }
  if (s[LOST] !== 0) differences.push('the processor is lost');
  compareRegisters(s, final, differences);
  for (const [at, value] of final['ram'])
    if (memory[Number(at) & 0xffff] !== value)
      differences.push(`memory ${hex(at)}: ${hex(memory[Number(at) & 0xffff])}, not ${hex(value)}`);
  const told = JSON.stringify(portsSeen);
  if (told !== JSON.stringify(ports)) differences.push(`ports ${told}, not ${JSON.stringify(ports)}`);
  if (options.cycles) {
    if (!isPairs(cycles, 3)) differences.push('not a vector: no cycles');
    else {
      if (cycles.length !== seen.length) differences.push(`${seen.length} clocks, not ${cycles.length}`);
      cycles.forEach((cycle, index) => {
        const ours = seen[index];
        if (ours !== undefined && JSON.stringify(ours) !== JSON.stringify(cycle))
          differences.push(`clock ${index + 1}: ${JSON.stringify(ours)}, not ${JSON.stringify(cycle)}`);
      });
    }
  }
  return differences;
};

/** Loads registers by name; the address to begin at, or what is wrong. */
const loadRegisters = (s: Int32Array, given: Registers): number | string => {
  const number = (name: string): number | undefined => {
    const value = given[name];
    return typeof value === 'number' && Number.isInteger(value) ? value : undefined;
  };
  for (const [name, at] of SINGLE) {
    const value = number(name);
    if (value === undefined) return `not a vector: no register ${name}`;
    s[at] = value;
  }
  for (const [name, high, low] of DOUBLE) {
    const value = number(name);
    if (value === undefined) return `not a vector: no register ${name}`;
    s[high] = (value >> 8) & 0xff;
    s[low] = value & 0xff;
  }
  s[Q] = number('q') ?? 0;
  s[RECENT] = (number('ei') ?? 0) | ((number('p') ?? 0) << 1);
  return number('pc') ?? 'not a vector: no register pc';
};

const compareRegisters = (s: Int32Array, wanted: Registers, differences: string[]): void => {
  const compare = (name: string, value: number): void => {
    if (wanted[name] !== undefined && wanted[name] !== value)
      differences.push(`${name}: ${hex(value)}, not ${hex(wanted[name])}`);
  };
  for (const [name, at] of SINGLE) compare(name, s[at]!);
  for (const [name, high, low] of DOUBLE) compare(name, (s[high]! << 8) | s[low]!);
  compare('pc', s[PC]!);
  compare('q', s[Q]!);
  compare('ei', s[RECENT]! & 1);
  compare('p', s[RECENT]! >> 1);
};
