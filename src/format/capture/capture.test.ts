import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { writeVcd } from '../vcd/index.ts';
import { CAPTURE_CODES, type CaptureOptions, readCapture } from './index.ts';

const read = (text: string, options: CaptureOptions = {}) => {
  const { value, findings } = readCapture('tide.csv', new TextEncoder().encode(text), options);
  const channels = Object.fromEntries(
    (value?.channels ?? []).map((channel) => [
      channel.name,
      [...channel.times].map((time, k) => [Number((time * 1e9).toFixed(3)), channel.levels[k]]),
    ]),
  );
  return { value, channels, codes: findings.map(({ code }) => code), messages: findings.map(({ message }) => message) };
};

test('a table of changes, the time column anywhere, in any unit', () => {
  const want = {
    A0: [
      [0, 0],
      [125, 1],
      [250, 0],
    ],
    A1: [
      [0, 0],
      [250, 1],
    ],
  };
  expect(read('A0,A1,t (ns)\n0,0,0\n1,0,125\n0,1,250\n').channels).toEqual(want);
  expect(read('Time [us];A0;A1\r\n0,000;0;0\r\n0,125;1;0\r\n0,250;0;1\r\n').channels).toEqual(want);
  expect(read('A0\tTime/ms\tA1\n0\t0\t0\n1\t1.25e-4\t0\n0\t2.5e-4\t1\n').channels).toEqual(want);
  expect(read('# written by hand\n"A0", "time", "A1"\n0, 0ns, 0\n1, 125 ns, 0\n0, 0.25us, 1\n').channels).toEqual(want);
});

test('samples: by a rate above the data, by an interval, by what is said with the file', () => {
  const want = {
    '/RD': [
      [0, 0],
      [40, 1],
      [120, 0],
    ],
    '/WR': [
      [0, 1],
      [80, 0],
    ],
  };
  const rows = '0;1\n1;1\n1;0\n0;0\n';
  expect(read(`; Sample rate: 25 MHz\n; /RD; /WR\n${rows}`).channels).toEqual(want);
  expect(read(`Interval (ns);40\n/RD;/WR\n${rows}`).channels).toEqual(want);
  const told = read(`/RD;/WR\n${rows}`, { samplePeriod: 4e-8 });
  expect(told.channels).toEqual(want);
  expect(told.value!.samplePeriod).toBe(4e-8);
  const none = read(`/RD;/WR\n${rows}`);
  expect([none.value, none.codes]).toEqual([undefined, ['capture/no-time']]);
});

test('volts pass both thresholds before the level changes', () => {
  const rows = ['0,0.1', '1,1.5', '2,2.4', '3,1.0', '4,0.9', '5,0.7', '6,3.1'];
  const { channels } = read(`Time (us),CH1 (V)\n${rows.join('\n')}\n`);
  expect(channels).toEqual({
    CH1: [
      [0, 0],
      [2000, 1],
      [5000, 0],
      [6000, 1],
    ],
  });
  const mv = read('t [us],CH1 [mV]\n0,100\n1,3300\n2,90\n');
  expect(mv.channels).toEqual({
    CH1: [
      [0, 0],
      [1000, 1],
      [2000, 0],
    ],
  });
  expect(read('t [us],CH1 [V]\n0,0.1\n1,1.1\n2,0.2\n').codes).toEqual(['capture/no-swing']);
  const odd = read('t [us],CH1,A0\n0,100,0\n1,3300,1\n2,90,0\n');
  expect([Object.keys(odd.channels), odd.codes]).toEqual([['A0'], ['capture/not-volts']]);
});

test('a bus as numbers becomes its lines; a number too large is said', () => {
  const { channels, codes } = read('time [ns],D[3:0]\n0,0x0\n10,0xA\n20,0x1F\n');
  expect(channels).toEqual({
    D3: [
      [0, 0],
      [10, 1],
    ],
    D2: [
      [0, 0],
      [20, 1],
    ],
    D1: [
      [0, 0],
      [10, 1],
    ],
    D0: [
      [0, 0],
      [20, 1],
    ],
  });
  expect(codes).toEqual(['capture/wrong-width']);
});

test('rows that tell one change each', () => {
  const { channels } = read('time [us],channel,value\n1,A0,1\n2,A1,0\n2,A0,0\n3.5,A1,1\n');
  expect(channels).toEqual({
    A0: [
      [1000, 1],
      [2000, 0],
    ],
    A1: [
      [1000, 2],
      [2000, 0],
      [3500, 1],
    ],
  });
});

test('what is wrong is said with its line, and counted', () => {
  expect(read('Time,A0\n0,0\n1e-6,1\n').messages).toEqual([
    'tide.csv, line 2: the heading of the times names no unit; seconds are taken.',
  ]);
  const { messages, channels } = read('Time [s],A0,A1\n0,0,0\n1,0,1\n0.5,1,1\n2,1\n3,1,ajar\n4,0,0\n5,1');
  expect(messages).toEqual([
    'tide.csv, line 4: the time 0.5 s comes after 1 s; the row is left out.',
    'tide.csv, line 5: a row of 2 fields among rows of 3; it is left out.',
    'tide.csv, line 6: "ajar" of A1 is no level; it is taken as not known.',
    'tide.csv, line 8: the last row is cut short and is left out.',
  ]);
  expect(channels.A1).toEqual([
    [0, 0],
    [1e9, 1],
    [3e9, 2],
    [4e9, 0],
  ]);
});

