// Every machine of projects/ is one that a builder could begin tomorrow: it reads, elaborates and checks without an error, and
// what is only doubtful is waived with a reason. The counts are those of the machine files, taken down once.

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { Build, Project } from '../../src/app/index.ts';
import { lines, projectOf, shipped } from '../support/library.ts';

/** Chips on the boards at the end, and stages. */
const COUNTS: Readonly<Record<string, readonly [chips: number, stages: number]>> = {
  carillon: [18, 9],
  'light-keeper': [18, 10],
  'signal-box': [20, 9],
  'tide-clerk': [8, 6],
  'weir-keeper': [18, 9],
};

const NO_CHIPS = new Set(['connector', 'discrete', 'switch', 'display', 'clock']);

describe.each(readdirSync('projects'))('%s', (name) => {
  const project = projectOf(readFileSync(join('projects', name, 'machine.yaml'), 'utf8'));

  test('checks clean at every stage', () => {
    expect(lines(project.findings().filter((finding) => finding.severity !== 'note'))).toEqual([]);
  });

  test('has the chips and stages that it should', () => {
    const { value: design } = project.design();
    const last = design.netlists[design.netlists.length - 1]!;
    const chips = last.parts.filter((part) => part.implied === undefined && !NO_CHIPS.has(part.record.category));
    expect([chips.length, design.stages.length]).toEqual(COUNTS[name]);
  });

  test('every stage adds something, says how it is proved, and leaves no strap behind', () => {
    const { value: design } = project.design();
    for (const { decl } of design.stages) {
      expect(decl.adds.length + decl.replaces.length, decl.name).toBeGreaterThan(0);
      expect(decl.prove.length, decl.name).toBeGreaterThan(0);
    }
    const last = design.netlists[design.netlists.length - 1]!;
    expect(last.parts.filter((part) => part.temporary).map((part) => part.name)).toEqual([]);
  });
});

test.each(readdirSync('projects'))(
  '%s: the layout that ships gives the netlist, hole by hole, at every stage',
  (name) => {
    const files = new Map(
      ['machine.yaml', 'builds/first/layout.json'].map((path) => [
        path,
        readFileSync(`projects/${name}/${path}`, 'utf8'),
      ]),
    );
    const build = new Build(new Project(shipped(), files), 'first');
    expect(build.layout().value?.wires.length ?? 0).toBeGreaterThan(100);
    expect(lines(build.proof())).toEqual([]);
  },
);
