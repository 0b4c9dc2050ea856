// The documents: links lead somewhere, files that are named exist.

import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { expect, test } from 'vitest';

function pages(folder: string): string[] {
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    if (statSync(path).isDirectory()) return pages(path);
    return name.endsWith('.md') ? [path] : [];
  });
}

const all = ['README.md', 'ARCHITECTURE.md', 'CONTRIBUTING.md', ...pages('docs')];

test.each(all)('%s: every link leads to a file', (page) => {
  const text = readFileSync(page, 'utf8').replace(/```[\s\S]*?```/g, '');
  const broken = [...text.matchAll(/\]\(([^)\s]+)\)/g)]
    .map((match) => match[1]!)
    .filter((link) => !/^[a-z]+:|^#/.test(link) && !existsSync(resolve(dirname(page), link.replace(/#.*$/, ''))));
  expect(broken).toEqual([]);
});

test('the architecture is a page that can be read at a sitting, and names every folder there is', () => {
  const text = readFileSync('ARCHITECTURE.md', 'utf8');
  expect(text.split('\n').length).toBeLessThanOrEqual(200);
  const folders = readdirSync('src').filter((name) => statSync(join('src', name)).isDirectory());
  for (const folder of folders) expect(text, folder).toContain(`\`${folder}\``);
});
