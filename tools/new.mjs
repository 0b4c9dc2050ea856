// npm run new:part -- CATEGORY PART, npm run new:check -- NAME: skeletons that are complete and fail until they are filled in.

import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { root } from './run.mjs';

const [kind, ...words] = process.argv.slice(2);

function stop(message) {
  process.stderr.write(`${message}\n`);
  process.exit(2);
}

function put(name, text) {
  const path = join(root, name);
  if (existsSync(path)) stop(`${name} is there already.`);
  mkdirSync(dirname(path), { recursive: true });
  writeFileSync(path, text);
  process.stdout.write(`made ${name}\n`);
}

function newPart() {
  const folders = readdirSync(join(root, 'data', 'parts')).filter((name) => name !== 'second' && name !== 'families');
  const [folder, part] = words;
  if (folder === undefined || part === undefined || !folders.includes(folder))
    stop(`Usage: npm run new:part -- FOLDER PART, where FOLDER is one of ${folders.join(', ')}.`);
  if (!/^[A-Za-z0-9][A-Za-z0-9.-]*$/.test(part)) stop(`${part} is no name for a part.`);
  const file = part.toLowerCase();
  // TO-FILL stands where a figure or a name is to come; the reader refuses it, so nothing half done passes.
  put(
    `data/parts/${folder}/${file}.yaml`,
    `part: ${/^[0-9.]+$/.test(part) ? `'${part}'` : part}
title: TO-FILL what it is, in a few words
category: TO-FILL
package: { kind: dip, pins: 14, width: 300, source: TO-FILL }
pins:
  - { number: 1, name: TO-FILL, kind: TO-FILL }
supply: { min: 4.5, max: 5.5, source: TO-FILL }
sources:
  pins: 'TO-FILL the maker, the document, the page of the pin table'
`,
  );
  put(
    `data/parts/second/${file}.txt`,
    "source: TO-FILL another reading than the record's: another maker, or another document\nTO-FILL:?\n",
  );
  process.stdout.write('Fill them in from two readings, then: npx vitest run tests/outside/pin-tables.test.ts\n');
}

function newCheck() {
  const [name] = words;
  if (name === undefined || !/^[a-z]+(-[a-z0-9]+)*$/.test(name))
    stop('Usage: npm run new:check -- NAME, such as no-watchdog-strobe.');
  const camel = name.replace(/-([a-z0-9])/g, (_, letter) => letter.toUpperCase());
  put(
    `src/check/rules/${name}.ts`,
    `// TO-FILL: what this rule looks for, and what it leaves to others.

import type { Fact, Rule } from '../rule.ts';

export const ${camel}: Rule = {
  code: 'check/${name}',
  title: 'TO-FILL what is wrong, in one line',
  run(context) {
    const facts: Fact[] = [];
    for (const net of context.view.nets) {
      // TO-FILL: state a fact for each net (or pin, or part) that is wrong.
      if (net.pins.length < 0) facts.push({ about: [net.net.name], severity: 'warning', message: '', why: '', help: '', where: net.net.origin.span });
    }
    return facts;
  },
};
`,
  );
  put(
    `docs/findings/check-${name}.md`,
    `# check/${name}

TO-FILL: what is wrong.

**Why.** TO-FILL: what happens at the bench.

**What to do.** TO-FILL.

## Wrong
\`\`\`yaml
machine: TO-FILL, a machine in which this rule must find something
\`\`\`

## Right
\`\`\`yaml
machine: TO-FILL, the same machine mended
\`\`\`
`,
  );
  const rules = join(root, 'src/check/rules.ts');
  const text = readFileSync(rules, 'utf8');
  writeFileSync(
    rules,
    text
      .replace(
        "import type { Rule } from './rule.ts';",
        `import type { Rule } from './rule.ts';\nimport { ${camel} } from './rules/${name}.ts';`,
      )
      .replace(/\];\s*$/, `  ${camel},\n];\n`),
  );
  process.stdout.write(
    "listed it in src/check/rules.ts\nThe page's examples are run by a test, which fails until the rule finds the wrong one and passes the right one.\n",
  );
}

if (kind === 'part') newPart();
else if (kind === 'check') newCheck();
else stop('Usage: npm run new:part or npm run new:check.');
