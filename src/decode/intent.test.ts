import { expect, test } from 'vitest';
import { createRng } from '../base/index.ts';
import {
  type AddressPlan,
  type AddressRange,
  blocksOf,
  checkMap,
  compileDevice,
  compilePlan,
  mapReport,
  planAt,
  planFunctions,
  provePlan,
} from './index.ts';

const lines = (count: number): string[] => Array.from({ length: count }, (_, k) => `A${k}`);
const memory = {
  name: 'memory',
  lines: lines(16),
  cycle: 'low(/MREQ) & high(/RFSH)',
  read: 'low(/RD)',
  write: 'low(/WR)',
} as const;
const ports = { name: 'ports', lines: lines(8), cycle: 'low(/IORQ) & high(/M1)' } as const;
const at = (from: number, bytes: number, more: Partial<AddressRange> = {}): AddressRange => ({
  space: 'memory',
  at: from,
  bytes,
  ...more,
});

const tide: AddressPlan = {
  spaces: [memory, ports],
  selects: [
    { part: 'ROM', net: '/ROM-CS', activeLow: true, ranges: [at(0, 0x8000)] },
    { part: 'RAM', net: '/RAM-CS', activeLow: true, ranges: [at(0x8000, 0x8000)] },
    { part: 'UART', net: '/UART-CS', activeLow: true, ranges: [{ space: 'ports', at: 0x10, bytes: 8 }] },
  ],
};
const codes = (found: readonly { code: string }[]): string[] => found.map((one) => one.code);
/** `8000-FFFF mapped RAM`, one line per stretch. */
const drawn = (plan: AddressPlan, space = 0): string[] => {
  const { value } = compilePlan(plan, { device: '22V10' });
  return value!.map.spaces[space]!.segments.map(({ from, to, state, answers }) => {
    const who = answers.map(
      (one) => `${one.part}${one.is === 'mirror' ? '*' : ''}${one.when === undefined ? '' : ` when ${one.when}`}`,
    );
    return `${from.toString(16)}-${to.toString(16)} ${state} ${who.join(', ')}`.trimEnd();
  });
};

test('the map of a small machine, compiled, proved and drawn', () => {
  const { value, findings } = compilePlan(tide, { device: '16V8', title: 'Tide clerk' });
  expect(findings).toEqual([]);
  expect(value!.check!.isEqual).toBe(true);
  expect(value!.compiled.outputs.map((one) => [one.net, one.terms.length])).toEqual([
    ['/ROM-CS', 1],
    ['/RAM-CS', 1],
    ['/UART-CS', 1],
  ]);
  expect(drawn(tide)).toEqual(['0-7fff mapped ROM', '8000-ffff mapped RAM']);
  expect(drawn(tide, 1)).toEqual(['0-f gap', '10-17 mapped UART', '18-ff gap']);
});

test('a RAM that is written under a ROM does not answer with it', () => {
  const under = (access: { access?: 'read' }): AddressPlan => ({
    spaces: [{ ...memory, write: 'low(/WR)' }],
    selects: [
      { part: 'ROM', net: '/ROM-CS', activeLow: true, ranges: [at(0, 0x8000, { when: 'low(off)', ...access })] },
      {
        part: 'RAM',
        net: '/RAM-CS',
        activeLow: true,
        ranges: [at(0, 0x8000, { when: 'low(off)', access: 'write' }), at(0, 0x8000, { when: 'high(off)' })],
      },
    ],
  });
  expect(drawn(under({ access: 'read' }))).toEqual([
    '0-7fff mapped ROM when ~/RD & ~off, RAM when ~/WR | off',
    '8000-ffff gap',
  ]);
  expect(codes(compilePlan(under({}), { device: '22V10' }).findings)).toContain('decode/double-answer');
});

