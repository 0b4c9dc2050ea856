// Every figure of every part record with where it was read and how sure that is, as data and as a Markdown page. It judges
// by what the records say of their sources and looks nothing up; it writes no file.

import { compareNatural } from '../base/index.ts';
import type { PartRecord } from './record.ts';
import type { SecondTable } from './second.ts';

/**
 * How far a figure can be relied on: `read` in a document that the source names, `partly` where the source says that some of
 * it is from memory, `practice` for common practice that no document stands behind, `memory`, or `none` without a source.
 */
export type Sureness = 'read' | 'partly' | 'practice' | 'memory' | 'none';
export const SURENESS: readonly Sureness[] = ['read', 'partly', 'practice', 'memory', 'none'];

/** One number, or one entry of `facts`. */
export interface PartFigure {
  readonly part: string;
  /** Where in the record: `grades 2 MHz arcs tCY min`. */
  readonly what: string;
  readonly value: number | string | boolean;
  /** The source in words, or undefined where the record gives none. */
  readonly source: string | undefined;
  readonly sureness: Sureness;
}

/** Blocks of a record that hold figures; the rest are names, tables and rules. */
const BLOCKS = ['package', 'supply', 'current', 'clock', 'inputs', 'outputs', 'arcs', 'grades', 'facts'] as const;
/** Numbers of a package that count or name leads instead of measuring them. */
const NO_FIGURES: ReadonlySet<string> = new Set(['pins', 'width', 'leads', 'only']);

/** What a source's words say of its sureness. */
export function surenessOf(source: string | undefined): Sureness {
  if (source === undefined) return 'none';
  if (/^from memory\b/i.test(source)) return /\bchecked\b.*\bagainst\b/i.test(source) ? 'read' : 'memory';
  if (/^(?:common practice|no document)\b/i.test(source)) return 'practice';
  return /\bfrom memory\b/i.test(source) ? 'partly' : 'read';
}

/**
 * The figures of a record in the order of its blocks. A figure's source is that of the nearest block around it that names
 * one; `facts` have `sources.facts`, or `sources.facts.NAME` for one alone.
 */
export function figuresOf(record: PartRecord): PartFigure[] {
  const figures: PartFigure[] = [];
  const words = (key: string | undefined): string | undefined =>
    key === undefined ? undefined : Object.hasOwn(record.sources, key) ? record.sources[key] : key;
  const add = (what: readonly string[], value: number | string | boolean, source: string | undefined): void => {
    figures.push({ part: record.part, what: what.join(' '), value, source, sureness: surenessOf(source) });
  };
  const walk = (value: unknown, what: readonly string[], source: string | undefined): void => {
    if (typeof value === 'number') add(what, value, source);
    else if (Array.isArray(value))
      value.forEach((entry, index) => {
        walk(entry, [...what, labelOf(entry) ?? String(index + 1)], source);
      });
    else if (typeof value === 'object' && value !== null) {
      const block = value as Readonly<Record<string, unknown>>;
      const own = typeof block['source'] === 'string' ? words(block['source']) : source;
      for (const [key, inner] of Object.entries(block)) walk(inner, [...what, key], own);
    }
  };
  for (const block of BLOCKS) {
    if (block === 'facts') {
      for (const [name, value] of Object.entries(record.facts ?? {}))
        add(['facts', name], value, record.sources[`facts.${name}`] ?? record.sources['facts']);
    } else if (block === 'package') {
      const measures = Object.entries(record.package).filter(([key]) => !NO_FIGURES.has(key));
      walk(Object.fromEntries(measures), ['package'], undefined);
    } else walk(record[block], [block], undefined);
  }
  return figures;
}

/** The maker's symbol of an arc, which tells more than its place in the list. */
function labelOf(entry: unknown): string | undefined {
  if (typeof entry !== 'object' || entry === null) return undefined;
  const symbol = (entry as Readonly<Record<string, unknown>>)['symbol'];
  return typeof symbol === 'string' ? symbol : undefined;
}

/** A record with its second pin table, where it has one. */
export interface PartWithTables {
  readonly record: PartRecord;
  readonly second?: SecondTable;
}

