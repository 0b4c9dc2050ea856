// From fuses to equations: what a programmed device does, in product terms over levels at its pins. This is the reading
// side: it checks what the writing side made, and reads files that others made, so it shares no code with fitting and
// writing. The pin is the sum of its terms, inverted where `activeLow`.

import type { Finding, Result, Span } from '../base/index.ts';
import { DECODE_CODES, type DecodeCode } from './codes.ts';
import { type ReadMap, readMap22V10, readMapV8, terms22V10 } from './explain-map.ts';

/** One input of a product term: true while the pin has this level. */
export interface Literal {
  readonly pin: number;
  readonly level: 0 | 1;
  /**
   * Present where the array sees the output's register and the pin may be at another level because its own enable terms
   * switch it off. `level` is then the level that the pin would have if it were enabled.
   */
  readonly feedback?: true;
}

/** Literals that must all hold; the empty term is always true. Sorted by pin. */
export type Term = readonly Literal[];

export interface ExplainedOutput {
  readonly pin: number;
  readonly registered: boolean;
  readonly activeLow: boolean;
  /** true: always driven; false: never; terms: driven while one of them holds. */
  readonly enable: boolean | readonly Term[];
  /** Their sum; no term at all is false. For a registered output the sum that the next clock edge takes over. */
  readonly terms: readonly Term[];
  /** What the array sees of this output. */
  readonly feedbackFrom: 'none' | 'pin' | 'register';
  /** Level at the pin after power comes up, where the output is registered. From memory and the data sheets' power-on reset. */
  readonly powerUp?: 0 | 1;
}

export interface Explained {
  readonly device: '16V8' | '20V8' | '22V10';
  readonly mode: 'simple' | 'complex' | 'registered' | 'cells';
  /** Number of fuses of the file. */
  readonly fuses: number;
  /** Outputs that drive their pin at some time, highest pin first. */
  readonly outputs: readonly ExplainedOutput[];
  /** Registers whose pin is never driven but which the array may see. */
  readonly buried: readonly ExplainedOutput[];
  /** Pin whose rising edge clocks the registers, where there are any. */
  readonly clockPin: number | undefined;
  /** While one of these holds every register is reset, at once (22V10). */
  readonly reset: readonly Term[];
  /** While one of these holds the next clock edge sets every register (22V10). */
  readonly preset: readonly Term[];
  /** The eight signature bytes as text, unprintable ones as dots; undefined where the file has none. */
  readonly signature: string | undefined;
}

/** Reads the fuses of `device`. `span` is the place that findings point at. */
export function explainFuses(
  fuses: Uint8Array,
  device: '16V8' | '20V8' | '22V10',
  span?: Span,
): Result<Explained | undefined> {
  const findings: Finding[] = [];
  const report: Report = (code, message, extra) => {
    findings.push({
      code,
      severity: DECODE_CODES[code].severity,
      message,
      where: span === undefined ? [] : [span],
      notes: [],
      ...extra,
    });
  };
  const sizes = SIZES[device];
  if (!sizes.includes(fuses.length)) {
    const others = (['16V8', '20V8', '22V10'] as const).filter((name) => SIZES[name].includes(fuses.length));
    report(
      'decode/wrong-device',
      `The file has ${fuses.length} fuses; a ${device} has ${sizes[0]}.`,
      others.length > 0
        ? { help: `A ${others[0]} has that many: choose that device or another file.` }
        : { help: 'Choose the file that was made for this device.' },
    );
    return { value: undefined, findings };
  }
  if (fuses.length === sizes[0]! + 1)
    report('decode/power-down-fuse', `The file has the extra fuse ${sizes[0]} of parts with a power-down pin.`, {
      notes: [{ text: 'In such a part, pin 4 may then switch the device off instead of being an input. From memory.' }],
      help: `Choose a file with ${sizes[0]} fuses where pin 4 is an input.`,
      about: ['pin 4'],
    });
  const value = device === '22V10' ? explain22V10(fuses, report) : explainV8(fuses, device, report);
  return { value, findings };
}

type Report = (code: DecodeCode, message: string, extra?: Partial<Finding>) => void;

/** Fuse counts that occur: the plain one first, then with a power-down fuse, or without signature. */
const SIZES: Readonly<Record<'16V8' | '20V8' | '22V10', readonly number[]>> = {
  '16V8': [2194, 2195],
  '20V8': [2706, 2707],
  '22V10': [5892, 5828, 5893],
};

type Seen = (pin: number, level: 0 | 1) => Literal;

