// A small machine in three stages for tests: a gate, a device that comes out to be programmed, a memory, a strap, two hooks.

import { designOf, layOut, rulesOf, type TestMachine } from './bench.ts';

export const SPAN = { file: 'machine.yaml', start: 0, end: 0 };
export const ref = (name: string) => ({ name, span: SPAN });
export const term = (key: string, value: string) => ({ key, keySpan: SPAN, value, valueSpan: SPAN });

export const small: TestMachine = {
  stages: ['supply', 'logic', 'memory'],
  parts: [
    {
      name: 'G1',
      type: 'gate',
      kinds: ['input', 'input', 'output', 'ground', 'input', 'input', 'output', 'supply'],
      stage: 1,
    },
    {
      name: 'ROM',
      type: 'rom',
      kinds: ['input', 'input', 'input', 'ground', 'three-state', 'three-state', 'three-state', 'supply'],
      stage: 2,
      holds: 'a.hex',
      comesOut: true,
    },
    {
      name: 'RS',
      type: 'resistor',
      kinds: ['passive', 'passive'],
      stage: 2,
      until: 3,
      value: '2.2 kohm',
      temporary: true,
    },
    {
      name: 'RAM',
      type: 'ram',
      kinds: ['input', 'input', 'input', 'ground', 'three-state', 'three-state', 'three-state', 'supply'],
      stage: 3,
    },
  ],
  nets: new Map([
    [
      'GND',
      [
        ['G1', 4],
        ['ROM', 4],
        ['RAM', 4],
        ['RS', 2],
      ],
    ],
    [
      'main',
      [
        ['G1', 8],
        ['ROM', 8],
        ['RAM', 8],
      ],
    ],
    [
      'A0',
      [
        ['G1', 3],
        ['ROM', 1],
        ['RAM', 1],
      ],
    ],
    [
      'A1',
      [
        ['G1', 7],
        ['ROM', 2],
        ['RAM', 2],
      ],
    ],
    [
      'D0',
      [
        ['ROM', 5],
        ['RAM', 5],
        ['G1', 1],
        ['RS', 1],
      ],
    ],
    [
      '/sel',
      [
        ['ROM', 6],
        ['RAM', 3],
      ],
    ],
  ]),
};
export const design = {
  ...designOf(small, {
    supply: { prove: [{ given: [], expect: [term('supply', '4.75 V to 5.25 V')], span: SPAN }] },
    memory: {
      programs: [{ part: ref('ROM'), with: ref('b.hex') }],
      prove: [{ given: [term('press', 'RESET')], expect: [term('self-test passes', '')], span: SPAN }],
    },
  }),
  leads: [
    { pod: 'pod 1', channel: 0, net: 'A0', stage: 2, until: 3, span: SPAN },
    { pod: 'pod 1', channel: 1, net: 'A1', stage: 2, until: undefined, span: SPAN },
  ],
};
export const base = { design, layout: layOut(small, 5), rules: rulesOf(small) };
