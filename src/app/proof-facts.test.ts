// Proofs that ask more than the wiring: the self-test run from the ROM with faults planted in the machine, memory contents, the
// supply. Good runs of the whole self-test are in tests/e2e, where they take a few seconds.

import { describe, expect, test } from 'vitest';
import { demoProject } from '../../tests/support/demo.ts';
import { type Circuit, buildCircuit, runProof, type SimFault } from '../sim/index.ts';
import { fitImage, readImage } from '../format/image/index.ts';
import { Build } from './build.ts';
import { imagesOf, proofFacts, selfTestAt } from './images.ts';
import { simInput } from './sim-input.ts';

const build = new Build(demoProject('tide-clerk'), 'first');
const facts = proofFacts(build.design(), 4);
type Proof = Parameters<typeof runProof>[3];
const proved = (stage: number, proof: Proof, faults: (circuit: Circuit) => SimFault[] = () => []) => {
  const input = simInput(build, stage, { images: imagesOf(build, stage).images, floating: 0 });
  const { value: circuit } = buildCircuit(input.netlist, input.contents);
  // A good run ends after 21 million clocks; these end or are lost long before.
  const short = { ...facts, selfTest: { ...facts.selfTest!, clocks: 60_000 } };
  const planted = faults(circuit);
  return runProof(input.netlist, circuit, input.contents, proof, { facts: short, faults: planted });
};
const expecting = (key: string, value = ''): Proof => ({ given: [], expect: [{ key, value }] });

const SELF_TEST = expecting('self-test passes');

describe('the self-test fails with a fault planted in the machine', () => {
  const net = (circuit: Circuit, name: string): number => circuit.nets.indexOf(name);
  const pin = (circuit: Circuit, part: string, name: string): { place: number; pin: number } => {
    const key = [...circuit.pinNames].find(([, text]) => text === `${part}.${name}`)![0];
    return { place: circuit.parts.findIndex((one) => one.name === part), pin: key % 256 };
  };

  // RAM address lines may be permuted on the boards, and data lines too: which one is open does not show in the result.
  test.each<[string, (circuit: Circuit) => SimFault[], RegExp]>([
    ['A9 open at the RAM', (c) => [{ kind: 'open', at: pin(c, 'RAM', 'A9') }], /ends at 0x1000: address, at 0x8/],
    [
      'a data pin open at the RAM',
      (c) => [{ kind: 'open', at: pin(c, 'RAM', 'I/O3') }],
      /ends at 0x2000: data, at 0x8/,
    ],
    ['A9 stuck everywhere', (c) => [{ kind: 'stuck', net: net(c, 'A9'), value: 1 }], /does not end|is lost/],
    ['D3 bridged to D4', (c) => [{ kind: 'short', a: net(c, 'D3'), b: net(c, 'D4') }], /does not end|is lost/],
  ])('%s', (_, faults, shows) => {
    const { pass, predicted } = proved(4, SELF_TEST, faults);
    expect(pass).toBe(false);
    expect(predicted[0]).toMatch(shows);
  });
});

test('the image put in is the one that ships, byte for byte', () => {
  const shipped = fitImage(
    readImage(new TextEncoder().encode(build.project.text('firmware/self-test.hex')!), 'self-test.hex').value,
    { address: 0, size: 0x8000 },
    'self-test.hex',
  );
  const made = selfTestAt(build.design(), 4)!;
  expect([...shipped.value.subarray(0, made.bytes.length)]).toEqual([...made.bytes]);
});

test('memory: what the ROM holds, read through the wiring of its pins', () => {
  // The first byte of the self-test is DI (UM0080: 0xF3), the second JP (0xC3).
  const { predicted, pass } = proved(4, {
    given: [],
    expect: [
      { key: 'memory', value: '0x0000 holds 0xF3 0xC3' },
      { key: 'memory', value: '0x0001 holds 0xC4' },
    ],
  });
  expect(predicted).toEqual(['0x0000 holds 0xF3 0xC3', '0x0001 holds 0xC3']);
  expect(pass).toBe(false);
});

describe('supply', () => {
  test('as stated in the machine file', () => {
    expect(proved(1, expecting('supply', '4.75 V to 5.25 V'))).toMatchObject({
      pass: true,
      predicted: ['main is stated as 4.75 V to 5.25 V'],
    });
    expect(proved(1, expecting('supply', '4.9 V to 5.1 V')).pass).toBe(false);
    expect(proved(1, expecting('supply', 'relay 11 V to 13 V')).pass).toBe(undefined);
  });

  // DS1813-5 data sheet: trips at 4.5 V to 4.75 V.
  test.each<[string, string, boolean | undefined]>([
    ['4.2 V', 'low', true],
    ['4.2 V', 'high', false],
    ['4.6 V', 'low', undefined],
    ['4.8 V', 'high', true],
  ])('set to %s, the reset is %s: %s', (volts, level, pass) => {
    const proof = { given: [{ key: 'supply', value: volts }], expect: [{ key: '/reset', value: level }] };
    expect(proved(1, proof).pass).toBe(pass);
  });
});

test('duty of a net', () => {
  expect(proved(2, expecting('cpu-clock', 'high 49 % to 51 %'))).toMatchObject({ pass: true });
  expect(proved(2, expecting('cpu-clock', 'low 30 % to 36 %')).pass).toBe(false);
});

describe('images that cannot stand as they are', () => {
  const findingsWith = (text: string): string[] => {
    const project = demoProject('tide-clerk');
    project.setText('firmware/tide.hex', text);
    return imagesOf(new Build(project, 'first'), 5).findings.map(({ code }) => code);
  };
  const END = ':00000001FF\n';

  test('one that fits says nothing', () => {
    expect(findingsWith(`:0100000000FF\n${END}`)).toEqual([]);
  });

  test('bytes beyond the part, bytes twice, a wrong checksum, half a record', () => {
    // Records as in Intel's Hexadecimal Object File Format Specification (1988); the sums by hand.
    expect(findingsWith(`:01800000007F\n${END}`)).toContain('image/does-not-fit');
    expect(findingsWith(`:0100000000FF\n:0100000001FE\n${END}`)).toContain('image/overlap');
    expect(findingsWith(`:0100000000FE\n${END}`)).toContain('image/bad-checksum');
    expect(findingsWith(`:0100000000FF\n:01\n${END}`)).toContain('image/bad-record');
  });
});
