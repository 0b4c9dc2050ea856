// layout.json: the layout in a stable order, one part or wire to a line, so that a difference reads well. The reader takes
// any text: what it cannot use it says, and what is sound it keeps.

import { compareNatural, type Finding, type Result } from '../base/index.ts';
import { isPermutation } from './exchange.ts';
import { findBoardKind, parseHole, stripOfHole } from './geometry.ts';
import type { CrimpedLead, Layout, PlacedBoard, PlacedPart, Wire } from './model.ts';

const LARGEST = 32 * 1024 * 1024;
const STYLES = ['flat', 'arched', 'crimped', 'jumper'];

/** The text of layout.json. */
export function printLayout(layout: Layout): string {
  const lines = (items: readonly unknown[]): string =>
    items.length === 0 ? '[]' : `[\n${items.map((item) => `    ${JSON.stringify(item)}`).join(',\n')}\n  ]`;
  const parts = [...layout.parts].sort((a, b) => compareNatural(a.part, b.part) || a.stage - b.stage);
  const wires = [...layout.wires].sort(
    (a, b) =>
      a.stage - b.stage || compareNatural(a.net, b.net) || compareNatural(a.from, b.from) || compareNatural(a.to, b.to),
  );
  const fields = [
    `"format": ${layout.format}`,
    `"machine": ${JSON.stringify(layout.machine)}`,
    `"seed": ${layout.seed}`,
    `"boards": ${lines([...layout.boards].sort((a, b) => a.board - b.board))}`,
    `"entries": ${lines(layout.entries)}`,
    `"parts": ${lines(parts)}`,
    `"wires": ${lines(wires)}`,
    `"probes": ${lines(layout.probes ?? [])}`,
  ];
  if (layout.leads !== undefined) fields.push(`"leads": ${lines(layout.leads)}`);
  if (layout.exchanges !== undefined) fields.push(`"exchanges": ${lines(layout.exchanges)}`);
  return `{\n  ${fields.join(',\n  ')}\n}\n`;
}

type Plain = Readonly<Record<string, unknown>>;

