import { expect, test } from 'vitest';
import { csvOf, vcdOf } from '../../../tests/support/capture-files.ts';
import { demoProject } from '../../../tests/support/demo.ts';
import { measured, wiresOf } from '../../../tests/support/measured.ts';
import { readCapture } from '../../format/capture/index.ts';
import { Build } from '../build.ts';
import { toldChannels } from '../capture.ts';
import { diagnoseVerb, toldFrom } from './diagnose.ts';

const NETS = [
  'cpu-clock',
  '/reset',
  '/RD',
  '/WR',
  '/M1',
  '/MREQ',
  '/IORQ',
  'A1',
  'A0',
  ...Array.from({ length: 8 }, (_, k) => `D${7 - k}`),
];
const fileOf = (name: string, text: string) => {
  const { value, findings } = readCapture(name, new TextEncoder().encode(text));
  return { name, capture: value, findings };
};

interface Value {
  readonly verdict: string;
  readonly hypotheses: readonly {
    readonly places: readonly { readonly wire: string | null; readonly holes: readonly string[] }[];
    readonly faults: readonly { readonly kind: string }[];
    readonly likelihood: number;
  }[];
  readonly captures: readonly {
    readonly channels: readonly unknown[];
    readonly alignedBy: string;
    readonly firstDifference: unknown;
  }[];
}

test('a good capture is called right, and nothing is found', () => {
  const build = new Build(demoProject('tide-clerk'), 'first');
  const text = vcdOf(measured('tide-clerk', { stage: 4, nets: NETS, seed: 21 }));
  const { value, findings } = diagnoseVerb(build, { stage: 4, files: [fileOf('good.vcd', text)] });
  expect(findings).toEqual([]);
  expect(value as Value).toMatchObject({
    verdict: 'correct',
    captures: [{ alignedBy: 'clock', firstDifference: null }],
  });
  expect((value as Value).captures[0]!.channels.length).toBe(NETS.length);
}, 120_000);

test('two wires exchanged: it differs, and both are among the places; told channels are kept', () => {
  const project = demoProject('tide-clerk');
  const build = new Build(project, 'first');
  const wires = ['A0', 'A1'].map((net) => wiresOf('tide-clerk', net, 4)[0]!) as [string, string];
  const names = NETS.map((net, k) => (net === '/RD' ? 'probe' : `x${k}`));
  const capture = measured('tide-clerk', { stage: 4, nets: NETS, names, seed: 22, exchanged: wires });
  const channels = NETS.map((net, k) => `${names[k]}=${net}`);
  const { value, findings, effects } = diagnoseVerb(build, {
    stage: 4,
    files: [fileOf('wrong.csv', csvOf(capture))],
    channels,
  });
  const { verdict, hypotheses } = value as Value;
  expect(verdict).toBe('differs');
  expect(findings.map(({ code }) => code)).toContain('app/capture-differs');
  expect(findings.find(({ code }) => code === 'app/capture-differs')!.notes[0]!.text).toMatch(
    /^They part \d+ clocks after reset: /,
  );
  const places = hypotheses.flatMap((group) => group.places.map(({ wire }) => wire));
  for (const wire of wires) expect(places).toContain(wire);
  expect(hypotheses.flatMap(({ faults }) => faults.map(({ kind }) => kind))).toContain('ends-exchanged');
  const kept = effects!.find((effect) => effect.kind === 'write')!;
  expect(kept.path).toBe('builds/first/captures/channels.json');
  project.setText(kept.path, (kept as { text: string }).text);
  expect(toldChannels(new Build(project, 'first')).value.length).toBe(NETS.length);
}, 240_000);

test('what cannot be read or told is refused with its reason', () => {
  const build = new Build(demoProject('tide-clerk'), 'first');
  const refused = diagnoseVerb(build, { stage: 4, files: [fileOf('letter.txt', 'Dear harbour master\n')] });
  expect(refused).toMatchObject({ value: null, refused: true });
  expect(refused.findings.map(({ code }) => code)).toEqual(['capture/not-a-capture']);
  expect(toldFrom('CH3=~/RD')).toEqual({ channel: 'CH3', net: '/RD', inverted: true });
  expect(toldFrom('CH3=')).toEqual({ channel: 'CH3', net: null });
  expect(typeof toldFrom('/RD')).toBe('string');
});
