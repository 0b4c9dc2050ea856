// A project's own part with contradictions: findings point into its file, and the machine is still worked out as far as it goes.

import { createRng } from '../../src/base/index.ts';
import { expect, test } from 'vitest';
import { projectOf } from '../support/library.ts';

const machine = `machine: With a part of its own
supplies: { main: { volts: 5 V } }
parts:
  GAUGE: { type: tide-gauge, pins: { OUT: level } }
  G: { type: 74HCT14, pins: { 1A: level, 1Y: seen } }
  L: { type: led, through: 1 kohm, pins: { A: seen, K: GND } }
`;
const part = `part: tide-gauge
title: Float and contact, made by hand
category: switch
package: { kind: sip, pins: 3 }
pins:
  - { number: 1, name: VCC, kind: supply }
  - { number: 2, name: OUT, kind: output }
  - { number: 3, name: GND, kind: ground }
bypass: none
sources: { pins: from memory }
`;

const codesIn = (text: string): string[] =>
  projectOf(machine, { 'parts/tide-gauge.yaml': text })
    .findings()
    .filter((finding) => finding.where[0]?.file === 'parts/tide-gauge.yaml')
    .map((finding) => {
      const span = finding.where[0]!;
      return `${finding.code} ${text.slice(span.start, span.end)}`;
    });

test('a sound part of the project serves like any other', () => {
  const project = projectOf(machine, { 'parts/tide-gauge.yaml': part });
  expect(project.findings().filter((finding) => finding.severity === 'error')).toEqual([]);
  expect(project.design().value.netlists[1]?.parts.map((item) => item.type)).toContain('tide-gauge');
});

test.each([
  ['a number twice', part.replace('number: 3', 'number: 2'), /^parts\//],
  ['a pin beyond the package', part.replace('number: 3', 'number: 9'), /^parts\//],
  ['an unknown kind', part.replace('kind: output', 'kind: outputt'), /^yaml\/unknown-word outputt/],
  ['a misspelt key', part.replace('category:', 'catgory:'), /^yaml\/unknown-key catgory/],
  ['a unit of a pin that is not there', `${part}units: [{ name: a, kind: contact, pins: { Y: OUTT } }]\n`, /^parts\//],
  ['a formula that can not be read', `${part}behaviour: { outputs: { OUT: '~(' } }\n`, /^parts\//],
  ['a source that is not named', part.replace('pins: 3 }', 'pins: 3, source: nowhere }'), /^parts\//],
])('%s is a finding in its file', (_what, text, code) => {
  expect(
    codesIn(text).some((line) => code.test(line)),
    codesIn(text).join('\n'),
  ).toBe(true);
});

test('damaged bytes of a part never stop the project', () => {
  const rng = createRng(42);
  for (let n = 0; n < 400; n++) {
    const at = rng.below(part.length);
    const text =
      rng.below(2) === 0
        ? part.slice(0, at)
        : part.slice(0, at) + String.fromCharCode(rng.below(128)) + part.slice(at + 1);
    const project = projectOf(machine, { 'parts/tide-gauge.yaml': text });
    for (const finding of project.findings()) {
      for (const span of finding.where) {
        const length = project.text(span.file)?.length ?? Number.POSITIVE_INFINITY;
        expect(span.start).toBeGreaterThanOrEqual(0);
        expect(span.end).toBeLessThanOrEqual(length);
      }
    }
    expect(project.design().value.netlists[1]?.parts.map((item) => item.name)).toContain('G');
  }
});