test('a gap between samples leaves the levels unknown', () => {
  const rows = Array.from({ length: 4000 }, (_, k) => `${(k < 3000 ? k : k + 500) * 10},${(k >> 2) & 1}`);
  const { channels, codes, value } = read(`Time [ns],A0\n${rows.join('\n')}\n`);
  expect(codes).toEqual(['capture/hole']);
  expect(value!.samplePeriod).toBeCloseTo(1e-8, 15);
  expect(channels.A0!.filter(([, level]) => level === 2)).toEqual([[30_000, 2]]);
});

test('files that are no capture', () => {
  for (const text of ['', '\n\n', 'Dear harbour master,\n\nthe tide is late.\n', 'PK\u0003\u0004'])
    expect(read(text)).toMatchObject({ value: undefined, codes: ['capture/not-a-capture'] });
});

test('no more entries are kept than are wanted', () => {
  const rows = Array.from({ length: 500 }, (_, k) => `${k},${k & 1}`);
  const { value, codes } = read(`t [ns],A0\n${rows.join('\n')}\n`, { mostEntries: 100 });
  expect(codes).toEqual(['capture/too-large']);
  expect(value!.channels[0]!.times.length).toBe(100);
  expect(value!.end).toBeCloseTo(1e-7, 12);
});

test('a dump that was written here reads back; vectors, reals and unknown values', () => {
  const dump = writeVcd({
    scope: 'Weir keeper',
    signals: [{ name: 'clk' }, { name: '/RD' }],
    changes: [
      { ps: 0, signal: 0, value: 0 },
      { ps: 125_000, signal: 0, value: 1 },
      { ps: 130_000, signal: 1, value: 0 },
      { ps: 140_000, signal: 1, value: 'Z' },
    ],
    endPs: 200_000,
  });
  expect(read(dump).channels).toEqual({
    clk: [
      [0, 0],
      [125, 1],
    ],
    '/RD': [
      [0, 2],
      [130, 0],
      [140, 2],
    ],
  });
  expect(read(dump).value!.end).toBeCloseTo(2e-7, 15);
  const text = [
    '$comment Acquired at 20 MHz $end $timescale 10 ns $end $scope module m $end',
    '$var wire 1 $ CLK $end $var wire 4 " D [3:0] $end $var real 64 # V $end $upscope $end $enddefinitions $end',
    '#0 $dumpvars 0$ bx " r0.1 # $end #5 1$ b101 " #10 0$ r4.9 # #12 x$ b110101 " #11 1!',
  ];
  const { channels, codes, value } = read(text.join('\n'));
  expect(value!.samplePeriod).toBe(5e-8);
  expect(channels).toEqual({
    CLK: [
      [0, 0],
      [50, 1],
      [100, 0],
      [120, 2],
    ],
    'D[3]': [
      [0, 2],
      [50, 0],
    ],
    'D[2]': [
      [0, 2],
      [50, 1],
    ],
    'D[1]': [
      [0, 2],
      [50, 0],
    ],
    'D[0]': [
      [0, 2],
      [50, 1],
    ],
    V: [
      [0, 0],
      [100, 1],
    ],
  });
  expect(codes).toEqual(['capture/wrong-width', 'capture/time-goes-back', 'capture/bad-token']);
});

test('a dump without scale, without end, without time', () => {
  const head = '$var wire 1 ! A0 $end\n';
  expect(read(`${head}$enddefinitions $end #0 0! #7 1!`).codes).toEqual(['capture/time-unit']);
  expect(read(`$timescale 1 ns $end ${head}`).codes).toEqual(['capture/truncated']);
  expect(read('$timescale 1 ns $end $enddefinitions $end #0').codes).toEqual(['capture/no-channels']);
  expect(read(`$timescale 1 ns $end ${head}$enddefinitions $end`).codes).toEqual(['capture/no-time']);
  expect(read(`$timescale 1 ns $end ${head}$enddefinitions $end #0 0! #5 b1`).codes).toEqual(['capture/truncated']);
});

test('codes and their pages are in step, and the code reports every one', () => {
  const codes = Object.keys(CAPTURE_CODES).sort();
  const pages = readdirSync('docs/findings').filter((name) => name.startsWith('capture-'));
  expect(pages.map((name) => name.replace('capture-', 'capture/').replace(/\.md$/, '')).sort()).toEqual(codes);
  for (const [code, { severity }] of Object.entries(CAPTURE_CODES)) {
    const text = readFileSync(`docs/findings/${code.replace('/', '-')}.md`, 'utf8');
    expect(text.startsWith(`# ${code}\n\nSeverity: ${severity}.`), code).toBe(true);
    for (const head of ['## Why\n', '## What to do\n', '## Example\n']) expect(text).toContain(head);
  }
  const folder = 'src/format/capture';
  const used = readdirSync(folder)
    .filter((name) => name.endsWith('.ts') && !name.endsWith('.test.ts') && name !== 'codes.ts')
    .flatMap((name) =>
      [...readFileSync(`${folder}/${name}`, 'utf8').matchAll(/'(capture\/[a-z-]+)'/g)].map((match) => match[1]!),
    );
  expect([...new Set(used)].sort()).toEqual(codes);
});