test('mirrors fill gaps with fewer lines, and never two parts at one address', () => {
  const plan: AddressPlan = {
    ...tide,
    mirrors: 'allowed',
    selects: [
      ...tide.selects,
      { part: 'PIO', net: '/PIO-CS', activeLow: true, ranges: [{ space: 'ports', at: 0x20, bytes: 4 }] },
    ],
  };
  const { value } = compilePlan(plan, { device: '16V8' });
  expect(value!.check!.isEqual).toBe(true);
  const literals = value!.compiled.outputs.map((one) => one.terms.flat().length);
  const strict = compilePlan({ ...plan, mirrors: 'forbidden' }, { device: '22V10' }).value!.compiled;
  expect(Math.max(...literals)).toBeLessThan(Math.max(...strict.outputs.map((one) => one.terms.flat().length)));
  for (const segment of value!.map.spaces[1]!.segments) expect(segment.answers.length).toBeLessThanOrEqual(1);
  expect(value!.map.spaces[1]!.mayMirror).toEqual(['UART', 'PIO']);
});

test('an overlay by a latch bit, read-only and write-only ranges', () => {
  const plan: AddressPlan = {
    spaces: [memory],
    never: 'low(/RD) & low(/WR)',
    selects: [
      { part: 'ROM', net: '/ROM-CS', activeLow: true, ranges: [at(0, 0x2000, { when: 'low(ram-low)' })] },
      {
        part: 'RAM',
        net: '/RAM-CS',
        activeLow: true,
        ranges: [at(0, 0x2000, { when: 'high(ram-low)' }), at(0x2000, 0xc000)],
      },
      { part: 'LATCH', net: 'LATCH-CK', activeLow: false, ranges: [at(0xf000, 0x100, { access: 'write' })] },
      { part: 'KEYS', net: '/KEYS', activeLow: true, ranges: [at(0xf000, 0x100, { access: 'read' })] },
    ],
  };
  const { value, findings } = compilePlan(plan, { device: '22V10' });
  expect(codes(findings)).toEqual([]);
  expect(value!.check!.isEqual).toBe(true);
  expect(drawn(plan)).toEqual([
    '0-1fff mapped ROM when ~ram-low, RAM when ram-low',
    '2000-dfff mapped RAM',
    'e000-efff gap',
    'f000-f0ff mapped LATCH when ~/WR, KEYS when ~/RD',
    'f100-ffff gap',
  ]);
});

test('a group without a condition is active with its parts', () => {
  const plan: AddressPlan = { ...tide, groups: [{ net: '/BUFFER', activeLow: true, parts: ['ROM', 'RAM'] }] };
  const { value } = compilePlan(plan, { device: '16V8' });
  const buffer = value!.compiled.outputs.find((one) => one.net === '/BUFFER')!;
  const names = (pin: number) => value!.compiled.pins[pin - 1]!.name;
  expect(buffer.terms.map((term) => term.map(({ pin, level }) => `${level} ${names(pin)}`).sort())).toEqual([
    ['0 /MREQ', '1 /RFSH'],
  ]);
});

test("a builder's own file is held against the map, gaps left to its own taste", () => {
  const named = 'A15 A7 A6 A5 A4 A3 /MREQ /RFSH /IORQ'.split(' ').map((name, k) => ({ name, pin: k + 1 }));
  const inputs = [...named, { name: '/M1', pin: 11 }];
  const pinned: AddressPlan = { ...tide, selects: tide.selects.map((select, k) => ({ ...select, pin: 19 - k })) };
  const file = (uart: string): Uint8Array => {
    const { value } = compileDevice({
      device: '16V8',
      inputs,
      outputs: [
        { name: '/ROM-CS', pin: 19, formula: '/MREQ | ~/RFSH | A15' },
        { name: '/RAM-CS', pin: 18, formula: '/MREQ | ~/RFSH | ~A15' },
        { name: '/UART-CS', pin: 17, activeLow: true, formula: `low(/IORQ) & high(/M1) & ${uart}` },
      ],
    });
    return Uint8Array.from(value!.text, (c) => c.charCodeAt(0));
  };
  const device = { device: '16V8', inputs } as const;
  const whole = file('~A7 & ~A6 & ~A5 & A4 & ~A3');
  expect(provePlan(pinned, device, whole, 'own.jed').findings).toEqual([]);
  const lazy = file('A4');
  expect(provePlan({ ...pinned, mirrors: 'allowed' }, device, lazy, 'own.jed').findings).toEqual([]);
  const { value, findings } = provePlan(pinned, device, lazy, 'own.jed');
  expect(new Set(codes(findings))).toEqual(new Set(['decode/file-differs', 'decode/map-differs']));
  expect(value!.check!.differences[0]).toMatchObject({ from: 0x18, to: 0x1f, net: '/UART-CS', kind: 'extra' });
  expect(value!.map.spaces[1]!.segments.slice(0, 3).map((one) => one.state)).toEqual(['gap', 'mapped', 'mirror']);
});

