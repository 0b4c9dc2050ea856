// Random requests through the whole compiler, and the proof itself put to the test: it must see every single fuse that
// matters, and agree with a satisfiability solver from the npm registry (logic-solver, MiniSat inside).

import { createRequire } from 'node:module';
import { expect, test } from 'vitest';
import { createRng, type Formula, type Rng } from '../../src/base/index.ts';
import {
  compileDevice,
  type DeviceRequest,
  explainFuses,
  proveFile,
  type WantedOutput,
} from '../../src/decode/index.ts';
import { readJesd3 } from '../../src/format/jesd3/index.ts';

/** The part of the solver that is used here; the package has no types. */
interface LogicSolver {
  readonly TRUE: unknown;
  readonly FALSE: unknown;
  not(term: unknown): unknown;
  and(...terms: readonly unknown[]): unknown;
  or(...terms: readonly unknown[]): unknown;
  xor(a: unknown, b: unknown): unknown;
  readonly Solver: new () => { require(term: unknown): void; solve(): unknown };
}
const Logic = createRequire(import.meta.url)('logic-solver') as LogicSolver;

const bytesOf = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0));

function randomFormula(rng: Rng, names: readonly string[], depth: number): Formula {
  if (depth === 0 || rng.below(5) === 0)
    return { kind: 'name', name: names[rng.below(names.length)]!, start: 0, end: 0 };
  const kind = (['and', 'or', 'and', 'or', 'xor', 'not'] as const)[rng.below(6)]!;
  if (kind === 'not') return { kind, term: randomFormula(rng, names, depth - 1) };
  const terms = Array.from({ length: 2 + rng.below(2) }, () => randomFormula(rng, names, depth - 1));
  return { kind, terms };
}

function randomRequest(rng: Rng): DeviceRequest {
  const device = (['16V8', '20V8', '22V10'] as const)[rng.below(3)]!;
  const inputs = Array.from({ length: 2 + rng.below(7) }, (_, k) => `in${k}`);
  const count = 1 + rng.below(5);
  const hasClock = rng.below(2) === 0;
  const hasReset = hasClock && device === '22V10' && rng.below(2) === 0;
  const outputNames = Array.from({ length: count }, (_, k) => `out${k}`);
  const outputs = outputNames.map((name, k): WantedOutput => {
    const registered = hasClock && rng.below(2) === 0;
    // Registers may read any register; combinational outputs read those before them.
    const readable = [...inputs, ...(rng.below(2) === 0 ? outputNames.slice(0, k) : [])];
    return {
      name,
      formula: randomFormula(rng, readable, 2 + rng.below(2)),
      activeLow: rng.below(2) === 0,
      registered,
      resetLevel: rng.below(2) === 0 ? 0 : 1,
      ...(!registered && rng.below(4) === 0 ? { enable: `${inputs[0]} & ~${inputs[1]}` } : {}),
      ...(rng.below(4) === 0 ? { dontCare: randomFormula(rng, inputs, 1) } : {}),
    };
  });
  return {
    device,
    outputs,
    ...(hasClock ? { clock: 'clock' } : {}),
    ...(hasReset ? { reset: `low(${inputs[0]})` } : {}),
  };
}

test('random requests compile to files that are proved, or are said not to fit', () => {
  const rng = createRng(21);
  let made = 0;
  const modes = new Set<string>();
  for (let round = 0; round < 160; round++) {
    const request = randomRequest(rng);
    const { value, findings } = compileDevice(request);
    const errors = findings.filter((one) => one.severity === 'error').map((one) => one.code);
    if (value === undefined) {
      expect(errors, `round ${round}`).toEqual(['decode/does-not-fit']);
      continue;
    }
    made++;
    modes.add(`${value.device} ${value.mode}`);
    expect(errors).toEqual([]);
    expect(value.proof.isEqual).toBe(true);
  }
  expect(made).toBeGreaterThan(110);
  expect([...modes].sort()).toEqual([
    '16V8 complex',
    '16V8 registered',
    '16V8 simple',
    '20V8 complex',
    '20V8 registered',
    '20V8 simple',
    '22V10 cells',
  ]);
});

