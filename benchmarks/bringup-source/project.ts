// A project's folder as the capture source takes it: layout, images and the newest fuse files, read with an own eye.

import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { SourceMachine } from './source.ts';

/**
 * The files of a build. `images` says which file a ROM holds where it is not what machine.yaml's `holds` names; every image of
 * the firmware folder can be had by mistake.
 */
export function readProject(
  folder: string,
  options: { readonly build?: string; readonly images?: Readonly<Record<string, string>> } = {},
): SourceMachine {
  const build = join(folder, 'builds', options.build ?? 'first');
  const machine = readFileSync(join(folder, 'machine.yaml'), 'utf8');
  const images: Record<string, string> = {};
  for (const found of machine.matchAll(/^\s*([\w-]+):\s*\{[^}\n]*\bholds:\s*([^\s,}]+)/gm))
    images[found[1]!] = found[2]!;
  Object.assign(images, options.images);
  const fuses: Record<string, string> = {};
  const newest: Record<string, number> = {};
  if (existsSync(join(build, 'fuses')))
    for (const file of readdirSync(join(build, 'fuses'))) {
      const found = /^(.*)-r(\d+)\.jed$/.exec(file);
      if (found === null || (newest[found[1]!] ?? 0) >= Number(found[2])) continue;
      newest[found[1]!] = Number(found[2]);
      fuses[found[1]!] = readFileSync(join(build, 'fuses', file), 'latin1');
    }
  const firmware = existsSync(join(folder, 'firmware'))
    ? readdirSync(join(folder, 'firmware')).filter((name) => name.endsWith('.hex'))
    : [];
  const rate = /rate:\s*([\d.]+)\s*([kM])Hz/.exec(machine);
  return {
    layout: JSON.parse(readFileSync(join(build, 'layout.json'), 'utf8')),
    images: Object.fromEntries(
      Object.entries(images).map(([part, file]) => [part, readFileSync(join(folder, file), 'utf8')]),
    ),
    fuses,
    otherImages: Object.fromEntries(
      firmware
        .filter((name) => !Object.values(images).includes(`firmware/${name}`))
        .map((name) => [`firmware/${name}`, readFileSync(join(folder, 'firmware', name), 'utf8')]),
    ),
    clockHz: rate === null ? 4e6 : Number(rate[1]) * (rate[2] === 'M' ? 1e6 : 1e3),
  };
}