/** Reads layout.json. The value is undefined where the text is no layout at all. Never throws. */
export function readLayout(file: string, text: string): Result<Layout | undefined> {
  const where = [{ file, start: 0, end: Math.min(1, text.length) }];
  const findings: Finding[] = [];
  const say = (code: string, message: string, help: string): void => {
    if (findings.length < 50) findings.push({ code, severity: 'error', message, where, notes: [], help });
  };
  const again = 'Take the file from version control, or remove it and run `lay`.';
  if (text.length > LARGEST) {
    say('board/layout-too-large', `The layout has ${text.length} characters; at most ${LARGEST} are read.`, again);
    return { value: undefined, findings };
  }
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch {
    say('board/layout-not-json', 'The layout is not JSON; it may have been cut off or merged badly.', again);
    return { value: undefined, findings };
  }
  if (!isPlain(json)) {
    say('board/layout-not-json', 'The layout does not hold what a layout holds.', again);
    return { value: undefined, findings };
  }
  if (json.format !== 1) {
    say('board/layout-format', 'The layout is of a format that this version does not know.', 'Run `lay` again.');
    return { value: undefined, findings };
  }
  const list = <T>(key: string, read: (item: Plain) => T | undefined): T[] => {
    const value = json[key];
    if (value === undefined) return [];
    if (!Array.isArray(value)) {
      say('board/layout-damaged', `\`${key}\` of the layout is not a list.`, again);
      return [];
    }
    return value.flatMap((item, index) => {
      const result = isPlain(item) ? read(item) : undefined;
      if (result === undefined) say('board/layout-damaged', `Entry ${index + 1} of \`${key}\` is not sound.`, again);
      return result === undefined ? [] : [result];
    });
  };
  const kinds = new Map<number, string>();
  const boards = list('boards', (item): PlacedBoard | undefined => {
    const { board, kind, x, y } = item;
    if (!isCount(board) || board > 999 || typeof kind !== 'string' || !isPlace(x) || !isPlace(y)) return undefined;
    if (findBoardKind(kind) === undefined || kinds.has(board)) return undefined;
    kinds.set(board, kind);
    return { board, kind, x, y };
  });
  const isHole = (value: unknown): value is string =>
    typeof value === 'string' &&
    value.length < 12 &&
    parseHole(value) !== undefined &&
    stripOfHole(value, (board) => kinds.get(board)) !== undefined;
  const parts = list('parts', (item): PlacedPart | undefined => {
    const { part, type, rotation, leads, stage, fixed } = item;
    const until = item.until ?? undefined;
    if (typeof part !== 'string' || typeof type !== 'string' || !Array.isArray(leads) || !isCount(stage))
      return undefined;
    if (rotation !== 0 && rotation !== 90 && rotation !== 180 && rotation !== 270) return undefined;
    if (until !== undefined && !isCount(until)) return undefined;
    const read = leads.flatMap((lead: unknown) =>
      isPlain(lead) && isCount(lead.number) && isHole(lead.hole) ? [{ number: lead.number, hole: lead.hole }] : [],
    );
    if (read.length !== leads.length) return undefined;
    return { part, type, rotation, leads: read, stage, until, fixed: fixed === true };
  });
  const ids = new Set<string>();
  const wires = list('wires', (item): Wire | undefined => {
    const { id, net, from, to, cutMm, colour, style, stage, temporary } = item;
    const until = item.until ?? undefined;
    const lead = item.lead ?? undefined;
    if (typeof id !== 'string' || typeof net !== 'string' || !isHole(from) || !isHole(to) || !isCount(stage))
      return undefined;
    if (ids.has(id) || typeof colour !== 'string' || typeof style !== 'string' || !STYLES.includes(style))
      return undefined;
    if (typeof cutMm !== 'number' || !(cutMm > 0 && cutMm < 100000)) return undefined;
    if ((until !== undefined && !isCount(until)) || (lead !== undefined && typeof lead !== 'string')) return undefined;
    ids.add(id);
    return {
      id,
      net,
      from,
      to,
      cutMm,
      colour,
      style: style as Wire['style'],
      stage,
      until,
      temporary: temporary === true,
      lead,
      path: readPath(item.path),
    };
  });
  const entries = list('entries', (item) => {
    const { supply, plus, ground } = item;
    if (typeof supply !== 'string') return undefined;
    return { supply, plus: isHole(plus) ? plus : '', ground: isHole(ground) ? ground : '' };
  });
  const probes = list('probes', (item) => {
    const { net, hole, stage } = item;
    const until = item.until ?? undefined;
    if (typeof net !== 'string' || !isHole(hole) || !isCount(stage)) return undefined;
    return until !== undefined && !isCount(until) ? undefined : { net, hole, stage, until };
  });
  const leads = list('leads', (item): CrimpedLead | undefined => {
    const { lead, kind, stage, housing, ways } = item;
    const until = item.until ?? undefined;
    const key = item.key ?? undefined;
    if (typeof lead !== 'string' || (kind !== 'pod' && kind !== 'header') || !isCount(stage)) return undefined;
    if ((until !== undefined && !isCount(until)) || (key !== undefined && !isCount(key))) return undefined;
    if (!Array.isArray(housing) || !Array.isArray(ways)) return undefined;
    const holes = housing.flatMap((hole: unknown) => (hole === '' || isHole(hole) ? [hole] : []));
    const read = ways.flatMap((way: unknown) =>
      isPlain(way) && isCount(way.way) && typeof way.net === 'string' && typeof way.wire === 'string'
        ? [{ way: way.way, net: way.net, wire: way.wire }]
        : [],
    );
    if (holes.length !== housing.length || read.length !== ways.length) return undefined;
    return { lead, kind, stage, until, housing: holes, key, ways: read };
  });
  const exchanges = list('exchanges', (item) => {
    const { part, type, pins } = item;
    if (typeof part !== 'string' || typeof type !== 'string' || !Array.isArray(pins)) return undefined;
    const pairs = pins.flatMap((pair: unknown): [number, number][] =>
      Array.isArray(pair) && pair.length === 2 && isCount(pair[0]) && isCount(pair[1]) ? [[pair[0], pair[1]]] : [],
    );
    return pairs.length === pins.length && isPermutation({ part, type, pins: pairs })
      ? { part, type, pins: pairs }
      : undefined;
  });
  return {
    value: {
      format: 1,
      machine: typeof json.machine === 'string' ? json.machine : '',
      seed: typeof json.seed === 'number' && Number.isSafeInteger(json.seed) ? json.seed : 1,
      boards,
      parts,
      wires,
      entries,
      probes,
      ...(json.leads === undefined ? {} : { leads }),
      ...(json.exchanges === undefined ? {} : { exchanges }),
    },
    findings,
  };
}

function isPlain(value: unknown): value is Plain {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function isCount(value: unknown): value is number {
  return typeof value === 'number' && Number.isInteger(value) && value >= 1 && value <= 100000;
}

function isPlace(value: unknown): value is number {
  return typeof value === 'number' && value >= 0 && value < 100000;
}

function readPath(value: unknown): (readonly [number, number])[] | undefined {
  if (!Array.isArray(value)) return undefined;
  const path = value.flatMap((at: unknown): [number, number][] =>
    Array.isArray(at) && at.length === 2 && typeof at[0] === 'number' && typeof at[1] === 'number'
      ? [[at[0], at[1]]]
      : [],
  );
  return path.length === value.length && path.length > 1 ? path : undefined;
}
