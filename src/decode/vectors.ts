// Runs test vectors against what the fuses do, as a programmer would against the device: drive, clock, settle, compare. A
// failing vector is a sentence with its pin. Levels are 0, 1, Z (not driven) or X (not known).

import type { Finding, Result, Span } from '../base/index.ts';
import { DECODE_CODES } from './codes.ts';
import type { Explained, ExplainedOutput, Term } from './explain.ts';

/** A level at a pin. */
export type PinLevel = 0 | 1 | 'Z' | 'X';

/** A device under test: levels of its registers, by pin, as they show (or would show) at the pin. */
export interface DeviceState {
  readonly registers: ReadonlyMap<number, 0 | 1 | 'X'>;
  /** Levels at the output pins as they last settled: loops through pins remember by them. */
  readonly pins: ReadonlyMap<number, PinLevel>;
}

/** One condition that did not hold. */
export interface VectorFailure {
  readonly vector: number;
  readonly pin: number;
  readonly wanted: PinLevel;
  readonly found: PinLevel;
  readonly message: string;
}

export interface VectorRun {
  /** Vectors run and conditions compared. */
  readonly vectors: number;
  readonly compared: number;
  readonly failures: readonly VectorFailure[];
}

export interface VectorOptions {
  /** Level of inputs whose condition is X; default 0. */
  readonly defaultTest?: 0 | 1;
  /** Pin of each condition; default 1, 2, 3, ... */
  readonly pinOrder?: readonly number[];
  /** Name of the net at a pin, for messages. */
  readonly nameOf?: (pin: number) => string | undefined;
  /** Says where a vector is, such as `at address 0x8000`; gets the driven levels by pin. */
  readonly describe?: (driven: ReadonlyMap<number, 0 | 1>) => string | undefined;
}

/** A device as power leaves it. */
export function powerUp(explained: Explained): DeviceState {
  const registers = new Map<number, 0 | 1 | 'X'>();
  for (const output of registersOf(explained)) registers.set(output.pin, output.powerUp ?? 'X');
  return { registers, pins: new Map(explained.outputs.map((output) => [output.pin, 'X'])) };
}

function registersOf(explained: Explained): ExplainedOutput[] {
  return [...explained.outputs, ...explained.buried].filter((output) => output.registered);
}

/** Levels of the output pins, with the inputs driven as given and the registers as they are. */
export function settle(
  explained: Explained,
  state: DeviceState,
  driven: ReadonlyMap<number, 0 | 1>,
): { pins: Map<number, PinLevel>; state: DeviceState } {
  let registers = state.registers;
  let pins = new Map(state.pins);
  // Loops through pins settle within as many rounds as there are outputs; what still changes then is not known.
  const rounds = explained.outputs.length + 2;
  for (let round = 0; round <= rounds; round++) {
    const seen = (pin: number): 0 | 1 | 'X' => levelSeen(explained, registers, driven, pins, pin);
    const reset = sumOf(explained.reset, seen);
    if (reset !== 0) {
      const next = new Map(registers);
      for (const output of registersOf(explained)) {
        const level = output.activeLow ? 1 : 0;
        if (reset === 1) next.set(output.pin, level);
        else if (next.get(output.pin) !== level) next.set(output.pin, 'X');
      }
      registers = next;
    }
    const next = new Map<number, PinLevel>();
    for (const output of explained.outputs) {
      const enable = typeof output.enable === 'boolean' ? (output.enable ? 1 : 0) : sumOf(output.enable, seen);
      let level: PinLevel = output.registered
        ? (registers.get(output.pin) ?? 'X')
        : levelOf(output, sumOf(output.terms, seen));
      if (enable === 0) level = 'Z';
      else if (enable === 'X') level = 'X';
      if (round === rounds && pins.get(output.pin) !== level) level = 'X';
      next.set(output.pin, level);
    }
    const isSettled = [...next].every(([pin, level]) => pins.get(pin) === level);
    pins = next;
    if (isSettled) break;
  }
  return { pins, state: { registers, pins } };
}

/** The registers after a rising clock edge. */
export function clock(explained: Explained, state: DeviceState, driven: ReadonlyMap<number, 0 | 1>): DeviceState {
  const before = settle(explained, state, driven);
  const seen = (pin: number): 0 | 1 | 'X' => levelSeen(explained, before.state.registers, driven, before.pins, pin);
  const preset = sumOf(explained.preset, seen);
  const registers = new Map(before.state.registers);
  for (const output of registersOf(explained)) {
    const next = levelOf(output, sumOf(output.terms, seen));
    const set = output.activeLow ? 0 : 1;
    registers.set(output.pin, preset === 1 ? set : preset === 'X' && next !== set ? 'X' : next);
  }
  return settle(explained, { registers, pins: before.pins }, driven).state;
}

function levelSeen(
  explained: Explained,
  registers: ReadonlyMap<number, 0 | 1 | 'X'>,
  driven: ReadonlyMap<number, 0 | 1>,
  pins: ReadonlyMap<number, PinLevel>,
  pin: number,
): 0 | 1 | 'X' {
  const output = explained.outputs.find((one) => one.pin === pin) ?? explained.buried.find((one) => one.pin === pin);
  if (output?.feedbackFrom === 'register') return registers.get(pin) ?? 'X';
  const level = pins.get(pin);
  if (level === 0 || level === 1 || level === 'X') return level;
  return driven.get(pin) ?? 'X';
}