export interface FiguresPage {
  /** Markdown, ending in a line break. */
  readonly text: string;
  readonly figures: number;
  /** Figures by sureness. */
  readonly bySureness: Readonly<Record<Sureness, number>>;
  /** Parts by the number of their two pin tables that a document stands behind: none, one, both. */
  readonly byReadings: readonly [number, number, number];
}

const WORD: Readonly<Record<Sureness, string>> = {
  read: 'read',
  partly: 'partly from memory',
  practice: 'common practice, no document',
  memory: 'from memory',
  none: 'no source',
};

/** The page over all parts, in natural order of their names. Cost grows with the number of figures. */
export function printFiguresPage(parts: readonly PartWithTables[]): FiguresPage {
  const bySureness: Record<Sureness, number> = { read: 0, partly: 0, practice: 0, memory: 0, none: 0 };
  const byReadings: [number, number, number] = [0, 0, 0];
  const rows: string[] = [];
  const sections: string[] = [];
  let total = 0;
  const sorted = [...parts].sort((a, b) => compareNatural(a.record.part, b.record.part));
  for (const { record, second } of sorted) {
    const figures = figuresOf(record);
    total += figures.length;
    for (const figure of figures) bySureness[figure.sureness]++;
    const tables = [record.sources['pins'], second?.source].map(surenessOf);
    const readings = tables.filter((sureness) => sureness === 'read' || sureness === 'partly').length;
    byReadings[readings as 0 | 1 | 2]++;
    const remembered = figures.filter((figure) => figure.sureness !== 'read' && figure.sureness !== 'practice').length;
    rows.push(`| ${cell(record.part)} | ${cell(record.title)} | ${readings} | ${figures.length} | ${remembered} |`);
    sections.push(`### ${record.part}`, '', ...sectionOf(record, second, figures), '');
  }
  const counts = SURENESS.map((sureness) => `${bySureness[sureness]} ${WORD[sureness]}`).join(', ');
  const text = [
    '# Parts and their figures',
    '',
    'Made from the part records; change those, not this page. A figure is a number of a record or an entry of its `facts`. A',
    'source is what the record says of it. Figures from memory are to be looked up in the sheet of the maker whose part you',
    'have, before anything is built on them.',
    '',
    `${sorted.length} parts, ${total} figures: ${counts}.`,
    '',
    `Pin tables stand in each record twice. For ${byReadings[2]} parts both were read in documents, for ${byReadings[1]} one, for ${byReadings[0]} neither.`,
    '',
    '| part | what it is | pin tables read | figures | not wholly read |',
    '|---|---|---|---|---|',
    ...rows,
    '',
    '## Figures, by source',
    '',
    ...sections,
  ].join('\n');
  return { text: `${text.trimEnd()}\n`, figures: total, bySureness, byReadings };
}

function sectionOf(record: PartRecord, second: SecondTable | undefined, figures: readonly PartFigure[]): string[] {
  const tables = [record.sources['pins'], second?.source];
  const lines = tables.map((source, index) => {
    const name = index === 0 ? 'Pins' : 'Pins again';
    return `- ${name} (${WORD[surenessOf(source)]})${source === undefined ? '' : `: ${plain(source)}`}`;
  });
  const bySource = new Map<string, PartFigure[]>();
  for (const figure of figures) {
    const key = figure.source ?? '';
    bySource.set(key, [...(bySource.get(key) ?? []), figure]);
  }
  for (const [source, group] of bySource) {
    const listed = group.map((figure) => `${plain(figure.what)} ${plain(String(figure.value))}`).join('; ');
    const named = source === '' || /^from memory$/i.test(source) ? '' : `: ${plain(source)}`;
    lines.push(`- ${group.length} ${WORD[group[0]!.sureness]}${named}`, `  - ${listed}`);
  }
  return lines;
}

/** Text for a table's cell. */
function cell(text: string): string {
  return plain(text).replaceAll('|', '\\|');
}

/** Text on one line that Markdown leaves alone. */
function plain(text: string): string {
  return text.replace(/\s+/g, ' ').replace(/[\\`*_<>[\]]/g, '\\$&');
}
