import { existsSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { spoiled } from '../../../tests/support/spoil.ts';
import type { Capture, Predicted } from '../model.ts';
import {
  alignCapture,
  BRINGUP_CAPTURE_CODES,
  bareName,
  compareTraces,
  findPlace,
  hexWith,
  matchByShape,
  matchChannels,
  netsNamed,
  readBus,
  runningNumbers,
} from './index.ts';

const channels = (...names: string[]): Pick<Capture, 'channels'> => ({
  channels: names.map((name) => ({ name, times: Float64Array.of(0), levels: Uint8Array.of(2) })),
});
const NETS = [
  'cpu-clock',
  'reset',
  '/reset',
  '/RD',
  '/WR',
  '/M1',
  ...Array.from({ length: 8 }, (_, k) => `D${k}`),
  'A0',
  'A1',
  'notch',
];

test('names of one signal, however its mark is written', () => {
  for (const name of [
    '/RD',
    '~RD',
    'RD#',
    'nRD',
    'RD_n',
    'RD_N',
    '!rd',
    'RD*',
    'rd bar',
    'RDbar',
    '\\RD',
    'top.cpu./RD',
    '"/RD"',
    'CH3: /RD',
  ])
    expect(bareName(name), name).toEqual({ base: 'rd', isLow: true });
  expect(bareName('D[7]')).toEqual({ base: 'd7', isLow: false });
  expect(netsNamed('cpu_clock', NETS)).toEqual(['cpu-clock']);
  expect(netsNamed('RESET', NETS)).toEqual(['reset']);
  expect(netsNamed('RESET_N', NETS)).toEqual(['/reset']);
  expect(netsNamed('RD', NETS)).toEqual(['/RD']);
  expect(netsNamed('notch', NETS)).toEqual(['notch']);
  expect(netsNamed('', NETS)).toEqual([]);
});

test("an instrument's own numbers are no names of data lines", () => {
  expect(runningNumbers(['CH1', 'CH2', 'CH0'])).toEqual([1, 2, 0]);
  expect(runningNumbers(['A0', 'D0'])).toBeUndefined();
  expect(runningNumbers(['D3', 'D5'])).toBeUndefined();
  const leads = ['A0', 'A1', '/RD', 'cpu-clock', '/M1', '/WR', 'reset', '/reset', 'notch', 'D0'].map((net, k) => ({
    pod: k < 8 ? 'pod 1' : 'pod 2',
    channel: k % 8,
    net,
  }));
  const ten = Array.from({ length: 10 }, (_, k) => `D${k}`);
  const { value } = matchChannels(channels(...ten), { nets: NETS, leads, told: [] });
  expect(value.map(({ net }) => net)).toEqual(leads.map(({ net }) => net));
  expect(value.every(({ how }) => how === 'lead')).toBe(true);
  // Eight channels named as the data lines, and no leads: names.
  const eight = matchChannels(channels(...ten.slice(0, 8)), { nets: NETS, leads: [], told: [] });
  expect(eight.value.map(({ net, how }) => `${net} ${how}`)).toEqual(ten.slice(0, 8).map((name) => `${name} name`));
  const pods = matchChannels(channels('pod 2.1', 'Pod 1 D2'), { nets: NETS, leads, told: [] });
  expect(pods.value.map(({ net }) => net)).toEqual(['D0', '/RD']);
});

test('what was told by hand stands before all else, and is kept out where it was told so', () => {
  const told = [
    { channel: 'RD', net: '/WR', inverted: true },
    { channel: 'spare', net: null },
    { channel: 'gone', net: '/NO' },
  ];
  const { value, findings } = matchChannels(channels('rd', 'spare', 'gone', 'mystery', 'A0'), {
    nets: NETS,
    leads: [],
    told,
  });
  expect(value).toEqual([
    { channel: 0, net: '/WR', inverted: true, how: 'hand' },
    { channel: 4, net: 'A0', inverted: false, how: 'name' },
  ]);
  expect(findings.map(({ code, about }) => `${code} ${about?.[0]}`)).toEqual([
    'bringup/unknown-net /NO',
    'bringup/channel-unmatched gone',
    'bringup/channel-unmatched mystery',
  ]);
});

/** A machine made of counters and a strobe, so that nothing repeats soon: 16 nets over the clock, reset let go at entry 40. */
function counterTrace(halves: number): Predicted {
  let word = 0xace1;
  const words = Array.from({ length: halves }, (_, h) => {
    if (h > 40 && h % 4 === 0) word = ((word >> 1) ^ (word & 1 ? 0xb400 : 0)) & 0xffff;
    return word;
  });
  const net = (name: string, level: (h: number) => number) => ({
    net: name,
    level: Uint8Array.from({ length: halves }, (_, h) => level(h)),
  });
  return {
    halves,
    sinceReset: -40,
    firstHigh: true,
    half: 125e-9,
    nets: [
      net('clock', (h) => 1 - (h & 1)),
      net('/reset', (h) => (h < 40 ? 0 : 1)),
      net('strobe', (h) => (h % 8 === 5 && h > 40 ? 0 : 1)),
      ...Array.from({ length: 12 }, (_, k) => net(`L${k}`, (h) => (words[h]! >> k) & 1)),
    ],
  };
}
const TRACE = counterTrace(6000);
const ALL = TRACE.nets.map(({ net }) => net);
const OPTIONS = { clock: 'clock', rateHz: 4e6, reset: { net: '/reset', active: 0 as const } };

function through(capture: Capture, nets: readonly string[] = ALL, predicted: Predicted | undefined = TRACE) {
  const { value: matches } = matchChannels(capture, { nets, leads: [], told: [] });
  const { value: observed, findings } = alignCapture(capture, matches, {
    ...OPTIONS,
    ...(predicted === undefined ? {} : { predicted }),
  });
  const place = observed === undefined ? undefined : findPlace(observed, TRACE);
  const comparison = observed === undefined ? undefined : compareTraces(observed, TRACE, place, 'clock');
  return { matches, observed, comparison, codes: findings.map(({ code }) => code) };
}

test.each([6.3, 8.7, 10, 13, 20])(
  'by the clock at %s samples a clock: jitter, glitches, a hole, a late start',
  (rate) => {
    for (let seed = 1; seed <= 6; seed++) {
      const late = seed > 3;
      const capture = spoiled(TRACE, ALL, 'clock', {
        seed: seed * 31 + rate,
        rate,
        hole: seed % 2 === 0 ? 200 : 1,
        ...(late ? { from: 777 } : {}),
      });
      const { observed, comparison, codes } = through(capture);
      expect(observed!.by).toBe('clock');
      expect(observed!.sure).toBeGreaterThan(0.95);
      expect(observed!.sinceReset === null).toBe(late);
      expect(codes).toEqual(late ? ['bringup/no-reset'] : []);
      expect(comparison!.firstDifference).toBeNull();
      expect(comparison!.halves).toBeGreaterThan(late ? 5000 : 5800);
      for (const { agreement, compared } of comparison!.nets) {
        expect(agreement).toBeGreaterThan(0.9998);
        expect(compared).toBeGreaterThan(comparison!.halves * 0.95);
      }
      // An entry of the capture stands for the half clock it is said to stand for.
      if (!late) expect(comparison!.offset).toBe(observed!.sinceReset! + 40);
    }
  },
);

test('another clock rate, an uneven clock, and times in the wrong unit are no obstacle, and said', () => {
  const { codes, comparison } = through(spoiled(TRACE, ALL, 'clock', { seed: 5, clockScale: 1000 }));
  expect(codes).toEqual(['bringup/clock-rate']);
  expect(comparison!.firstDifference).toBeNull();
  expect(through(spoiled(TRACE, ALL, 'clock', { seed: 6, clockScale: 1.01 })).codes).toEqual([]);
});

test('too few samples are said, and firm bits stay right', () => {
  const { codes, observed, comparison } = through(spoiled(TRACE, ALL, 'clock', { seed: 8, rate: 4.3 }));
  expect(codes).toContain('bringup/few-samples');
  expect(observed!.sure).toBeLessThan(0.75);
  expect(comparison!.firstDifference).toBeNull();
});

test('without a clock channel: by reset, and by the place that fits best', () => {
  const rest = ALL.filter((net) => net !== 'clock');
  const reset = through(spoiled(TRACE, rest, 'clock', { seed: 9, clockScale: 1.004 }), rest);
  expect(reset.observed!.by).toBe('reset');
  expect(reset.comparison!.firstDifference).toBeNull();
  expect(reset.comparison!.halves).toBeGreaterThan(5500);
  const free = through(spoiled(TRACE, rest, 'clock', { seed: 10, from: 1501 }), rest);
  expect(free.observed).toMatchObject({ by: 'correlation', sinceReset: null });
  expect(free.comparison!.offset).toBeGreaterThanOrEqual(1500);
  expect(free.comparison!.offset).toBeLessThanOrEqual(1503);
  expect(free.comparison!.firstDifference).toBeNull();
});

test('a glitch on reset moves nothing; of two runs the longer counts', () => {
  const capture = spoiled(TRACE, ALL, 'clock', { seed: 12, glitches: 0, lost: 0 });
  const reset = capture.channels[1]!;
  const spike = {
    ...reset,
    times: Float64Array.from([...reset.times, 3e-4, 3.002e-4]),
    levels: Uint8Array.from([...reset.levels, 0, 1]),
  };
  const glitched = { ...capture, channels: capture.channels.map((channel, k) => (k === 1 ? spike : channel)) };
  const first = through(capture).observed!;
  expect(through(glitched).observed!.sinceReset).toBe(first.sinceReset);
  expect(through(glitched).observed!.halves).toBe(first.halves);
  const pressed = {
    ...reset,
    times: Float64Array.from([...reset.times, 6e-4]),
    levels: Uint8Array.from([...reset.levels, 0]),
  };
  const cut = through({ ...capture, channels: capture.channels.map((channel, k) => (k === 1 ? pressed : channel)) })
    .observed!;
  expect(cut.halves).toBeLessThan(first.halves - 1000);
  expect(cut.sinceReset).toBe(first.sinceReset);
});

test('the first difference is found in its half clock; single wrong bits are strays', () => {
  const wrong: Predicted = {
    ...TRACE,
    nets: TRACE.nets.map(({ net, level }) =>
      net === 'L3' ? { net, level: level.map((value, h) => (h >= 2500 ? 0 : value)) } : { net, level },
    ),
  };
  const from = TRACE.nets.find(({ net }) => net === 'L3')!.level.findIndex((level, h) => h >= 2500 && level === 1);
  const { comparison, observed } = through(spoiled(wrong, ALL, 'clock', { seed: 13 }));
  expect(comparison!.firstDifference!.half + comparison!.offset!).toBe(from);
  expect(comparison!.firstDifference!.nets).toEqual([{ net: 'L3', predicted: 1, captured: 0 }]);
  expect(comparison!.firstDifference!.sinceReset).toBe(from - 40);
  expect(comparison!.nets.filter(({ agreement }) => agreement < 0.99).map(({ net }) => net)).toEqual(['L3']);
  const level = observed!.nets.find(({ net }) => net === 'L5')!.level;
  level[100] = 1 - level[100]!;
  const again = compareTraces(observed!, TRACE, findPlace(observed!, TRACE), 'clock');
  expect(again.strays).toEqual([100]);
  expect(again.firstDifference).toEqual(comparison!.firstDifference);
});

test('shapes tell unnamed channels, inverted probes and exchanged ones', () => {
  const capture = spoiled(
    TRACE,
    ALL,
    'clock',
    { seed: 14 },
    ALL.map((net) => (net === 'L7' ? 'probe' : net === 'L2' ? 'L4' : net === 'L4' ? 'L2' : net)),
  );
  const flipped: Capture = {
    ...capture,
    channels: capture.channels.map((channel) =>
      channel.name === 'L9'
        ? { ...channel, levels: channel.levels.map((level) => (level === 2 ? 2 : 1 - level)) }
        : channel,
    ),
  };
  const { matches, observed } = through(flipped);
  const { value, findings } = matchByShape(flipped, matches, observed!, TRACE);
  expect(findings.map(({ code, about }) => `${code} ${about?.join(' ')}`)).toEqual([
    'bringup/probe-inverted L9',
    'bringup/probes-exchanged L4 L2',
  ]);
  const netOf = (name: string) => value.find((match) => flipped.channels[match.channel]!.name === name);
  expect(netOf('probe')).toMatchObject({ net: 'L7', how: 'shape', inverted: false });
  expect(netOf('L9')).toMatchObject({ net: 'L9', inverted: true });
  expect([netOf('L2')!.net, netOf('L4')!.net]).toEqual(['L4', 'L2']);
});

test('a machine that goes wrong is not taken for wrong probes', () => {
  const other: Predicted = {
    ...counterTrace(6000),
    nets: TRACE.nets.map(({ net, level }) => ({
      net,
      level: net.startsWith('L') ? level.map((_, h) => ((h * 7919) >> 5) & 1) : level,
    })),
  };
  const { matches, observed, comparison } = through(spoiled(other, ALL, 'clock', { seed: 15 }));
  expect(comparison!.firstDifference).not.toBeNull();
  expect(matchByShape(spoiled(other, ALL, 'clock', { seed: 15 }), matches, observed!, TRACE)).toEqual({
    value: matches,
    findings: [],
  });
});

test('nothing to lay a capture on', () => {
  const still = channels(...ALL) as Capture;
  expect(through({ ...still, start: 0, end: 1e-3, samplePeriod: 1e-8 }).codes).toEqual([
    'bringup/clock-still',
    'bringup/no-alignment',
  ]);
});

test('bus cycles and instructions; what is missing is said', () => {
  // From UM0080, opcode fetch and memory write: M1 and RD low for two half clocks here, then WR; JR at 0x0005 jumps to 0x0002.
  const cycles: [kind: 'fetch' | 'read' | 'write', address: number, data: number][] = [
    ['fetch', 0x0000, 0x3e],
    ['read', 0x0001, 0x41],
    ['fetch', 0x0002, 0x32],
    ['read', 0x0003, 0x00],
    ['read', 0x0004, 0x80],
    ['write', 0x8000, 0x41],
    ['fetch', 0x0005, 0x18],
    ['read', 0x0006, 0xfb],
    ['fetch', 0x0002, 0xcb],
    ['fetch', 0x0003, 0x47],
  ];
  const halves = cycles.length * 4;
  const trace = (level: (cycle: (typeof cycles)[0], phase: number) => number) => ({
    level: Uint8Array.from({ length: halves }, (_, h) => level(cycles[h >> 2]!, h & 3)),
  });
  const strobe = (on: (kind: string) => boolean) =>
    trace(([kind], phase) => (on(kind) && (phase === 1 || phase === 2) ? 0 : 1));
  const bus = {
    style: 'z80',
    address: Array.from({ length: 16 }, (_, k) => trace(([, address]) => (address >> (15 - k)) & 1)),
    data: Array.from({ length: 8 }, (_, k) => trace(([, , data]) => (data >> (7 - k)) & 1)),
    signals: new Map([
      ['read', strobe((kind) => kind !== 'write')],
      ['write', strobe((kind) => kind === 'write')],
      ['fetch', strobe((kind) => kind === 'fetch')],
    ]),
    names: new Map([
      ['read', '/RD'],
      ['write', '/WR'],
      ['fetch', '/M1'],
      ['memory', '/MREQ'],
      ['io', '/IORQ'],
    ]),
  };
  const { cycles: seen, instructions, missing } = readBus(bus, 0, halves);
  expect(seen.map(({ kind, address, data }) => [kind, address, data])).toEqual(cycles);
  expect(instructions.map(({ address, text }) => `${address!.toString(16)} ${text}`)).toEqual([
    '0 LD A,0x41',
    '2 LD (0x8000),A',
    '5 JR 0x0002',
    '2 BIT 0,A',
  ]);
  expect(missing).toEqual(['/IORQ is not captured: ports look like memory.']);
  const narrow = readBus({ ...bus, address: bus.address.map((net, k) => (k < 8 ? undefined : net)) }, 0, halves);
  expect(narrow.missing[0]).toBe('8 of 16 address lines are captured: unknown digits stand as ?.');
  expect(narrow.instructions.map(({ address, text }) => [address, text])[2]).toEqual([undefined, 'JR ?']);
  expect(hexWith(narrow.cycles[5]!.address, narrow.cycles[5]!.addressMask, 16)).toBe('0x??00');
  const blind = readBus({ ...bus, signals: new Map() }, 0, halves);
  expect([blind.cycles.length, blind.missing.length]).toEqual([0, 1]);
});

test('codes have their pages', () => {
  for (const [code, { severity }] of Object.entries(BRINGUP_CAPTURE_CODES)) {
    const path = `docs/findings/${code.replace('/', '-')}.md`;
    expect(existsSync(path), path).toBe(true);
    expect(readFileSync(path, 'utf8').startsWith(`# ${code}\n\nSeverity: ${severity}.`), code).toBe(true);
  }
});