test('a decoder that gets few lines mirrors by them, and is told where it cannot tell', () => {
  const few = { ...ports, given: ['A5', 'A4'] };
  const uart = { ...tide.selects[2]! };
  const plan: AddressPlan = {
    spaces: [few],
    selects: [uart, { part: 'PIO', net: '/PIO-CS', activeLow: true, ranges: [{ space: 'ports', at: 0x20, bytes: 4 }] }],
  };
  expect(drawn(plan).slice(0, 5)).toEqual([
    '0-f gap',
    '10-17 mapped UART',
    '18-1f mirror UART*',
    '20-23 mapped PIO',
    '24-2f mirror PIO*',
  ]);
  const alike: AddressPlan = {
    ...plan,
    selects: [uart, { part: 'PIO', net: '/PIO-CS', activeLow: true, ranges: [{ space: 'ports', at: 0x18, bytes: 4 }] }],
  };
  const { findings } = planFunctions(alike);
  expect(findings.map((one) => `${one.code} ${one.message}`)).toEqual([
    'decode/not-told-apart UART at 0x0010 and PIO at 0x0018 look alike to the decoder.',
  ]);
});

test('groups are active while any of their parts is', () => {
  const plan: AddressPlan = {
    ...tide,
    groups: [{ net: '/WAIT', activeLow: true, parts: ['ROM', 'UART'], and: 'high(first)' }],
  };
  const { value } = compilePlan(plan, { device: '16V8' });
  expect(value!.compiled.outputs.find((one) => one.net === '/WAIT')!.terms).toHaveLength(2);
});

test('stages are revisions: what is not there yet is a gap', () => {
  const plan: AddressPlan = {
    ...tide,
    selects: tide.selects.map((select) => ({
      ...select,
      ranges: select.ranges.map((range) => ({ ...range, stage: select.part === 'RAM' ? 4 : 2 })),
    })),
  };
  expect(planAt(plan, 1).selects).toEqual([]);
  expect(drawn(planAt(plan, 2))).toEqual(['0-7fff mapped ROM', '8000-ffff gap']);
  expect(drawn(planAt(plan, 4))).toEqual(drawn(tide));
});

test('what is wrong with a plan is told with its place', () => {
  const one = (ranges: AddressRange[], more: Partial<AddressPlan> = {}): string[] =>
    codes(
      planFunctions({ spaces: [memory], selects: [{ part: 'X', net: '/X', activeLow: true, ranges }], ...more })
        .findings,
    );
  expect(one([at(0xf000, 0x2000)])).toEqual(['decode/range-outside']);
  expect(one([at(-1, 2)])).toEqual(['decode/range-outside']);
  expect(one([at(0, 0.5)])).toEqual(['decode/range-outside']);
  expect(one([{ ...at(0, 1), space: 'ports' }])).toEqual(['decode/range-outside']);
  expect(one([at(0x4000, 0x8000)])).toEqual(['decode/unaligned-range']);
  expect(one([at(0, 0x80)], { spaces: [{ ...memory, given: ['A15', 'A14'] }], mirrors: 'forbidden' })).toEqual([
    'decode/range-too-fine',
  ]);
  expect(one([at(0, 0x80, { when: 'a b' })])).toEqual(['decode/bad-formula']);
  expect(one([at(0, 0x80, { when: 'A3' })])).toEqual(['decode/condition-on-address']);
  const both: AddressPlan = {
    spaces: [memory],
    selects: [
      { part: 'ROM', net: '/ROM-CS', activeLow: true, ranges: [at(0, 0x8000)] },
      { part: 'RAM', net: '/RAM-CS', activeLow: true, ranges: [at(0x7000, 0x9000, { when: 'shadow' })] },
    ],
  };
  const { value, findings } = planFunctions(both);
  expect(findings.map((one2) => one2.message)).toEqual(['ROM and RAM both answer at 0x7000 to 0x7FFF.']);
  const report = mapReport(both, value!);
  expect(report.spaces[0]!.segments.map((segment) => segment.state)).toEqual(['mapped', 'double', 'mapped']);
});

