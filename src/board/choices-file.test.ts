import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { TextEdit } from '../base/index.ts';
import { BoardsFileSchema } from './choices-schema.ts';
import { type ChoiceEdit, editChoices, readChoices } from './choices-file.ts';

const TEXT = `# The bench in the attic.
boards: { across: 1, down: 3 }
places:
  CPU: { at: 2:14e }        # near the window
  R-/INT: { at: 1:5a, to: 1:9a }
keep-clear:
  - { from: 1:50a, to: 1:63j, why: label }
forbidden:
  - 1:3a
supplies:
  main: { plus: 1:t+3, ground: 1:t-3 }
wires:
  - { net: A0, from: 1:3b, to: 2:4c }
cutting: { slack: 4 }
`;
const apply = (text: string, edits: readonly TextEdit[]): string =>
  [...edits]
    .sort((a, b) => b.span.start - a.span.start)
    .reduce((now, edit) => now.slice(0, edit.span.start) + edit.text + now.slice(edit.span.end), text);
const edited = (text: string, edit: ChoiceEdit): string => apply(text, editChoices('b', text, edit)!);

test('a sound file is read whole', () => {
  const { value, findings } = readChoices('b', TEXT);
  expect(findings).toEqual([]);
  expect(value.boards?.length).toBe(3);
  expect(value.places.map((place) => [place.part, place.at, place.to, place.rotation])).toEqual([
    ['CPU', '2:14e', undefined, 0],
    ['R-/INT', '1:5a', '1:9a', 0],
  ]);
  expect(value.forbidden[0]!.hole).toBe('1:3a');
  expect(value.wires[0]).toMatchObject({ net: 'A0', from: '1:3b', to: '2:4c' });
  expect([value.slackMm, value.roundMm]).toEqual([4, 5]);
});

test('what is wrong is said at its place', () => {
  const show = (text: string): string[] =>
    readChoices('b', text).findings.map(
      (finding) => `${finding.code} ${text.slice(finding.where[0]!.start, finding.where[0]!.end)}`,
    );
  expect(show('places:\n  CPU: { at: 2:14k }\n')).toEqual(['board/not-a-hole 2:14k']);
  expect(show('boards: { kind: ful }\n')).toEqual(['board/unknown-kind ful']);
  expect(show('plces: {}\n')).toEqual(['yaml/unknown-key plces']);
  expect(show('boards: { list: [{ kind: full, column: 1, row: 1 }, { kind: half, column: 1, row: 1 }] }\n')[0]).toMatch(
    /^board\/boards-overlap/,
  );
  expect(show('')).toEqual([]);
});

test('edits change one line and leave the rest', () => {
  const moved = edited(TEXT, { do: 'fix', part: 'CPU', at: '3:1e', rotation: 180 });
  expect(moved).toBe(TEXT.replace('{ at: 2:14e }', '{ at: 3:1e, rotation: 180 }'));
  const added = edited(TEXT, { do: 'fix', part: 'ROM', at: '1:1e' });
  expect(added).toContain('  R-/INT: { at: 1:5a, to: 1:9a }\n  ROM: { at: 1:1e }\nkeep-clear');
  expect(edited(added, { do: 'free', part: 'ROM' })).toBe(TEXT);
  expect(edited(edited(TEXT, { do: 'forbid', hole: '2:t+4' }), { do: 'allow', hole: '2:t+4' })).toBe(TEXT);
  const pinned = edited(TEXT, { do: 'pin-wire', net: '/RD', from: '1:1a', to: '1:2a' });
  expect(readChoices('b', pinned).value.wires.length).toBe(2);
  expect(edited(pinned, { do: 'unpin-wire', from: '1:2a', to: '1:1a' })).toBe(TEXT);
  expect(readChoices('b', edited('', { do: 'fix', part: 'CPU', at: '1:1e' })).value.places.length).toBe(1);
  expect(editChoices('b', 'places: { CPU: { at: 1:1e } }\n', { do: 'fix', part: 'X', at: '1:1e' })).toBeUndefined();
});

test('no text makes reader or editor throw, and an edit that is made is read back', () => {
  fc.assert(
    fc.property(fc.nat(TEXT.length), fc.string({ maxLength: 8 }), fc.nat(12), (at, put, take) => {
      const text = TEXT.slice(0, at) + put + TEXT.slice(at + take);
      readChoices('b', text);
      editChoices('b', text, { do: 'fix', part: 'NEW', at: '1:1e' });
      return true;
    }),
    { seed: 42, numRuns: 400 },
  );
});

test('every example of docs/boards-file.md is read without a finding, and together they name every key', () => {
  const page = readFileSync('docs/boards-file.md', 'utf8');
  const examples = [...page.matchAll(/```yaml boards\n([\s\S]*?)```/g)].map((match) => match[1]!);
  expect(examples.length).toBeGreaterThan(7);
  for (const example of examples)
    expect({ example, findings: readChoices('b', example).findings }).toEqual({ example, findings: [] });
  const keys = Object.keys(BoardsFileSchema.properties).filter((key) => key !== 'format');
  for (const key of keys)
    expect(examples.some((example) => example.startsWith(`${key}:`) || example.includes(`\n${key}:`))).toBe(true);
});
