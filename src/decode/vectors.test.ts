import { expect, test } from 'vitest';
import { compileDevice, describeAddress, explainFile, runVectors } from './index.ts';

const select = compileDevice({
  device: '16V8',
  inputs: [
    { name: 'A15', pin: 2 },
    { name: 'A14', pin: 3 },
    { name: '/MREQ', pin: 4 },
  ],
  outputs: [
    { name: '/ROM', pin: 17, formula: '/MREQ | A15' },
    { name: 'bus', pin: 18, formula: 'A14', enable: 'low(/MREQ)' },
  ],
}).value!;

test('a failing vector is a sentence with pin, net and address', () => {
  const pins = new Map([
    ['A15', 2],
    ['A14', 3],
  ]);
  const lines = Array.from({ length: 16 }, (_, k) => `A${k}`);
  const options = {
    nameOf: (pin: number) => select.pins[pin - 1]!.name,
    describe: describeAddress({ name: 'memory', lines }, pins),
  };
  // Pin 17 low is wanted at 0x8000, where it is high; pin 18 undriven while /MREQ is low.
  const { value, findings } = runVectors(select.explained, [{ conditions: 'X100XXXXXNXXXXXXLZXN' }], options);
  expect(findings.map((one) => [one.code, one.message])).toEqual([
    ['decode/vector-fails', 'Vector 1: pin 17 (/ROM) should be low at address 0x8000, the fuses give high.'],
    ['decode/vector-fails', 'Vector 1: pin 18 (bus) should be undriven at address 0x8000, the fuses give low.'],
  ]);
  expect(value.failures.map((one) => one.pin)).toEqual([17, 18]);
});

test('conditions in the order of a P field, defaults of X, undriven pins', () => {
  const good = [{ conditions: 'HZ11', number: 7 }]; // pins 17, 18, 4, 2; pin 3 is not among them
  expect(runVectors(select.explained, good, { pinOrder: [17, 18, 4, 2] }).findings).toEqual([]);
  const byDefault = [{ conditions: 'XXXXXXXXXNXXXXXXHZXN' }];
  expect(runVectors(select.explained, byDefault, { defaultTest: 1 }).findings).toEqual([]);
  expect(runVectors(select.explained, byDefault, { defaultTest: 0 }).value.failures.length).toBeGreaterThan(0);
});

test('preload vectors are passed over and said so', () => {
  const { value, findings } = runVectors(select.explained, [{ conditions: 'P000XXXXXNXXXXXXLZXN' }]);
  expect([value.vectors, value.compared]).toEqual([0, 0]);
  expect(findings.map((one) => one.code)).toEqual(['decode/vector-not-run']);
});

test('registers step with C, keep their state, and answer reset at once and preset at the edge', () => {
  const { value } = compileDevice({
    device: '22V10',
    clock: 'ck',
    reset: 'r',
    preset: 'p',
    inputs: [
      { name: 'ck', pin: 1 },
      { name: 'r', pin: 2 },
      { name: 'p', pin: 3 },
      { name: 'go', pin: 4 },
    ],
    outputs: [
      { name: 'q0', pin: 23, registered: true, formula: 'q0 ^ go' },
      { name: 'q1', pin: 22, registered: true, formula: 'q1 ^ (q0 & go)' },
    ],
  });
  const vector = (ck: string, r: number, p: number, go: number, q1: string, q0: string): { conditions: string } => ({
    conditions: `${ck}${r}${p}${go}XXXXXXXNXNNNNNNNN${q1}${q0}N`.slice(0, 24),
  });
  const steps = [
    vector('0', 0, 0, 0, 'L', 'L'), // as power leaves it
    vector('C', 0, 0, 1, 'L', 'H'),
    vector('C', 0, 0, 1, 'H', 'L'),
    vector('C', 0, 0, 0, 'H', 'L'),
    vector('0', 1, 0, 0, 'L', 'L'), // reset without an edge
    vector('0', 0, 1, 0, 'L', 'L'), // preset waits for one
    vector('C', 0, 1, 0, 'H', 'H'),
    vector('C', 0, 0, 1, 'L', 'L'),
  ];
  for (const { conditions } of steps) expect(conditions).toHaveLength(24);
  expect(runVectors(value!.explained, steps).value.failures).toEqual([]);
});

test('vectors of a compiled file notice each fuse of a term', () => {
  const bytes = Uint8Array.from(select.text, (c) => c.charCodeAt(0));
  const { file, explained } = explainFile(bytes, '16V8', 'sel.jed').value!;
  expect(runVectors(explained, file.vectors).value.failures).toEqual([]);
  let noticed = 0;
  let changes = 0;
  for (let fuse = 0; fuse < 2048; fuse++) {
    if (file.fuses[fuse] === 1 || file.fuses[2128 + (fuse >> 5)] === 0) continue; // a literal in a row in use
    changes++;
    const fuses = file.fuses.slice();
    fuses[fuse] = 1;
    const text = `\x02*QF2194*F0*L0 ${fuses.join('')}*\x030000`;
    const changed = explainFile(
      Uint8Array.from(text, (c) => c.charCodeAt(0)),
      '16V8',
      'x.jed',
    ).value!;
    if (runVectors(changed.explained, file.vectors).value.failures.length > 0) noticed++;
  }
  expect(changes).toBeGreaterThan(3);
  expect(noticed).toBe(changes);
});
