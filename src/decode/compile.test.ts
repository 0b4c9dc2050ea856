import { expect, test } from 'vitest';
import { compileDevice, divideOutputs, type DeviceRequest, explainFuses, proveFile } from './index.ts';

const codes = (found: readonly { code: string }[]): string[] => found.map((one) => one.code).sort();
const compiled = (request: DeviceRequest) => {
  const { value, findings } = compileDevice(request);
  expect(findings.filter((one) => one.severity === 'error')).toEqual([]);
  return value!;
};
/** `pin: /17 = 2 & /3 + 4`, one line per output. */
const equations = (request: DeviceRequest): string[] =>
  compiled(request).outputs.map((output) => {
    const terms = output.terms.map(
      (term) => term.map(({ pin, level }) => (level === 1 ? `${pin}` : `-${pin}`)).join('.') || '1',
    );
    return `${output.activeLow ? '-' : ''}${output.pin}${output.registered ? ':' : ''} = ${terms.join(' + ') || '0'}`;
  });

const inputs = (text: string) =>
  text.split(' ').map((word) => ({ name: word.split(':')[0]!, pin: Number(word.split(':')[1]) }));

test('selects of a small machine, in simple mode, polarity as it comes out shortest', () => {
  const request: DeviceRequest = {
    device: '16V8',
    inputs: inputs('A15:1 A14:2 /MREQ:3 /RFSH:4 /IORQ:5 /M1:6'),
    outputs: [
      { name: '/ROM', pin: 19, formula: 'low when low(/MREQ) & high(/RFSH) & ~A15' },
      { name: '/RAM', pin: 18, formula: 'low(/MREQ) & high(/RFSH) & A15', activeLow: true },
      { name: 'ANY', pin: 17, formula: '~(/MREQ & /IORQ)' },
    ],
  };
  expect(equations(request)).toEqual(['-19 = -1.-3.4', '-18 = 1.-3.4', '-17 = 3.5']);
  const value = compiled(request);
  expect(value.mode).toBe('simple');
  expect(value.unusedInputs).toEqual([]); // A14 and /M1 have pins because they were asked for
  expect(value.pins.filter((pin) => pin.use === 'spare').map((pin) => pin.pin)).toContain(16);
  expect(value.proof).toMatchObject({ isEqual: true, points: 16 });
});

test('a three-state output takes complex mode, a register the registered mode', () => {
  const three = compiled({
    device: '16V8',
    outputs: [{ name: 'wait', formula: 'slow & low(/cs)', enable: 'low(/cs)' }],
  });
  expect(three.mode).toBe('complex');
  const [output] = three.outputs;
  expect(output!.enable).toEqual([[{ pin: three.pins.find((pin) => pin.name === '/cs')!.pin, level: 0 }]]);
  const counter = compiled({
    device: '16V8',
    clock: 'osc',
    outputs: [
      { name: 'Q0', formula: '~Q0', registered: true },
      { name: 'Q1', formula: 'Q1 ^ Q0', registered: true },
    ],
  });
  expect(counter.mode).toBe('registered');
  expect(counter.ties).toEqual([{ pin: 11, level: 0, why: 'it enables the registered outputs' }]);
  expect(counter.outputs.map((one) => one.powerUp)).toEqual([1, 1]);
});

test('a 22V10 counter with reset counts as its vectors say, and its feedback is at pin level', () => {
  const bits = ['Q0', 'Q1', 'Q2', 'Q3'];
  const value = compiled({
    device: '22V10',
    clock: 'osc',
    reset: 'low(/reset)',
    outputs: bits.map((name, k) => ({
      name,
      registered: true,
      formula: k === 0 ? '~Q0' : `${name} ^ (${bits.slice(0, k).join(' & ')})`,
    })),
  });
  expect(value.explained.reset).toHaveLength(1);
  expect(value.outputs.every((output) => !output.activeLow && output.powerUp === 0)).toBe(true);
  expect(value.vectors).toMatchObject({ unreached: 0 });
  expect(value.outputs[0]!.terms).toEqual([[{ pin: 23, level: 0 }]]);
});

