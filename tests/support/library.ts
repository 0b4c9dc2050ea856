// The shipped part library, read from data/parts for tests.

import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { Project, type Shipped } from '../../src/app/index.ts';
import type { Finding } from '../../src/base/index.ts';
import { type FamilyRecord, type PartRecord, readFamily, readPart } from '../../src/parts/index.ts';

function yamlFiles(folder: string): string[] {
  return readdirSync(folder)
    .sort()
    .flatMap((name) => {
      const path = join(folder, name);
      if (statSync(path).isDirectory()) return yamlFiles(path);
      return name.endsWith('.yaml') ? [path] : [];
    });
}

let loaded: Shipped | undefined;

/** Records, families and blocks as the tool ships them. */
export function shipped(): Shipped {
  if (loaded !== undefined) return loaded;
  const parts: PartRecord[] = [];
  const families: FamilyRecord[] = [];
  for (const path of yamlFiles('data/parts')) {
    const text = readFileSync(path, 'utf8');
    if (path.includes('families')) {
      const family = readFamily(path, text).value;
      if (family !== undefined) families.push(family);
    } else {
      const part = readPart(path, text).value;
      if (part !== undefined) parts.push(part);
    }
  }
  const files = Object.fromEntries(
    yamlFiles('data/blocks').map((path) => [
      `shipped:blocks/${path.replaceAll('\\', '/').split('/').pop()}`,
      readFileSync(path, 'utf8'),
    ]),
  );
  loaded = { parts, families, files };
  return loaded;
}

/** A project of one machine file, with other files where given. */
export function projectOf(machine: string, others: Readonly<Record<string, string>> = {}): Project {
  return new Project(shipped(), new Map([['machine.yaml', machine], ...Object.entries(others)]));
}

/** Findings as short lines: severity, code and message. */
export function lines(findings: readonly Finding[]): string[] {
  return findings.map((finding) => `${finding.severity} ${finding.code} ${finding.message}`);
}
