// The map of a whole machine, whatever makes its selects. What a 74138 or 74139 does follows from its function table, so at
// every address the answer is worked out here from the table and the pins, by hand as it were, and compared.

import { expect, test } from 'vitest';
import { loadMachine } from '../../tests/support/load-machine.ts';
import { compilePlan, designMap, deviceTask, type MapReport } from './index.ts';

const mapOf = (name: string, stage?: number): MapReport => {
  const design = loadMachine(name);
  return designMap(design, stage ?? design.stages.length, () => undefined)!.report;
};

const answerAt = (map: MapReport, space: string, address: number): string => {
  const segments = map.spaces.find((one) => one.name === space)!.segments;
  const segment = segments.find((one) => one.from <= address && address <= one.to)!;
  return segment.answers.map((answer) => `${answer.part} ${answer.is}`).join(' and ') || 'nobody';
};

test('decoders of fixed function: mirrors and gaps as the function table of the 74138 gives them', () => {
  const map = mapOf('carillon');
  const memory = map.spaces.find((space) => space.name === 'memory')!;
  expect(memory.segments.reduce((sum, segment) => sum + segment.to - segment.from + 1, 0)).toBe(65536);
  // IOSEL looks at A15 to A11 and, by an enable pin, at A10: one of eight blocks of 2 KiB, each answering in its lower half.
  const parts = ['ACIA', 'KEYS', 'SHOW', 'LOW-BELLS', 'HIGH-BELLS', 'TUNES', undefined, undefined];
  const lowest: Record<string, number> = { ACIA: 2, KEYS: 4, SHOW: 4, 'LOW-BELLS': 1, 'HIGH-BELLS': 1, TUNES: 1 };
  for (let address = 0x4000; address < 0x8000; address++) {
    const part = parts[(address >> 11) & 7];
    const isHeld = part !== undefined && ((address >> 10) & 1) === 0;
    const word = isHeld ? `${part} ${(address & 0x3ff) < lowest[part]! ? 'mapped' : 'mirror'}` : 'nobody';
    if (answerAt(map, 'memory', address) !== word)
      expect([address.toString(16), answerAt(map, 'memory', address)]).toEqual([address.toString(16), word]);
  }
  expect(answerAt(map, 'memory', 0x3fff)).toBe('RAM mapped');
  expect(answerAt(map, 'memory', 0x8000)).toBe('ROM mapped');
});

test('spaces with strobes of their own are told apart though their selects look at the address alone', () => {
  const map = mapOf('signal-box');
  expect(answerAt(map, 'memory', 0x00000)).toBe('RAM mapped');
  expect(answerAt(map, 'memory', 0xfffff)).toBe('ROM mapped');
  expect(answerAt(map, 'ports', 0x40)).toBe('PIC mapped');
  expect(map.spaces.flatMap((space) => space.segments).filter((segment) => segment.state === 'double')).toEqual([]);
});

test('a programmable device answers as its file was read back, not as it was asked', () => {
  const design = loadMachine('tide-clerk');
  const [device] = design.devices;
  const stage = design.stages.length;
  const task = deviceTask(design, device!, stage).value!;
  const { value } = compilePlan(task.plan, task.device);
  const nets = new Map(
    value!.compiled.pins.flatMap(({ pin, name }) => (name === undefined ? [] : [[pin, name] as const])),
  );
  const read = (spoil: boolean): MapReport =>
    designMap(design, stage, () => ({
      nets,
      // Spoilt: /UART no longer looks at A7.
      outputs: value!.compiled.outputs.map((output) =>
        spoil && output.net === '/UART'
          ? { ...output, terms: output.terms.map((term) => term.filter((literal) => nets.get(literal.pin) !== 'A7')) }
          : output,
      ),
    }))!.report;
  expect(answerAt(read(false), 'ports', 0x90)).toBe('nobody');
  expect(answerAt(read(true), 'ports', 0x90)).toBe('UART mirror');
  expect(read(false).spaces.map((space) => space.period)).toEqual([65536, 256]);
});

test('before anything is mapped there is no map', () => {
  expect(designMap(loadMachine('tide-clerk'), 1, () => undefined)).toBeUndefined();
});