test('reset to high on a 22V10 takes the other polarity', () => {
  const value = compiled({
    device: '22V10',
    clock: 'osc',
    reset: 'r',
    preset: 'p',
    outputs: [{ name: 'Q', registered: true, resetLevel: 1, formula: 'd' }],
  });
  expect(value.outputs[0]).toMatchObject({ activeLow: true, powerUp: 1 });
});

test('an output read by another is repeated where it can be, read back where it must be', () => {
  const repeated = compiled({
    device: '16V8',
    outputs: [
      { name: 'a', formula: 'x & y' },
      { name: 'b', formula: 'a | z' },
    ],
  });
  expect(repeated.mode).toBe('simple');
  expect(repeated.outputs.map((one) => one.passes)).toEqual([1, 1]);
  const readBack = compiled({
    device: '16V8',
    outputs: [
      { name: 'odd', formula: 'a ^ b ^ c' },
      { name: 'more', formula: 'odd ^ d ^ e' },
    ],
  });
  expect(readBack.mode).toBe('complex');
  expect(readBack.outputs.map((one) => [one.net, one.passes])).toEqual([
    ['odd', 1],
    ['more', 2],
  ]);
});

test('a latch of gates is read back, and its vectors follow its state', () => {
  const value = compiled({ device: '16V8', outputs: [{ name: 'q', formula: 's | (q & ~r)' }] });
  expect(value.mode).toBe('complex');
  expect(value.vectors.unreached).toBe(0);
});

test('what is free is used, and the proof allows for it', () => {
  const value = compiled({
    device: '16V8',
    outputs: [{ name: 'x', formula: 'a & b & c', dontCare: '~b | (a & ~c)' }],
  });
  expect(value.outputs[0]!.terms).toHaveLength(1);
  expect(value.outputs[0]!.terms[0]!.length).toBeLessThan(3);
});

test('pins are honoured, chosen by cost, and refused with what would do', () => {
  const cost = compiled({
    device: '16V8',
    outputs: [{ name: 'x', formula: 'a & b' }],
    pinCost: (name, pin) => (name === 'x' ? Math.abs(pin - 13) : name === 'a' ? Math.abs(pin - 9) : 0),
  });
  expect(cost.pins.filter((pin) => pin.name === 'x' || pin.name === 'a').map((pin) => pin.pin)).toEqual([9, 13]);
  const refused = compileDevice({
    device: '16V8',
    inputs: [{ name: 'a', pin: 3 }, { name: 'b' }],
    outputs: [{ name: 'x', pin: 4, formula: 'a & b' }],
  });
  expect(codes(refused.findings)).toEqual(['decode/does-not-fit']);
  expect(refused.findings[0]!.notes[0]!.text).toBe('In simple mode: pin 4 cannot be such an output (x).');
  expect(refused.findings[0]!.help).toContain('with x on pin 19 instead of pin 4');
});

test('too many terms: what is over, a split that would do, a larger device', () => {
  const nine = Array.from({ length: 9 }, (_, k) => `(a${k % 5} & ~b${k % 4} & ${k < 5 ? '' : '~'}c)`).join(' | ');
  const { findings } = compileDevice({ device: '16V8', outputs: [{ name: 'x', formula: nine }] });
  expect(codes(findings)).toEqual(['decode/does-not-fit']);
  expect(findings[0]!.notes[0]!.text).toMatch(/x takes \d+ terms active low, \d+ active high; an output has at most 8/);
  expect(findings[0]!.help).toContain('helper output');
  expect(findings[0]!.help).toContain('22V10 takes all of it');
});

