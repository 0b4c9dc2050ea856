// Machines of projects/ with a line taken out or a word changed: whatever is left is read, elaborated and checked; nothing
// throws, and what is wrong is said with findings that have a code and a message.

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { createRng } from '../../src/base/index.ts';
import { projectOf } from '../support/library.ts';

/** Texts of which each word may become another: types, pins, nets and numbers that exist elsewhere. */
const OTHERS = [
  'CPU',
  'SEL',
  '"8088"',
  '"6809"',
  '65C02',
  '22V10',
  '"74138"',
  '"74574"',
  'GND',
  'main',
  'D0',
  '0x8000',
  'open',
];

test.each(readdirSync('projects'))('%s, broken in many ways', (name) => {
  const lines = readFileSync(join('projects', name, 'machine.yaml'), 'utf8').split('\n');
  const rng = createRng(7);
  for (let round = 0; round < 12; round++) {
    const broken = [...lines];
    const at = rng.below(broken.length);
    if (round % 2 === 0) broken.splice(at, 1 + rng.below(3));
    else {
      const words = broken[at]!.split(/(?<=[\s,[{])/);
      words[rng.below(words.length)] = `${OTHERS[rng.below(OTHERS.length)]!} `;
      broken[at] = words.join('');
    }
    const project = projectOf(broken.join('\n'));
    const where = `round ${round}, line ${at + 1}`;
    expect(() => project.findings(), where).not.toThrow();
    for (const finding of project.findings())
      expect(finding.code.length * finding.message.length, where).toBeGreaterThan(0);
  }
});