/** Fuses with a few random connections in some rows, outputs configured at random. */
function randomFuses(rng: Rng, device: '16V8' | '20V8' | '22V10'): Uint8Array {
  const [count, width, rows] = ({ '16V8': [2194, 32, 64], '20V8': [2706, 40, 64], '22V10': [5892, 44, 132] } as const)[
    device
  ];
  const fuses = new Uint8Array(count);
  for (let fuse = width * rows; fuse < count; fuse++) fuses[fuse] = rng.below(2);
  for (let row = 0; row < rows; row++) {
    if (rng.below(3) === 0) continue;
    fuses.fill(1, row * width, (row + 1) * width);
    if (rng.below(4) > 0) for (let k = 0; k < 3; k++) fuses[row * width + rng.below(width)] = 0;
  }
  return fuses;
}

test('any device that is read and compiled again on the same pins does the same', () => {
  const rng = createRng(24);
  let made = 0;
  for (let round = 0; round < 120; round++) {
    const device = (['16V8', '20V8', '22V10'] as const)[rng.below(3)]!;
    const fuses = randomFuses(rng, device);
    const { value: explained, findings } = explainFuses(fuses, device);
    if (explained === undefined) continue;
    // Read-back of simple-mode outputs and buried registers have no counterpart on the writing side.
    if (findings.some((one) => one.code === 'decode/output-read-back') || explained.buried.length > 0) continue;
    const name = (pin: number): string => `p${pin}`;
    const text = (terms: Explained['outputs'][number]['terms']): string =>
      terms
        .map((term) => term.map(({ pin, level }) => `${level === 1 ? '' : '~'}${name(pin)}`).join(' & ') || '1')
        .join(' | ') || '0';
    const reads = new Set<number>();
    const note = (terms: Explained['reset']): void => {
      for (const term of terms) for (const { pin } of term) reads.add(pin);
    };
    const hasRegisters = explained.clockPin !== undefined;
    for (const output of explained.outputs) {
      note(output.terms);
      if (typeof output.enable !== 'boolean') note(output.enable);
    }
    if (hasRegisters) for (const terms of [explained.reset, explained.preset]) note(terms);
    if (explained.clockPin !== undefined) reads.add(explained.clockPin);
    const driven = new Set(explained.outputs.map((output) => output.pin));
    const polarity = (output: Explained['outputs'][number]): 0 | 1 => (output.activeLow ? 1 : 0);
    const request: DeviceRequest = {
      device,
      mode: explained.mode,
      inputs: [...reads].filter((pin) => !driven.has(pin)).map((pin) => ({ name: name(pin), pin })),
      outputs: explained.outputs.map((output) => ({
        name: name(output.pin),
        pin: output.pin,
        activeLow: output.activeLow,
        formula: text(output.terms),
        registered: output.registered,
        ...(output.enable === true ? {} : { enable: text(output.enable as Explained['reset']) }),
        ...(output.registered && device === '22V10' ? { resetLevel: polarity(output), powerUp: polarity(output) } : {}),
      })),
      ...(explained.clockPin === undefined ? {} : { clock: name(explained.clockPin) }),
      ...(hasRegisters && explained.reset.length > 0 ? { reset: text(explained.reset) } : {}),
      ...(hasRegisters && explained.preset.length > 0 ? { preset: text(explained.preset) } : {}),
    };
    const again = compileDevice(request);
    expect(
      again.findings.filter((one) => one.severity === 'error'),
      `round ${round}`,
    ).toEqual([]);
    const states = [...fuses].join('');
    const original = bytesOf(`\x02*QF${fuses.length}*F0*L0 ${states}*\x030000`);
    const proof = proveFile(request, original, 'original.jed').value!;
    expect(proof.mismatches, `round ${round}`).toEqual([]);
    expect(proof.isEqual, `round ${round}`).toBe(true);
    made++;
  }
  expect(made).toBeGreaterThan(40);
});

/** The request with the pins that were chosen. */
function withPins(
  request: DeviceRequest,
  value: NonNullable<ReturnType<typeof compileDevice>['value']>,
): DeviceRequest {
  const pinOf = (name: string): number | undefined => value.pins.find((pin) => pin.name === name)?.pin;
  const outputs = request.outputs.map((output) => ({ ...output, pin: pinOf(output.name)! }));
  const inputs = value.pins
    .filter((pin) => pin.use === 'input' || pin.use === 'clock')
    .map((pin) => ({ name: pin.name!, pin: pin.pin }));
  return { ...request, inputs, outputs };
}