test('wrong requests are findings', () => {
  const one = (outputs: DeviceRequest['outputs'], more: Partial<DeviceRequest> = {}): string[] =>
    codes(compileDevice({ device: '16V8', outputs, ...more }).findings);
  expect(one([{ name: 'x', formula: 'a &' }])).toEqual(['decode/bad-formula']);
  expect(
    one([
      { name: 'x', formula: 'a' },
      { name: 'X', formula: 'b' },
    ]),
  ).toEqual(['decode/duplicate-name']);
  expect(one([{ name: 'x', formula: 'a' }], { inputs: [{ name: 'b' }] })).toEqual(['decode/unknown-name']);
  expect(one([{ name: 'x', formula: 'a', registered: true }])).toEqual(['decode/no-clock']);
  expect(one([{ name: 'x', formula: 'a', enable: 'b | c' }])).toEqual(['decode/control-too-complex']);
  expect(one(Array.from({ length: 31 }, (_, k) => ({ name: `x${k}`, formula: 'a' })))).toEqual([
    'decode/too-many-signals',
  ]);
  const parity = Array.from({ length: 20 }, (_, k) => `a${k}`).join(' ^ ');
  expect(one([{ name: 'x', formula: parity }])).toEqual(['decode/too-complex']);
  expect(one([{ name: 'x', formula: 'a', registered: true }], { clock: 'ck', reset: 'r' })).toEqual([
    'decode/does-not-fit',
  ]);
});

test('the same request gives the same bytes', () => {
  const request: DeviceRequest = { device: '22V10', outputs: [{ name: 'x', formula: 'a ^ b ^ (c & d)' }] };
  expect(compiled(request).text).toBe(compiled(request).text);
});

test("a builder's own file is held against the formulas", () => {
  const request = (formula: string): DeviceRequest => ({
    device: '16V8',
    inputs: inputs('A15:2 A14:3 /MREQ:4'),
    outputs: [{ name: '/ROM', pin: 19, formula }],
  });
  const { text } = compiled(request('/MREQ | A15'));
  const bytes = Uint8Array.from(text, (c) => c.charCodeAt(0));
  expect(proveFile(request('~(~/MREQ & ~A15)'), bytes, 'own.jed').findings).toEqual([]);
  const { value, findings } = proveFile(request('/MREQ | A15 | A14'), bytes, 'own.jed');
  expect(value!.isEqual).toBe(false);
  expect(codes(findings)).toEqual(['decode/file-differs']);
  expect(findings[0]!.message).toBe('/ROM on pin 19 should be high and is low with /MREQ low, A15 low, A14 high.');
});

test('pins without a use are not driven', () => {
  for (const device of ['16V8', '20V8', '22V10'] as const)
    for (const extra of [{}, { enable: 'b' }, { registered: true }]) {
      const request: DeviceRequest = { device, clock: 'ck', outputs: [{ name: 'x', formula: 'a', ...extra }] };
      const value = compiled(request);
      const { value: back, findings } = explainFuses(value.fuses, device);
      expect(back!.outputs.map((output) => output.pin)).toEqual([value.outputs[0]!.pin]);
      expect(back!.buried).toEqual([]);
      expect(findings).toEqual([]);
    }
});

test('a register that starts at the wrong level for its terms is told so', () => {
  const few = Array.from({ length: 5 }, (_, k) => `(a${k} | b${k})`).join(' & ');
  const one = (resetLevel: 0 | 1) =>
    compileDevice({
      device: '22V10',
      clock: 'ck',
      reset: 'r',
      outputs: [{ name: 'q', registered: true, resetLevel, formula: few }],
    });
  expect(one(1).findings.filter((finding) => finding.severity === 'error')).toEqual([]);
  const { findings } = one(0);
  expect(codes(findings)).toEqual(['decode/does-not-fit']);
  expect(findings[0]!.help).toContain('It fits if q starts high');
});

test('registers of a 16V8 are enabled together by pin 11', () => {
  const outputs = (second: string) => [
    { name: 'q0', registered: true, formula: 'd0', enable: 'low(/oe)' },
    { name: 'q1', registered: true, formula: 'd1 ^ q0', enable: second },
  ];
  const value = compiled({ device: '16V8', clock: 'ck', outputs: outputs('~/oe') });
  expect(value.pins.filter((pin) => pin.use === 'enable')).toEqual([{ pin: 11, use: 'enable', name: '/oe' }]);
  expect(value.ties).toEqual([]);
  const { findings } = compileDevice({ device: '16V8', clock: 'ck', outputs: outputs('low(/oe2)') });
  expect(codes(findings)).toEqual(['decode/does-not-fit']);
  expect(findings[0]!.notes.at(-1)!.text).toContain('enabled together');
  expect(findings[0]!.help).toContain('22V10');
});

