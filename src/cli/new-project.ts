// `new`: a project from a template, one of the small ones or one of the machines that come with the tool.

import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { readMachine, refuse, type VerbResult } from '../app/index.ts';
import { nearestName } from '../base/index.ts';
import { writeWhole } from '../server/index.ts';

/** Folders that hold templates, with what each holds. */
export function templates(root: string): Map<string, string> {
  const found = new Map<string, string>();
  for (const place of ['data/templates', 'projects']) {
    const folder = join(root, place);
    if (!existsSync(folder)) continue;
    for (const name of readdirSync(folder).sort()) {
      if (existsSync(join(folder, name, 'machine.yaml'))) found.set(name, join(folder, name));
    }
  }
  return found;
}

function filesIn(folder: string, prefix = ''): string[] {
  return readdirSync(join(folder, prefix))
    .sort()
    .flatMap((name) => {
      const path = prefix === '' ? name : `${prefix}/${name}`;
      return statSync(join(folder, path)).isDirectory() ? filesIn(folder, path) : [path];
    });
}

/** Templates with what their machine files say of themselves, for a page that offers them. */
export function describeTemplates(root: string): { name: string; title: string; about: string }[] {
  return [...templates(root)].map(([name, source]) => {
    const { value } = readMachine('machine.yaml', {
      read: (path) => {
        const full = join(source, path);
        return existsSync(full) ? readFileSync(full, 'utf8') : undefined;
      },
    });
    return { name, title: value.name, about: value.about ?? '' };
  });
}

/** Puts a template's files into a folder that has no machine yet, over nothing that is there; a sentence says why not. */
export function fillFolder(root: string, folder: string, template: string): string | undefined {
  const source = templates(root).get(template);
  if (source === undefined) return `There is no template ${template}.`;
  const files = filesIn(source).filter((path) => !path.startsWith('builds/'));
  const taken = files.find((path) => existsSync(join(folder, path)));
  if (taken !== undefined) return `${taken} is there already.`;
  for (const path of files) writeWhole(join(folder, path), readFileSync(join(source, path)));
  return undefined;
}

/** Makes `folder` from a template; refuses a folder that has anything in it. Builds of a template stay behind. */
export function newProject(root: string, folder: string, template: string | undefined): VerbResult {
  const known = templates(root);
  const name = template ?? 'first-machine';
  const source = known.get(name);
  if (source === undefined) {
    const near = nearestName(name, known.keys());
    return refuse(
      'new/unknown-template',
      `There is no template ${name}${near === undefined ? '.' : `; did you mean ${near}?`}`,
      `Templates: ${[...known.keys()].join(', ')}.`,
    );
  }
  const full = resolve(folder);
  if (existsSync(full) && (!statSync(full).isDirectory() || readdirSync(full).length > 0)) {
    return refuse(
      'new/not-empty',
      `${folder} is there already and is not empty.`,
      'Name a folder that does not exist yet.',
    );
  }
  mkdirSync(full, { recursive: true });
  cpSync(source, full, {
    recursive: true,
    filter: (path) => !path.slice(source.length).replaceAll('\\', '/').startsWith('/builds'),
  });
  const files = filesIn(full);
  return {
    value: { files, template: name },
    findings: [],
    text: `Made ${folder} from ${name}: ${files.join(', ')}.\nNext: proofboard check ${folder}`,
  };
}
