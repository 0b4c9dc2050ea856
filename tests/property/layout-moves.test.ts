// A stage that moves a part: its place differs by stage in the layout, is proved at every stage, and the steps carry it over.

import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { Build, Project } from '../../src/app/index.ts';
import {
  type Layout,
  lay,
  layoutAt,
  openEditor,
  printLayout,
  proveLayout,
  readChoices,
} from '../../src/board/index.ts';
import { shipped } from '../support/library.ts';

const MACHINE = readFileSync('projects/tide-clerk/machine.yaml', 'utf8').replace(
  '  - stage: memory\n',
  '  - stage: memory\n    moves: OSC\n',
);
const STAGE = 4;

const laid = (choices: string): { project: Project; layout: Layout; findings: readonly string[] } => {
  const project = new Project(shipped(), new Map([['machine.yaml', MACHINE]]));
  const read = readChoices('boards.yaml', choices);
  const { value, findings } = lay(project.design().value, read.value, undefined, { seed: 1, moves: 30_000 });
  return { project, layout: value, findings: [...read.findings, ...findings].map((finding) => finding.message) };
};
const place = (layout: Layout, part: string, stage: number): string =>
  layoutAt(layout, stage)
    .parts.filter((one) => one.part === part)
    .map((one) => one.leads[0]!.hole)
    .join();

test('a part that may move stays where moving it saves too little', () => {
  const { layout, findings, project } = laid('boards: { across: 1, down: 4 }\n');
  expect(findings).toEqual([]);
  for (const part of ['OSC', 'C-OSC']) {
    expect(layout.parts.filter((one) => one.part === part).map((one) => one.stage)).toEqual([2, STAGE]);
    if (place(layout, 'OSC', 2) === place(layout, 'OSC', STAGE))
      expect(place(layout, part, 2)).toBe(place(layout, part, STAGE));
  }
  expect(proveLayout(layout, project.design().value.netlists)).toEqual([]);
});

test('places fixed by stage are kept to, wires follow, and one step moves it', () => {
  const { layout, findings, project } = laid(
    'boards: { across: 1, down: 5 }\nplaces:\n  OSC: { at: 5:5e }\nmoved:\n  - { part: OSC, stage: 4, at: 5:40e }\n',
  );
  expect(findings).toEqual([]);
  expect([2, 3, 4, 6].map((stage) => place(layout, 'OSC', stage))).toEqual(['5:5e', '5:5e', '5:40e', '5:40e']);
  expect(place(layout, 'C-OSC', 3)).not.toBe(place(layout, 'C-OSC', 4));
  const design = project.design().value;
  expect(proveLayout(layout, design.netlists)).toEqual([]);
  // Laid again it stays.
  const again = lay(
    design,
    readChoices('b', 'boards: { across: 1, down: 5 }\nmoved:\n  - { part: OSC, stage: 4, at: 5:40e }\n').value,
    layout,
    { seed: 9 },
  );
  expect(again.value.parts.map((part) => part.leads)).toEqual(layout.parts.map((part) => part.leads));
  // The steps.
  const files = new Map([
    ['machine.yaml', MACHINE],
    ['builds/first/layout.json', printLayout(layout)],
  ]);
  const build = new Build(new Project(shipped(), files), 'first');
  const steps = build.wholePlan()!.value.steps.filter((step) => step.part === 'OSC');
  expect(steps.map((step) => [step.do, step.stage])).toEqual([
    ['place', 2],
    ['move', 4],
  ]);
  // A drag at a stage moves the piece of that stage.
  const editor = openEditor(design, readChoices('b', '').value, layout);
  const free = Array.from({ length: 50 }, (_, i) => `5:${i + 3}e`).find((at) => {
    const tried = editor.value.move({ part: 'OSC', at, stage: 3 });
    return tried.findings.length === 0 && at !== place(layout, 'OSC', 3);
  });
  expect(free).toBeDefined();
  const moved = openEditor(design, readChoices('b', '').value, layout).value.move({ part: 'OSC', at: free!, stage: 3 });
  expect(moved.findings).toEqual([]);
  expect([place(moved.value.layout, 'OSC', 3), place(moved.value.layout, 'OSC', 4)]).toEqual([free, '5:40e']);
});