test('a clock that is also read takes a 22V10', () => {
  const request = (device: '16V8' | '22V10'): DeviceRequest => ({
    device,
    clock: 'ck',
    outputs: [
      { name: 'q', registered: true, formula: '~q' },
      { name: 'x', formula: 'q & ~ck' },
    ],
  });
  expect(compileDevice(request('16V8')).findings[0]!.notes.at(-1)!.text).toContain(
    'is the clock on pin 1 and is also read',
  );
  expect(compiled(request('22V10')).pins[0]).toEqual({ pin: 1, use: 'clock', name: 'ck' });
});

test('controls that always or never hold', () => {
  const one = (more: object, device: '16V8' | '22V10' = '22V10') =>
    compileDevice({ device, clock: 'ck', outputs: [{ name: 'q', registered: true, formula: 'd' }], ...more });
  expect(one({ reset: '0', preset: 'a & ~a' }).value!.explained.reset).toEqual([]);
  expect(codes(one({ reset: 'a | ~a' }).findings)).toEqual(['decode/always-reset', 'decode/unused-input']);
  const outputs = (enable: string) => [{ name: 'x', formula: 'a', enable }];
  expect(compiled({ device: '16V8', outputs: outputs('b | ~b') }).outputs[0]!.enable).toBe(true);
  expect(codes(compileDevice({ device: '16V8', outputs: outputs('b & ~b') }).findings)).toEqual([
    'decode/never-driven',
  ]);
  const misplaced = one({ inputs: [{ name: 'ck', pin: 4 }, { name: 'd' }] });
  expect(misplaced.findings[0]!.notes[0]!.text).toContain('the clock is pin 1 here, and ck is wanted on pin 4');
  expect(misplaced.findings[0]!.help).toContain('ck on pin 1 instead of pin 4');
});

test('two signals that want one pin', () => {
  const { findings } = compileDevice({
    device: '16V8',
    inputs: [
      { name: 'a', pin: 3 },
      { name: 'b', pin: 3 },
    ],
    outputs: [{ name: 'x', formula: 'a & b' }],
  });
  expect(findings[0]!.notes[0]!.text).toContain('a and b both want pin 3');
  expect(findings[0]!.help).toContain('instead of pin 3');
});

test.each(['16V8', '20V8', '22V10'] as const)(
  '%s: the signature is written and read, and changes no function',
  (device) => {
    const request = { device, outputs: [{ name: 'x', formula: 'a & b' }] };
    const plain = compileDevice(request).value!;
    const signed = compileDevice({ ...request, signature: 'SEL r3\u00e4 and more' }).value!;
    expect(signed.explained.signature).toBe('SEL r3. ');
    expect(signed.explained.outputs).toEqual(plain.explained.outputs);
    expect(signed.checksum).not.toBe(plain.checksum);
  },
);

test('what one device does not take is divided among several, each share compiled and proved', () => {
  const letters = [...'abcdefgh'];
  // Ten outputs in two families of seven names each: a 16V8 has eight outputs and as few pins besides.
  const outputs = [
    ...letters.slice(0, 5).map((name, k) => ({ name: `x${k}`, formula: `${name} & p & q | ~r & ${letters[k + 1]}` })),
    ...letters
      .slice(0, 5)
      .map((name, k) => ({ name: `y${k}`, formula: `~${name} & s & t | u & x0 & ${letters[k + 2]}` })),
  ];
  const { value, findings } = compileDevice({ device: '16V8', outputs });
  expect(value).toBeUndefined();
  expect(findings[0]!.help).toMatch(/It fits into 2 of them: x0, .* in the first; .* in the second\./);
  const shares = divideOutputs({ device: '16V8', outputs })!;
  expect(shares.flatMap((share) => share.outputs.map((output) => output.name)).sort()).toEqual(
    outputs.map((output) => output.name).sort(),
  );
  for (const share of shares) expect(compileDevice(share).value!.proof.isEqual).toBe(true);
  // One output with more names than pins does not get better by dividing.
  const wide = Array.from({ length: 19 }, (_, k) => `n${k}`).join(' & ');
  expect(divideOutputs({ device: '16V8', outputs: [{ name: 'z', formula: wide }] })).toBeUndefined();
});
