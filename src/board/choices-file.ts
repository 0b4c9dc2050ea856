// boards.yaml: reading it, and changing it as a person would: one line at a time, comments and order left alone.

import { type Finding, nearestName, type Result, type TextEdit } from '../base/index.ts';
import { readYaml } from '../yaml/index.ts';
import { type BoardChoice, type FixedPlace, type LayoutChoices, NO_CHOICES } from './choices.ts';
import { BoardsFileSchema } from './choices-schema.ts';
import { BOARD_KINDS, findBoardKind, parseHole } from './geometry.ts';

/** What the reader looks at; everything optional because a broken file yields what is sound. */
interface Read {
  boards?: { kind?: string; across?: number; down?: number; list?: { kind?: string; column?: number; row?: number }[] };
  places?: Record<string, { at?: string; to?: string; rotation?: number }>;
  moved?: { part?: string; stage?: number; at?: string; to?: string; rotation?: number }[];
  'keep-clear'?: { from?: string; to?: string; why?: string }[];
  forbidden?: string[];
  supplies?: Record<string, { plus?: string; ground?: string }>;
  rails?: Record<string, string>;
  wires?: { net?: string; from?: string; to?: string }[];
  exchange?: string[];
  cutting?: { slack?: number; round?: number };
}

/** Reads boards.yaml; an empty text chooses nothing. Never throws. */
export function readChoices(file: string, text: string): Result<LayoutChoices> {
  if (/^(?:\s|#.*)*$/.test(text)) return { value: NO_CHOICES, findings: [] };
  const reading = readYaml(file, text, BoardsFileSchema);
  const findings: Finding[] = [...reading.findings];
  const read = (reading.value ?? {}) as Read;
  const report = (code: string, message: string, path: readonly (string | number)[], help: string): void => {
    findings.push({ code, severity: 'error', message, where: [reading.spanOf(path)], notes: [], help });
  };
  const holeHelp = 'Holes are named board, column, row, such as 2:34e, or on a rail 2:t+31.';
  const hole = (value: string | undefined, path: readonly (string | number)[]): string | undefined => {
    if (value === undefined) return undefined;
    if (parseHole(value) !== undefined) return value;
    report('board/not-a-hole', `"${value.slice(0, 30)}" is not the name of a hole.`, path, holeHelp);
    return undefined;
  };
  const kindOf = (value: string | undefined, path: readonly (string | number)[]): string | undefined => {
    if (value === undefined) return undefined;
    if (findBoardKind(value) !== undefined) return value;
    const names = BOARD_KINDS.map((kind) => kind.name);
    const near = nearestName(value, names);
    report(
      'board/unknown-kind',
      `There is no kind of board called "${value.slice(0, 30)}"${near === undefined ? '' : `; did you mean ${near}?`}`,
      path,
      `One of: ${names.join(', ')}.`,
    );
    return undefined;
  };
  const kind = kindOf(read.boards?.kind, ['boards', 'kind']) ?? NO_CHOICES.kind;
  let boards: BoardChoice[] | undefined;
  if (read.boards?.list !== undefined) {
    boards = read.boards.list.flatMap((entry, i) => {
      const own = kindOf(entry.kind, ['boards', 'list', i, 'kind']);
      return own === undefined || entry.column === undefined || entry.row === undefined
        ? []
        : [{ kind: own, column: entry.column, row: entry.row }];
    });
    const seen = new Map<string, number>();
    boards.forEach((board, i) => {
      const key = `${board.column}/${board.row}`;
      const before = seen.get(key);
      if (before !== undefined)
        report(
          'board/boards-overlap',
          `Boards ${before + 1} and ${i + 1} lie in the same place, column ${board.column}, row ${board.row}.`,
          ['boards', 'list', i],
          'Give each board a place of its own.',
        );
      else seen.set(key, i);
    });
    boards = boards.filter((board, i) => seen.get(`${board.column}/${board.row}`) === i);
    if (boards.length === 0) boards = undefined;
  } else if (read.boards?.across !== undefined || read.boards?.down !== undefined) {
    const across = read.boards.across ?? 1;
    const down = read.boards.down ?? 1;
    if (across * down > 99)
      report('board/too-many-boards', `${across} by ${down} boards are more than 99.`, ['boards'], 'Use fewer boards.');
    else
      boards = Array.from({ length: across * down }, (_, i) => ({
        kind,
        column: (i % across) + 1,
        row: Math.floor(i / across) + 1,
      }));
  }
  const placeAt = (
    part: string,
    place: { at?: string; to?: string; rotation?: number },
    path: readonly (string | number)[],
  ): FixedPlace[] => {
    const at = hole(place.at, [...path, 'at']);
    const to = hole(place.to, [...path, 'to']);
    const rotation = place.rotation ?? 0;
    if (at === undefined || (place.to !== undefined && to === undefined)) return [];
    if (rotation !== 0 && rotation !== 90 && rotation !== 180 && rotation !== 270) return [];
    return [{ part, at, to, rotation, span: reading.spanOf(path) }];
  };
  const places = [
    ...Object.entries(read.places ?? {}).flatMap(([part, place]) => placeAt(part, place, ['places', part])),
    ...(read.moved ?? []).flatMap((place, i) =>
      place.part === undefined || place.stage === undefined
        ? []
        : placeAt(place.part, place, ['moved', i]).map((one) => ({ ...one, stage: place.stage! })),
    ),
  ];
  const pair = <T>(
    list: readonly T[] | undefined,
    key: string,
    ends: (item: T) => readonly [string | undefined, string | undefined],
  ): { item: T; from: string; to: string; index: number }[] =>
    (list ?? []).flatMap((item, index) => {
      const [from, to] = ends(item);
      const a = hole(from, [key, index, 'from']);
      const b = hole(to, [key, index, 'to']);
      return a === undefined || b === undefined ? [] : [{ item, from: a, to: b, index }];
    });
  return {
    value: {
      boards,
      kind,
      places,
      keepClear: pair(read['keep-clear'], 'keep-clear', (zone) => [zone.from, zone.to]).map((zone) => ({
        from: zone.from,
        to: zone.to,
        span: reading.spanOf(['keep-clear', zone.index]),
      })),
      forbidden: (read.forbidden ?? []).flatMap((name, i) => {
        const sound = hole(name, ['forbidden', i]);
        return sound === undefined ? [] : [{ hole: sound, span: reading.spanOf(['forbidden', i]) }];
      }),
      supplies: Object.entries(read.supplies ?? {}).flatMap(([supply, entry]) => {
        const plus = hole(entry.plus, ['supplies', supply, 'plus']);
        const ground = hole(entry.ground, ['supplies', supply, 'ground']);
        return plus === undefined || ground === undefined
          ? []
          : [{ supply, plus, ground, span: reading.spanOf(['supplies', supply]) }];
      }),
      rails: Object.entries(read.rails ?? {}).flatMap(([name, net]) => {
        const sound = hole(name, ['rails', name]);
        return sound === undefined ? [] : [{ hole: sound, net, span: reading.spanOf(['rails', name]) }];
      }),
      wires: pair(read.wires, 'wires', (wire) => [wire.from, wire.to]).flatMap(({ item, from, to, index }) =>
        item.net === undefined ? [] : [{ net: item.net, from, to, span: reading.spanOf(['wires', index]) }],
      ),
      freedoms: (['nothing', 'image', 'fuses'] as const).filter((_, i) =>
        (read.exchange ?? []).includes(['pins', 'images', 'fuses'][i]!),
      ),
      slackMm: read.cutting?.slack ?? NO_CHOICES.slackMm,
      roundMm: read.cutting?.round ?? NO_CHOICES.roundMm,
    },
    findings,
  };
}

/** A change that an edit on the drawing makes to boards.yaml. */
export type ChoiceEdit =
  | {
      readonly do: 'fix';
      readonly part: string;
      readonly at: string;
      readonly to?: string;
      readonly rotation?: 0 | 90 | 180 | 270;
    }
  | { readonly do: 'free'; readonly part: string }
  | { readonly do: 'forbid'; readonly hole: string }
  | { readonly do: 'allow'; readonly hole: string }
  | { readonly do: 'pin-wire'; readonly net: string; readonly from: string; readonly to: string }
  | { readonly do: 'unpin-wire'; readonly from: string; readonly to: string };

/**
 * The text edits that carry out a change, in a block-style file as this writes it; comments and all else stay. A file whose
 * section is written in one line (flow style) gets its own line for the addition only where the section is absent; else
 * undefined is returned and the person edits it by hand.
 */
export function editChoices(file: string, text: string, edit: ChoiceEdit): TextEdit[] | undefined {
  const eol = text.includes('\r\n') ? '\r\n' : '\n';
  const lines = splitLines(text);
  const insert = (offset: number, line: string): TextEdit[] => {
    const before = offset > 0 && !/[\r\n]/.test(text[offset - 1]!) ? eol : '';
    return [{ span: { file, start: offset, end: offset }, text: `${before}${line}${eol}` }];
  };
  const drop = (line: Line): TextEdit[] => [{ span: { file, start: line.start, end: line.end }, text: '' }];
  const section = findSection(lines, sectionOf(edit));
  if (section === 'flow') return undefined;
  const entries = section?.entries ?? [];
  if (edit.do === 'fix') {
    const fields = [`at: ${edit.at}`];
    if (edit.to !== undefined) fields.push(`to: ${edit.to}`);
    if (edit.rotation !== undefined && edit.rotation !== 0) fields.push(`rotation: ${edit.rotation}`);
    const value = `{ ${fields.join(', ')} }`;
    const old = entries.find((entry) => keyOf(entry.text)?.toLowerCase() === edit.part.toLowerCase());
    if (old !== undefined) {
      const range = valueRange(old.text);
      if (range === undefined) return undefined;
      return [{ span: { file, start: old.start + range[0], end: old.start + range[1] }, text: value }];
    }
    const line = `${section?.indent ?? '  '}${quoteKey(edit.part)}: ${value}`;
    return section === undefined ? insert(text.length, `places:${eol}${line}`) : insert(section.after, line);
  }
  if (edit.do === 'free') {
    const old = entries.find((entry) => keyOf(entry.text)?.toLowerCase() === edit.part.toLowerCase());
    if (old === undefined) return [];
    return entries.length === 1 && section !== undefined
      ? [{ span: { file, start: section.start, end: old.end }, text: '' }]
      : drop(old);
  }
  if (edit.do === 'forbid' || edit.do === 'allow') {
    const old = entries.find((entry) => /^\s*-\s*(\S+?)\s*(?:#.*)?$/.exec(entry.text)?.[1] === edit.hole);
    if (edit.do === 'allow') {
      if (old === undefined) return [];
      return entries.length === 1 && section !== undefined
        ? [{ span: { file, start: section.start, end: old.end }, text: '' }]
        : drop(old);
    }
    if (old !== undefined) return [];
    const line = `${section?.indent ?? '  '}- ${edit.hole}`;
    return section === undefined ? insert(text.length, `forbidden:${eol}${line}`) : insert(section.after, line);
  }
  const { from, to } = edit;
  const old = entries.find((entry) => {
    const a = /\bfrom:\s*([^\s,}]+)/.exec(entry.text)?.[1];
    const b = /\bto:\s*([^\s,}]+)/.exec(entry.text)?.[1];
    return (a === from && b === to) || (a === to && b === from);
  });
  if (edit.do === 'unpin-wire') {
    if (old === undefined) return [];
    return entries.length === 1 && section !== undefined
      ? [{ span: { file, start: section.start, end: old.end }, text: '' }]
      : drop(old);
  }
  if (old !== undefined) return [];
  const line = `${section?.indent ?? '  '}- { net: ${quoteValue(edit.net)}, from: ${from}, to: ${to} }`;
  return section === undefined ? insert(text.length, `wires:${eol}${line}`) : insert(section.after, line);
}

interface Line {
  readonly text: string;
  readonly start: number;
  /** Behind the line's end. */
  readonly end: number;
}

function splitLines(text: string): Line[] {
  const lines: Line[] = [];
  const pattern = /[^\r\n]*(?:\r\n|\n|\r|$)/g;
  for (const match of text.matchAll(pattern)) {
    if (match[0] === '' && match.index >= text.length) break;
    lines.push({ text: match[0].replace(/[\r\n]+$/, ''), start: match.index, end: match.index + match[0].length });
  }
  return lines;
}

function sectionOf(edit: ChoiceEdit): string {
  if (edit.do === 'fix' || edit.do === 'free') return 'places';
  return edit.do === 'forbid' || edit.do === 'allow' ? 'forbidden' : 'wires';
}

function findSection(
  lines: readonly Line[],
  key: string,
): { start: number; after: number; indent: string; entries: Line[] } | 'flow' | undefined {
  const at = lines.findIndex((line) => new RegExp(`^${key}\\s*:`).test(line.text));
  if (at < 0) return undefined;
  if (!new RegExp(`^${key}\\s*:\\s*(?:#.*)?$`).test(lines[at]!.text)) return 'flow';
  const entries: Line[] = [];
  let after = lines[at]!.end;
  let indent: string | undefined;
  for (let i = at + 1; i < lines.length; i++) {
    const line = lines[i]!;
    if (/^\s*(?:#.*)?$/.test(line.text)) continue;
    const own = /^\s*/.exec(line.text)![0];
    if (own === '' && !line.text.startsWith('-')) break;
    if (indent === undefined) indent = own;
    // A deeper line belongs to the entry before it: such entries are in the long form, which is not edited here.
    if (own.length > indent.length) return 'flow';
    entries.push(line);
    after = line.end;
  }
  return { start: lines[at]!.start, after, indent: indent ?? '  ', entries };
}

function keyOf(line: string): string | undefined {
  const match = /^\s*(?:"([^"]*)"|'([^']*)'|([^\s:#][^:#]*?))\s*:(?:\s|$)/.exec(line);
  return match === null ? undefined : (match[1] ?? match[2] ?? match[3]);
}

/** The stretch of a one-line flow value after its key. */
function valueRange(line: string): readonly [number, number] | undefined {
  const open = line.indexOf('{');
  const close = line.indexOf('}', open);
  return open < 0 || close < 0 ? undefined : [open, close + 1];
}

function quoteKey(name: string): string {
  return /^[A-Za-z_/][\w/.+-]*$/.test(name) && !/^(?:true|false|null|yes|no|on|off|[Nn]ull|~)$/i.test(name)
    ? name
    : JSON.stringify(name);
}

function quoteValue(name: string): string {
  return quoteKey(name);
}
