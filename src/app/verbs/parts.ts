// `parts`: the part library, or one type in full.

import type { PartRecord } from '../../parts/index.ts';
import type { Project } from '../project.ts';
import { textTable } from '../table.ts';
import { refuse, type VerbResult } from '../verb.ts';

export function partsVerb(project: Project, type: string | undefined): VerbResult {
  const library = project.library().value;
  const describe = (record: PartRecord): object => ({
    type: record.part,
    title: record.title,
    category: record.category,
    families: record.families ?? [],
    aliases: record.aliases ?? [],
    package: record.package,
    pins: record.pins.map((pin) => ({
      number: pin.number,
      name: pin.name,
      aliases: pin.aliases ?? [],
      kind: pin.kind,
    })),
    grades: Object.keys(record.grades ?? {}),
    sources: record.sources,
  });
  const findings = project.library().findings;
  if (type === undefined) {
    const records = [...library.records].sort((a, b) =>
      a.category === b.category ? (a.part < b.part ? -1 : 1) : a.category < b.category ? -1 : 1,
    );
    return {
      value: { parts: records.map(describe) },
      findings,
      text: textTable(
        records.map((record) => [record.category, record.part, record.title, (record.families ?? []).join(' ')]),
      ),
    };
  }
  const found = library.find(type);
  if (found === undefined) {
    const near = library.nearest(type);
    return refuse(
      'parts/unknown-type',
      `No part record is named ${type}${near === undefined ? '.' : `; did you mean ${near}?`}`,
      'List them all with `proofboard parts`.',
    );
  }
  const { record } = found;
  const pins = [...record.pins].sort((a, b) => a.number - b.number);
  const text = [
    `${found.name}: ${record.title}`,
    packageText(record),
    '',
    textTable(
      pins.map((pin) => [String(pin.number), pin.name, pin.kind, (pin.aliases ?? []).join(', ')]),
      '  ',
    ),
    '',
    ...(record.cautions ?? []).map((caution) => `Caution: ${caution}`),
    ...(record.notes ?? []).map((note) => `Note: ${note}`),
    ...Object.entries(record.sources).map(([key, source]) => `Source of ${key}: ${source}`),
  ].join('\n');
  return { value: { parts: [describe(record)] }, findings, text };
}

function packageText(record: PartRecord): string {
  const { kind, pins, width } = record.package;
  if (kind === 'dip') return `Package: ${pins} pins in two rows, ${(width ?? 300) / 1000} inch apart`;
  return `Package: ${kind}, ${pins} ${pins === 1 ? 'lead' : 'leads'}`;
}