/** A row as a term, or undefined where it holds both levels of some pin and so is never true. */
function readRow(fuses: Uint8Array, row: number, map: ReadMap, seen: Seen): Term | undefined {
  const width = 2 * (map.left.length + map.right.length);
  const literals: Literal[] = [];
  for (let pair = 0; pair < width / 2; pair++) {
    const isTrue = fuses[row * width + 2 * pair] === 0;
    const isComplement = fuses[row * width + 2 * pair + 1] === 0;
    if (isTrue && isComplement) return undefined;
    const pin = (pair % 2 === 0 ? map.left : map.right)[pair >> 1]!;
    if (isTrue) literals.push(seen(pin, 1));
    if (isComplement) literals.push(seen(pin, 0));
  }
  return literals.sort((a, b) => a.pin - b.pin);
}

function readRows(fuses: Uint8Array, rows: readonly number[], map: ReadMap, seen: Seen): Term[] {
  return rows.map((row) => readRow(fuses, row, map, seen)).filter((term) => term !== undefined);
}

function enableOf(term: Term | undefined): boolean | Term[] {
  if (term === undefined) return false;
  return term.length === 0 ? true : [term];
}

const count = (first: number, length: number): number[] => Array.from({ length }, (_, i) => first + i);

function explainV8(fuses: Uint8Array, device: '16V8' | '20V8', report: Report): Explained | undefined {
  const pins = device === '16V8' ? 20 : 24;
  const array = device === '16V8' ? 2048 : 2560; // then 8 polarity, 64 signature, 8 type, 64 row, 2 mode fuses
  const isSyn = fuses[array + 144] === 1;
  const isAc0 = fuses[array + 145] === 1;
  if (!isSyn && !isAc0) {
    report('decode/illegal-mode', `The mode fuses ${array + 144} and ${array + 145} are both 0, which is no mode.`, {
      help: 'Check that the file was made for this device; do not program it.',
    });
    return undefined;
  }
  const mode = isSyn ? (isAc0 ? 'complex' : 'simple') : 'registered';
  const map = readMapV8(pins, mode);
  const enablePin = pins === 20 ? 11 : 13;
  const outputs: ExplainedOutput[] = [];
  const plain: Seen = (pin, level) => ({ pin, level });
  const simpleOutputs = new Set<number>();
  for (const [index, pin] of map.outputs.entries()) {
    const isType1 = fuses[array + 72 + index] === 1;
    if (mode === 'simple' && isType1) continue; // an input
    const isRegistered = mode === 'registered' && !isType1;
    const hasEnableRow = mode !== 'simple' && !isRegistered;
    const rows = count(8 * index, 8);
    const used = rows.filter((row) => fuses[array + 80 + row] === 1);
    warnDisabledRows(fuses, rows, array, map, pin, report);
    let enable: boolean | readonly Term[] = true;
    if (hasEnableRow) {
      const row = rows[0]!;
      enable = used.includes(row) ? enableOf(readRow(fuses, row, map, plain)) : false;
    } else if (isRegistered) enable = [[{ pin: enablePin, level: 0 }]];
    const terms = readRows(fuses, hasEnableRow ? used.filter((row) => row !== rows[0]) : used, map, plain);
    const isSeen = map.right.includes(pin);
    const output: ExplainedOutput = {
      pin,
      registered: isRegistered,
      activeLow: fuses[array + index] === 0,
      enable,
      terms,
      feedbackFrom: isRegistered ? 'register' : isSeen && mode !== 'simple' ? 'pin' : 'none',
      // The polarity gate stands before the register here, and the pin takes the register inverted: high either way.
      ...(isRegistered ? { powerUp: 1 as const } : {}),
    };
    if (mode === 'simple' && isSeen) simpleOutputs.add(pin);
    if (warnOutput(output, report)) outputs.push(output);
  }
  for (const output of outputs)
    for (const pin of simpleOutputs)
      if (output.terms.some((term) => term.some((literal) => literal.pin === pin)))
        report('decode/output-read-back', `Pin ${output.pin} reads pin ${pin}, an output in simple mode.`, {
          notes: [{ text: 'Descriptions of the part differ on whether such an output can be read back.' }],
          help: 'Repeat the terms of that output instead, or use complex mode.',
          about: [`pin ${output.pin}`, `pin ${pin}`],
        });
  return {
    device,
    mode,
    fuses: fuses.length,
    outputs: outputs.sort((a, b) => b.pin - a.pin),
    buried: [],
    clockPin: outputs.some((output) => output.registered) ? 1 : undefined,
    reset: [],
    preset: [],
    signature: signatureAt(fuses, array + 8),
  };
}