test('the proof sees each fuse whose change changes what the device does, checked by SAT', () => {
  const rng = createRng(22);
  const request: DeviceRequest = {
    device: '16V8',
    outputs: [
      { name: '/rom', formula: 'a15 | /mreq | ~/rfsh' },
      { name: '/ram', formula: '~(a15 & ~/mreq & /rfsh & ~(a14 & bank))' },
      { name: 'x', formula: 'a ^ b ^ bank' },
    ],
  };
  const { value } = compileDevice(request);
  const pinned = withPins(request, value!);
  let differing = 0;
  for (let round = 0; round < 90; round++) {
    const fuse = rng.below(2192);
    const fuses = value!.fuses.slice();
    fuses[fuse]! ^= 1;
    const states = [...fuses].join('');
    const changed = bytesOf(`\x02*QF2194*F0*L0 ${states}*\x030000`);
    const proof = proveFile(pinned, changed, 'changed.jed');
    const { value: after } = explainFuses(fuses, '16V8');
    const isSame = after === undefined ? false : sameBySat(value!.explained, after);
    expect(proof.value?.isEqual ?? false, `fuse ${fuse}`).toBe(isSame);
    if (!isSame) differing++;
  }
  expect(differing).toBeGreaterThan(6);
});

type Explained = NonNullable<ReturnType<typeof explainFuses>['value']>;

/** Whether two combinational devices drive the same pins to the same levels, by searching for a point where they don't. */
function sameBySat(a: Explained, b: Explained): boolean {
  if (a.outputs.map((one) => one.pin).join() !== b.outputs.map((one) => one.pin).join()) return false;
  const differs: unknown[] = [];
  const toLogic = (output: Explained['outputs'][number]): unknown => {
    const sum = Logic.or(
      ...output.terms.map((term) => Logic.and(...term.map(({ pin, level }) => (level === 1 ? `p${pin}` : `-p${pin}`)))),
    );
    return output.activeLow ? Logic.not(sum) : sum;
  };
  for (const [k, output] of a.outputs.entries()) differs.push(Logic.xor(toLogic(output), toLogic(b.outputs[k]!)));
  const solver = new Logic.Solver();
  solver.require(Logic.or(...differs));
  return solver.solve() === null;
}

test('the SAT solver finds no point where a compiled device and its formula differ', () => {
  const rng = createRng(23);
  const toLogic = (part: Formula): unknown => {
    switch (part.kind) {
      case 'constant':
        return part.value === 1 ? Logic.TRUE : Logic.FALSE;
      case 'name':
        return part.name;
      case 'not':
        return Logic.not(toLogic(part.term));
      case 'xor':
        return part.terms.map(toLogic).reduce((x, y) => Logic.xor(x, y));
      default:
        return part.kind === 'and' ? Logic.and(...part.terms.map(toLogic)) : Logic.or(...part.terms.map(toLogic));
    }
  };
  let made = 0;
  for (let round = 0; round < 60; round++) {
    const names = Array.from({ length: 4 + rng.below(9) }, (_, k) => `n${k}`);
    const formula = randomFormula(rng, names, 4);
    const { value } = compileDevice({ device: '22V10', outputs: [{ name: 'out', formula }] });
    if (value === undefined) continue;
    made++;
    // From the text of the file alone, by way of the pins it was given.
    const file = readJesd3(bytesOf(value.text), 'x.jed').value;
    const output = explainFuses(file.fuses, '22V10').value!.outputs[0]!;
    const nameAt = new Map(value.pins.map((pin) => [pin.pin, pin.name!]));
    const sum = Logic.or(
      ...output.terms.map((term) =>
        Logic.and(...term.map(({ pin, level }) => (level === 1 ? nameAt.get(pin)! : `-${nameAt.get(pin)!}`))),
      ),
    );
    const solver = new Logic.Solver();
    solver.require(Logic.xor(output.activeLow ? Logic.not(sum) : sum, toLogic(formula)));
    expect(solver.solve(), `round ${round}`).toBeNull();
  }
  expect(made).toBeGreaterThan(40);
});
