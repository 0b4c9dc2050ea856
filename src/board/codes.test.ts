import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { BOARD_CODES } from './codes.ts';

test('the table, the code and the pages name the same codes', () => {
  const used = new Set(
    readdirSync('src/board')
      .filter((name) => name.endsWith('.ts') && !name.endsWith('.test.ts') && name !== 'codes.ts')
      .flatMap((name) =>
        [...readFileSync(`src/board/${name}`, 'utf8').matchAll(/'(board\/[a-z-]+)'/g)].map((m) => m[1]!),
      ),
  );
  expect([...used].sort()).toEqual(Object.keys(BOARD_CODES).sort());
  const pages = readdirSync('docs/findings').filter((name) => name.startsWith('board-'));
  expect(pages.sort()).toEqual(
    Object.keys(BOARD_CODES)
      .map((code) => `${code.replace('/', '-')}.md`)
      .sort(),
  );
  for (const [code, sentence] of Object.entries(BOARD_CODES)) {
    const page = readFileSync(`docs/findings/${code.replace('/', '-')}.md`, 'utf8');
    expect(page).toContain(`# ${code}\n`);
    expect(page).toContain(sentence);
  }
});