/** Says so where a row that the file fills in is switched off by its row fuse. */
function warnDisabledRows(
  fuses: Uint8Array,
  rows: readonly number[],
  array: number,
  map: ReadMap,
  pin: number,
  report: Report,
): void {
  const off = rows.filter((row) => {
    if (fuses[array + 80 + row] === 1) return false;
    const term = readRow(fuses, row, map, (p, level) => ({ pin: p, level }));
    return term !== undefined && term.length > 0;
  });
  if (off.length === 0) return;
  const what = off.length === 1 ? 'One term' : `${off.length} terms`;
  report(
    'decode/terms-disabled',
    `${what} of pin ${pin} ${off.length === 1 ? 'is' : 'are'} switched off by row fuses.`,
    {
      notes: [{ text: `Rows ${off.join(', ')}: their fuses from ${array + 80} on are 0.` }],
      help: 'If the terms are meant to count, the file lacks those fuses.',
      about: [`pin ${pin}`],
    },
  );
}

/** Remarks on one output; false where it never drives its pin. */
function warnOutput(output: ExplainedOutput, report: Report): boolean {
  const about = [`pin ${output.pin}`];
  if (output.enable === false) {
    if (output.terms.length > 0)
      report('decode/never-enabled', `Pin ${output.pin} has terms, but its enable row is never true.`, {
        notes: [
          { text: 'An output needs its enable row written, all fuses 1 for always; a row left out is never true.' },
        ],
        help: output.registered
          ? 'Fine for a register that is only used inside; otherwise the file lacks the row.'
          : 'The file lacks the row.',
        about,
      });
    return false;
  }
  if (!output.registered && output.terms.length === 0 && output.enable === true)
    report(
      'decode/constant-output',
      `Pin ${output.pin} has no terms and is driven ${output.activeLow ? 'high' : 'low'} all the time.`,
      {
        help: 'If the pin is meant to be unused, nothing else may be connected to it.',
        about,
      },
    );
  return true;
}

function signatureAt(fuses: Uint8Array, first: number): string | undefined {
  if (first + 64 > fuses.length) return undefined;
  let text = '';
  for (let byte = 0; byte < 8; byte++) {
    let code = 0;
    for (let bit = 0; bit < 8; bit++) code = code * 2 + fuses[first + byte * 8 + bit]!;
    text += code >= 0x20 && code <= 0x7e ? String.fromCharCode(code) : '.';
  }
  return text;
}

function explain22V10(fuses: Uint8Array, report: Report): Explained {
  const map = readMap22V10();
  const config = 5808; // 132 rows of 44
  const isRegistered = (index: number): boolean => fuses[config + 2 * index + 1] === 0;
  const isLow = (index: number): boolean => fuses[config + 2 * index] === 0;
  const enableRows = map.outputs.map((_, index) => {
    let row = 1;
    for (let before = 0; before < index; before++) row += 1 + terms22V10(before);
    return row;
  });
  // Enable rows first: whether a register's feedback can differ from its pin depends on them.
  const unflagged: Seen = (pin, level) => {
    const index = map.outputs.indexOf(pin);
    // A register is seen inverted: the true line of an active-high output is the opposite of its pin.
    return index >= 0 && isRegistered(index) && !isLow(index) ? { pin, level: level === 1 ? 0 : 1 } : { pin, level };
  };
  const alwaysOn = enableRows.map((row) => readRow(fuses, row, map, unflagged)?.length === 0);
  const seen: Seen = (pin, level) => {
    const literal = unflagged(pin, level);
    const index = map.outputs.indexOf(pin);
    return index >= 0 && isRegistered(index) && !alwaysOn[index] ? { ...literal, feedback: true } : literal;
  };
  const outputs: ExplainedOutput[] = [];
  const buried: ExplainedOutput[] = [];
  for (const [index, pin] of map.outputs.entries()) {
    const row = enableRows[index]!;
    const registered = isRegistered(index);
    const activeLow = isLow(index);
    const output: ExplainedOutput = {
      pin,
      registered,
      activeLow,
      enable: enableOf(readRow(fuses, row, map, seen)),
      terms: readRows(fuses, count(row + 1, terms22V10(index)), map, seen),
      feedbackFrom: registered ? 'register' : 'pin',
      ...(registered ? { powerUp: activeLow ? (1 as const) : (0 as const) } : {}),
    };
    if (warnOutput(output, report)) outputs.push(output);
    else if (registered && output.terms.length > 0) buried.push(output);
  }
  const reset = readRows(fuses, [0], map, seen);
  const hasRegisters = outputs.some((output) => output.registered) || buried.length > 0;
  if (hasRegisters && reset.some((term) => term.length === 0))
    report('decode/always-reset', 'The reset row is always true: every register stays reset.', {
      help: 'The row must hold a condition, or both levels of some pin for never.',
    });
  return {
    device: '22V10',
    mode: 'cells',
    fuses: fuses.length,
    outputs,
    buried,
    clockPin: hasRegisters ? 1 : undefined,
    reset,
    preset: readRows(fuses, [131], map, seen),
    signature: signatureAt(fuses, 5828),
  };
}