function sumOf(terms: readonly Term[], seen: (pin: number) => 0 | 1 | 'X'): 0 | 1 | 'X' {
  let isUnknown = false;
  for (const term of terms) {
    let value: 0 | 1 | 'X' = 1;
    for (const literal of term) {
      const level = seen(literal.pin);
      if (level === 'X') value = 'X';
      else if (level !== literal.level) {
        value = 0;
        break;
      }
    }
    if (value === 1) return 1;
    if (value === 'X') isUnknown = true;
  }
  return isUnknown ? 'X' : 0;
}

function levelOf(output: ExplainedOutput, sum: 0 | 1 | 'X'): 0 | 1 | 'X' {
  if (sum === 'X') return 'X';
  return output.activeLow === (sum === 1) ? 0 : 1;
}

const WANTED: Readonly<Record<string, PinLevel>> = { L: 0, H: 1, Z: 'Z' };
const MOST_LISTED = 20;

/**
 * Runs the vectors in order from power-up. `span` of a vector is where its finding points. Preload conditions (P, B) and
 * super-voltages are the programmer's own business: such vectors are passed over with a finding.
 */
export function runVectors(
  explained: Explained,
  vectors: readonly { readonly conditions: string; readonly number?: number; readonly span?: Span }[],
  options: VectorOptions = {},
): Result<VectorRun> {
  const findings: Finding[] = [];
  const failures: VectorFailure[] = [];
  let state = powerUp(explained);
  let compared = 0;
  let passedOver = 0;
  for (const [index, vector] of vectors.entries()) {
    const number = vector.number ?? index + 1;
    const conditions = [...vector.conditions].map((symbol, k) => ({ symbol, pin: options.pinOrder?.[k] ?? k + 1 }));
    if (conditions.some(({ symbol }) => /[PB2-9]/.test(symbol))) {
      passedOver++;
      continue;
    }
    const driven = new Map<number, 0 | 1>();
    let edges = 0;
    for (const { symbol, pin } of conditions) {
      const level = driveOf(symbol, options.defaultTest ?? 0);
      if (level !== undefined) driven.set(pin, level);
      if (pin === explained.clockPin && (symbol === 'C' || symbol === 'K')) edges++;
    }
    let settled = settle(explained, state, driven);
    if (edges > 0) settled = settle(explained, clock(explained, settled.state, driven), driven);
    state = settled.state;
    for (const { symbol, pin } of conditions) {
      const wanted = WANTED[symbol];
      if (wanted === undefined) continue;
      compared++;
      const found = settled.pins.get(pin) ?? (driven.has(pin) ? driven.get(pin)! : 'Z');
      if (found === wanted) continue;
      const message = failureText({ number, pin, wanted, found }, driven, options);
      failures.push({ vector: number, pin, wanted, found, message });
      if (failures.length <= MOST_LISTED)
        findings.push({
          code: 'decode/vector-fails',
          severity: DECODE_CODES['decode/vector-fails'].severity,
          message,
          where: vector.span === undefined ? [] : [vector.span],
          notes: [],
          about: [`pin ${pin}`],
        });
    }
  }
  if (failures.length > MOST_LISTED) {
    const last = findings.pop()!;
    findings.push({ ...last, notes: [{ text: `${failures.length - MOST_LISTED} more conditions fail.` }] });
  }
  if (passedOver > 0)
    findings.push({
      code: 'decode/vector-not-run',
      severity: DECODE_CODES['decode/vector-not-run'].severity,
      message: `${passedOver} vectors with preload or super-voltage conditions were not run.`,
      where: [],
      notes: [],
    });
  return { value: { vectors: vectors.length - passedOver, compared, failures }, findings };
}

function driveOf(symbol: string, defaultTest: 0 | 1): 0 | 1 | undefined {
  switch (symbol) {
    case '0':
    case 'C':
    case 'D':
      return 0;
    case '1':
    case 'K':
    case 'U':
      return 1;
    case 'X':
      return defaultTest;
    default:
      return undefined;
  }
}

const LEVEL_WORDS: Readonly<Record<string, string>> = { '0': 'low', '1': 'high', Z: 'undriven', X: 'an unknown level' };

function failureText(
  failure: { number: number; pin: number; wanted: PinLevel; found: PinLevel },
  driven: ReadonlyMap<number, 0 | 1>,
  options: VectorOptions,
): string {
  const name = options.nameOf?.(failure.pin);
  const place = options.describe?.(driven);
  const pin = name === undefined ? `pin ${failure.pin}` : `pin ${failure.pin} (${name})`;
  const wanted = LEVEL_WORDS[String(failure.wanted)]!;
  const found = failure.found === 'Z' ? 'leave it undriven' : `give ${LEVEL_WORDS[String(failure.found)]!}`;
  return `Vector ${failure.number}: ${pin} should be ${wanted}${place === undefined ? '' : ` ${place}`}, the fuses ${found}.`;
}