test('a device that decodes something else differs at the addresses said', () => {
  const good = planFunctions(tide).value!;
  const wrong = {
    ...tide,
    selects: tide.selects.map((select) =>
      select.part === 'RAM' ? { ...select, ranges: [at(0xa000, 0x6000)] } : select,
    ),
  };
  const { value } = compileDevice({ device: '16V8', outputs: planFunctions(wrong).value!.outputs });
  const pins = new Map(value!.pins.flatMap((pin) => (pin.name === undefined ? [] : [[pin.name, pin.pin] as const])));
  const { value: check, findings } = checkMap(tide, value!.explained, pins);
  expect(check!.differences.map(({ from, to, kind, net }) => [from, to, kind, net])).toEqual([
    [0x8000, 0x9fff, 'missing', '/RAM-CS'],
  ]);
  expect(findings[0]!.message).toBe('From 0x8000 to 0x9FFF RAM is mapped but /RAM-CS does not select it.');
  expect(good.outputs).toHaveLength(3);
});

test('blocks of a range are aligned, in order and complete', () => {
  const rng = createRng(2);
  for (let round = 0; round < 200; round++) {
    const from = rng.below(5000);
    const bytes = 1 + rng.below(5000);
    let next = from;
    for (const block of blocksOf(from, bytes)) {
      expect(block.at).toBe(next);
      expect(block.at % block.bytes).toBe(0);
      next += block.bytes;
    }
    expect(next).toBe(from + bytes);
  }
});

test('random maps: every address is answered as the ranges say, by a device read back', () => {
  const rng = createRng(31);
  let made = 0;
  for (let round = 0; round < 40; round++) {
    const cuts = [...new Set(Array.from({ length: 7 }, () => rng.below(64) * 1024))].sort((a, b) => a - b);
    const ranges = cuts
      .slice(1)
      .map((end, k) => at(cuts[k]!, end - cuts[k]!, rng.below(3) === 0 ? { access: 'read' } : {}));
    const selects = ranges
      .filter(() => rng.below(4) > 0)
      .map((range, k) => ({ part: `P${k}`, net: `/P${k}`, activeLow: rng.below(4) > 0, ranges: [range] }));
    if (selects.length === 0) continue;
    const mirrors = rng.below(2) === 0 ? 'allowed' : 'forbidden';
    const { value, findings } = compilePlan(
      { spaces: [memory], selects, mirrors, never: 'low(/RD) & low(/WR)' },
      { device: '22V10' },
    );
    if (value === undefined) {
      expect(codes(findings)).toContain('decode/does-not-fit');
      continue;
    }
    made++;
    expect(value.check!.isEqual, `round ${round}`).toBe(true);
    // The drawn map against the ranges, address by address.
    for (let address = 0; address < 65536; address += 512) {
      const segment = value.map.spaces[0]!.segments.find((one) => one.from <= address && address <= one.to)!;
      const wanted = selects
        .filter(({ ranges: [range] }) => range!.at <= address && address < range!.at + range!.bytes)
        .map((one) => one.part);
      expect(segment.answers.filter((one) => one.is === 'mapped').map((one) => one.part)).toEqual(wanted);
      expect(segment.state).not.toBe('double');
      if (mirrors === 'forbidden') expect(segment.answers).toHaveLength(wanted.length);
    }
  }
  expect(made).toBeGreaterThan(25);
});
