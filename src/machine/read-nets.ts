// Buses, address maps, nets, ties, logic, classes and uses of blocks of one file.

import { COLOURS as COLOUR_TABLE, foldName, PROTECTIVE_EARTH, parseFormula, type Span } from '../base/index.ts';
import {
  type Cursor,
  child,
  entries,
  isMapping,
  items,
  keySpanOf,
  partSpan,
  quantityAt,
  report,
  type Source,
  spanOf,
  suggest,
  textAt,
  textsAt,
  writtenAt,
} from './cursor.ts';
import { type Budget, type Fragment, type SectionReader, spend } from './fragment.ts';
import type { Lifetime, LogicDecl, NameRef, PinRef } from './model.ts';
import { checkName, given, pinsOf, unequal } from './read-parts.ts';
import {
  checkRegion,
  expandRange,
  LONGEST_RANGE,
  rangeLength,
  readAddress,
  readRegion,
  readSize,
  type Region,
} from './words.ts';

/** The stages between which an item holds. */
export function lifetimeAt(at: Cursor): Lifetime {
  return { ...given('from', textAt(child(at, 'from'))), ...given('until', textAt(child(at, 'until'))) };
}

/** Nets as written, ranges spelled out. A pin, PART.PIN, stands for the net at that pin. */
export function netNamesOf(source: Source, refs: readonly NameRef[], budget: Budget): NameRef[] {
  return refs.flatMap((ref) => {
    if (ref.name.includes('.')) {
      return pinsOf(source, ref).map((pin) => ({ name: pinName(pin), span: ref.span }));
    }
    if (!checkName(source, ref.name, 'net', ref.span)) return [];
    checkRange(source, ref);
    const names = expandRange(ref.name);
    if (!spend(budget, 'items', names.length, { span: ref.span, findings: source.findings })) return [];
    return names.map((name) => ({ name, span: ref.span }));
  });
}

/** PART.PIN or PART.PIN@NUMBER. */
export function pinName(pin: PinRef): string {
  return `${pin.part}.${pin.pin}${pin.number === undefined ? '' : `@${pin.number}`}`;
}

/** Reports a range that is longer than any bus. */
function checkRange(source: Source, ref: NameRef): void {
  const length = rangeLength(ref.name.slice(ref.name.indexOf('.') + 1)) ?? 1;
  if (length > LONGEST_RANGE)
    report(
      source.findings,
      'long-range',
      `${ref.name} has ${length} members; a range has at most ${LONGEST_RANGE}.`,
      ref.span,
    );
}

export const readBuses: SectionReader = (root, fragment) => {
  for (const [name, at] of entries(child(root, 'buses'))) {
    checkName(root.source, name, 'other', keySpanOf(at));
    const processor = textAt(child(at, 'processor'));
    if (processor === undefined) continue;
    const selects = child(at, 'selects');
    const both =
      selects !== undefined && isMapping(selects.value)
        ? (['memory', 'ports'] as const).flatMap((space) =>
            textsAt(child(selects, space)).map((ref) => ({ ...ref, for: space })),
          )
        : textsAt(selects);
    fragment.buses.push({
      name,
      processor,
      members: textsAt(child(at, 'members')),
      selects: both,
      masters: entries(child(at, 'masters')).flatMap(([part, value]) => {
        const when = conditionAt(value);
        return when === undefined ? [] : [{ part: { name: part, span: keySpanOf(value) }, when }];
      }),
      span: keySpanOf(at),
      lifetime: lifetimeAt(at),
    });
  }
};

/** Keys of an entry of the map that are no parts. */
const MAP_KEYS = ['part', 'at', 'size', 'when', 'offset', 'access', 'mirrors', 'wait', 'bus', 'from', 'until'];

export const readMap: SectionReader = (root, fragment, budget) => {
  for (const space of ['memory', 'ports'] as const) {
    const list = child(root, space);
    if (list === undefined || !Array.isArray(list.value)) continue;
    for (const at of items(list)) readMapEntry(space, at, fragment, budget);
  }
};

function readMapEntry(space: 'memory' | 'ports', at: Cursor, fragment: Fragment, budget: Budget): void {
  const { source } = at;
  const fail = (message: string, span: Span): undefined =>
    report(source.findings, 'bad-region', `${message.charAt(0).toUpperCase()}${message.slice(1)}.`, span);
  const pieces: { part: NameRef; region: Region }[] = [];
  for (const key of source.reading.keysOf(at.path)) misspeltKey(at, key, fragment);
  for (const [key, value] of entries(at)) {
    if (MAP_KEYS.includes(key)) continue;
    for (const text of textsAt(value)) {
      const region = readRegion(text.name);
      if (typeof region === 'string') fail(region, text.span);
      else pieces.push({ part: { name: key, span: keySpanOf(value) }, region });
    }
  }
  const part = textAt(child(at, 'part'));
  if (part !== undefined) {
    const start = writtenAt(child(at, 'at'));
    const size = writtenAt(child(at, 'size'));
    if (start === undefined || size === undefined) {
      const missing = start === undefined ? 'at' : 'size';
      // Where the key stands but its value did not fit, the YAML reader has said so.
      if (!source.reading.keysOf(at.path).includes(missing))
        fail(`${part.name} has no \`${missing}\` here; both \`at\` and \`size\` are wanted`, part.span);
    } else {
      const address = readAddress(start.name);
      const bytes = readSize(size.name);
      if (typeof address === 'string') fail(address, start.span);
      if (typeof bytes === 'string') fail(bytes, size.span);
      if (typeof address === 'number' && typeof bytes === 'number') {
        const region = checkRegion({ at: address, bytes });
        if (typeof region === 'string') fail(region, start.span);
        else pieces.push({ part, region });
      }
    }
  } else if (!entries(at).some(([key]) => !MAP_KEYS.includes(key))) {
    const keys = source.reading.keysOf(at.path);
    if (keys.every((key) => MAP_KEYS.includes(key)))
      fail('this names no part; one is written { ROM: 32 KiB at 0x0000 }', spanOf(at));
  }
  const offset = writtenAt(child(at, 'offset'));
  const shift = offset === undefined ? undefined : readOffset(offset.name);
  if (typeof shift === 'string') fail(shift, offset!.span);
  const when = conditionAt(child(at, 'when'));
  const access = child(at, 'access')?.value;
  const mirrors = child(at, 'mirrors')?.value;
  const wait = child(at, 'wait')?.value;
  for (const { part: name, region } of pieces) {
    if (!spend(budget, 'items', 1, { span: name.span, findings: source.findings })) return;
    fragment.map.push({
      space,
      part: name,
      bytes: region.bytes,
      at: region.at,
      ...given('when', when),
      ...given('offset', typeof shift === 'number' ? shift : undefined),
      ...(access === 'read' || access === 'write' ? { access } : {}),
      ...(mirrors === 'allowed' || mirrors === 'forbidden' ? { mirrors } : {}),
      ...(typeof wait === 'number' ? { wait } : {}),
      ...given('bus', textAt(child(at, 'bus'))),
      span: name.span,
      lifetime: lifetimeAt(at),
    });
  }
}

/** A key that is neither one of the entry's nor has a region: rather a slip of the key than of the region. */
function misspeltKey(at: Cursor, key: string, fragment: Fragment): void {
  if (MAP_KEYS.includes(key) || child(at, key) !== undefined || key !== key.toLowerCase()) return;
  if (fragment.parts.some((part) => foldName(part.name) === key)) return;
  const { findings, reading } = at.source;
  const path = [...at.path, key];
  const value = reading.spanOf(path);
  const place = findings.findIndex(
    ({ code, where }) => code === 'yaml/wrong-form' && where[0]?.start === value.start && where[0].file === value.file,
  );
  const span = reading.keySpanOf(path);
  const more = suggest(
    key,
    MAP_KEYS.filter((known) => child(at, known) === undefined),
    span,
  );
  if (place < 0 || more.fixes === undefined) return;
  findings.splice(place, 1);
  report(findings, 'unknown-key', `There is no ${key} here${more.said}`, span, {
    help: `Keys known here: ${MAP_KEYS.join(', ')}; any other is a part, with its region.`,
    fixes: more.fixes,
  });
}

/** An offset is an address within the part, or a size from its start: 0x2000, 8 KiB. */
function readOffset(text: string): number | string {
  const address = readAddress(text);
  if (typeof address === 'number') return address;
  const size = readSize(text);
  return typeof size === 'number' ? size : address;
}

/** A formula here, with a finding where it cannot be read. A `high when` statement is one too. */
export function conditionAt(at: Cursor | undefined): NameRef | undefined {
  const formula = textAt(at);
  if (at === undefined || formula === undefined) return undefined;
  const { problem } = parseFormula(formula.name);
  if (problem !== undefined) {
    report(
      at.source.findings,
      'bad-formula',
      problem.message,
      partSpan(formula.span, at.source, formula.name, problem.start, problem.end),
      { help: 'Formulas use ~ & | ^ and brackets on levels, low(x) and high(x): high when low(/reset).' },
    );
    return undefined;
  }
  const range = /[^\s~&|^()]+/g;
  for (const match of formula.name.matchAll(range)) {
    if (rangeLength(match[0]) === undefined) continue;
    return report(
      at.source.findings,
      'bad-formula',
      `${match[0]} is a range, and a formula works on single nets.`,
      partSpan(formula.span, at.source, formula.name, match.index, match.index + match[0].length),
      { help: 'Write one formula for each net.' },
    );
  }
  return formula;
}

export const readNets: SectionReader = (root, fragment, budget) => {
  for (const [name, at] of entries(child(root, 'nets'))) {
    const span = keySpanOf(at);
    if (!checkName(root.source, name, 'net', span)) continue;
    checkRange(root.source, { name, span });
    const names = expandRange(name);
    // Plain pins of a net make one item; each long form, with its stages, another.
    const plain: NameRef[] = [];
    const longs: Cursor[] = [];
    for (const item of items(at)) {
      if (isMapping(item.value)) longs.push(item);
      else plain.push(...textsAt(item));
    }
    const add = (refs: readonly NameRef[], lifetime: Lifetime): void => {
      const pins: PinRef[][] = names.map(() => []);
      for (const ref of refs) {
        checkRange(root.source, ref);
        const side = pinsOf(root.source, ref);
        if (side.length === 0) continue;
        if (side.length !== names.length) {
          unequal(root.source, { name, span }, rangeLength(name) ?? 1, ref, side.length);
          continue;
        }
        if (!spend(budget, 'items', side.length, { span: ref.span, findings: root.source.findings })) break;
        side.forEach((pin, index) => {
          pins[index]!.push(pin);
        });
      }
      names.forEach((one, index) => {
        fragment.nets.push({ name: one, pins: pins[index]!, span, lifetime });
      });
    };
    if (plain.length > 0 || longs.length === 0) add(plain, {});
    for (const long of longs) add(textsAt(child(long, 'pins')), lifetimeAt(long));
  }
};

export const readTies: SectionReader = (root, fragment, budget) => {
  const list = child(root, 'ties');
  if (list === undefined || !Array.isArray(list.value)) return;
  for (const at of items(list)) {
    const through = quantityAt(child(at, 'through'), 'resistance', { above: 0 });
    // A tie whose resistor cannot be read must not become a wire.
    if (through === undefined && root.source.reading.keysOf(at.path).includes('through')) continue;
    for (const to of ['high', 'low'] as const) {
      const refs = textsAt(child(at, to));
      if (refs.length === 0) continue;
      const pins = refs.flatMap((ref): (PinRef | NameRef)[] =>
        ref.name.includes('.') ? pinsOf(root.source, ref) : netNamesOf(root.source, [ref], budget),
      );
      if (!spend(budget, 'items', pins.length, { span: spanOf(at), findings: root.source.findings })) return;
      fragment.ties.push({
        to,
        pins,
        ...given('throughOhm', through),
        ...given('supply', textAt(child(at, 'supply'))),
        span: spanOf(at),
        lifetime: lifetimeAt(at),
      });
    }
    const keys = root.source.reading.keysOf(at.path);
    if (!keys.includes('high') && !keys.includes('low'))
      report(root.source.findings, 'bad-tie', 'This tie says neither `high` nor `low`.', spanOf(at), {
        help: 'Write { high: [CPU./NMI], through: 10 kohm }.',
      });
  }
};

/** `in: G2 unit 3` or `in: SEL pin 14`. */
function placeAt(at: Cursor | undefined): LogicDecl['in'] | undefined {
  const ref = textAt(at);
  if (at === undefined || ref === undefined) return undefined;
  const match = /^\s*(\S+)(?:\s+(unit|pin)\s+(\S+))?\s*$/.exec(ref.name);
  if (match === null)
    return report(at.source.findings, 'bad-place', `"${ref.name}" names no place for a function.`, ref.span, {
      help: 'Write "G2 unit 3" for a unit of a part, or "SEL pin 14" for a pin of a logic device.',
    });
  const start = ref.name.indexOf(match[1]!);
  const part = {
    name: match[1]!,
    span: partSpan(ref.span, at.source, ref.name, start, start + match[1]!.length),
  };
  if (match[3] === undefined) return { part };
  const from = ref.name.lastIndexOf(match[3]);
  const inner = { name: match[3], span: partSpan(ref.span, at.source, ref.name, from, from + match[3].length) };
  return match[2] === 'unit' ? { part, unit: inner } : { part, pin: inner };
}

export const readLogic: SectionReader = (root, fragment, budget) => {
  for (const [net, value] of entries(child(root, 'logic'))) {
    const span = keySpanOf(value);
    if (!checkName(root.source, net, 'net', span)) continue;
    if (rangeLength(net) !== undefined) {
      report(root.source.findings, 'bad-formula', `${net} is a range; logic makes one net at a time.`, span, {
        help: 'Write one line for each net.',
      });
      continue;
    }
    for (const at of items(value)) {
      const long = isMapping(at.value);
      const formula = conditionAt(long ? child(at, 'formula') : at);
      const when = long ? conditionAt(child(at, 'when')) : undefined;
      if (long && child(at, 'formula') !== undefined && child(at, 'when') !== undefined)
        report(root.source.findings, 'bad-formula', `${net} has both \`formula\` and \`when\`; one says it.`, span);
      if (long) {
        const keys = root.source.reading.keysOf(at.path);
        if (!keys.includes('formula') && !keys.includes('when'))
          report(root.source.findings, 'bad-formula', `${net} has neither \`formula\` nor \`when\`.`, span);
      }
      const text =
        formula ??
        (when === undefined
          ? undefined
          : { name: `${net.startsWith('/') ? 'low' : 'high'} when ${when.name}`, span: when.span });
      if (text === undefined) continue;
      if (!spend(budget, 'items', 1, { span, findings: root.source.findings })) return;
      fragment.logic.push({
        net,
        formula: text,
        ...(long
          ? {
              ...given('in', placeAt(child(at, 'in'))),
              ...given('clock', textAt(child(at, 'clock'))),
              ...given('enable', conditionAt(child(at, 'enable'))),
              ...given('reset', conditionAt(child(at, 'reset'))),
              ...given('preset', conditionAt(child(at, 'preset'))),
            }
          : {}),
        span,
        lifetime: long ? lifetimeAt(at) : {},
      });
    }
  }
};

/** Designations of colours by code (IEC 60757), green-and-yellow among them so that it can be spoken of. */
const COLOURS: Readonly<Record<string, string>> = Object.fromEntries([
  ...COLOUR_TABLE.map((colour) => [colour.code, colour.name]),
  [PROTECTIVE_EARTH, 'green-yellow'],
]);

export const readClasses: SectionReader = (root, fragment, budget) => {
  for (const [name, at] of entries(child(root, 'classes'))) {
    checkName(root.source, name, 'other', keySpanOf(at));
    const written = textAt(child(at, 'colour'));
    const colour = written === undefined ? undefined : { name: written.name.trim().toUpperCase(), span: written.span };
    if (colour !== undefined && !Object.hasOwn(COLOURS, colour.name)) {
      const code = Object.entries(COLOURS).find(([, word]) => word === colour.name.toLowerCase())?.[0];
      const more = code === undefined ? { said: '.' } : suggest(code, [code], colour.span);
      report(
        root.source.findings,
        'bad-colour',
        `${written!.name} is no colour code of IEC 60757${more.said}`,
        colour.span,
        { help: `One of ${Object.keys(COLOURS).join(', ')}.`, ...given('fixes', more.fixes) },
      );
    }
    const longest = quantityAt(child(at, 'longest'), 'length', { above: 0, most: 10 });
    const weight = child(at, 'weight')?.value;
    fragment.classes.push({
      name,
      nets: netNamesOf(root.source, textsAt(child(at, 'nets')), budget),
      ...(colour !== undefined && Object.hasOwn(COLOURS, colour.name) ? { colour } : {}),
      ...given('longestMm', longest === undefined ? undefined : Number((longest * 1000).toPrecision(12))),
      probeHole: child(at, 'probe-hole')?.value === true,
      ...(typeof weight === 'number' ? { weight } : {}),
      span: keySpanOf(at),
    });
  }
};

export const readInstances: SectionReader = (root, fragment) => {
  for (const [name, at] of entries(child(root, 'blocks'))) {
    const span = keySpanOf(at);
    checkName(root.source, name, 'part', span);
    const use = textAt(child(at, 'use'));
    if (use === undefined) continue;
    const join: { key: NameRef; net: NameRef }[] = [];
    for (const [key, value] of entries(child(at, 'join'))) {
      const net = textAt(value);
      if (net === undefined) continue;
      const keys = expandRange(key);
      const nets = expandRange(net.name);
      if (keys.length !== nets.length) {
        unequal(root.source, { name: key, span: keySpanOf(value) }, keys.length, net, nets.length);
        continue;
      }
      keys.forEach((one, index) => {
        join.push({ key: { name: one, span: keySpanOf(value) }, net: { name: nets[index]!, span: net.span } });
      });
    }
    const copies = child(at, 'copies')?.value;
    const first = child(at, 'first')?.value;
    fragment.instances.push({
      name,
      use,
      join,
      stages: entries(child(at, 'stages')).flatMap(([role, value]) => {
        const stage = textAt(value);
        return stage === undefined ? [] : [{ role: { name: role, span: keySpanOf(value) }, stage }];
      }),
      copies: typeof copies === 'number' ? copies : undefined,
      first: typeof first === 'number' ? first : 1,
      ...given('supply', textAt(child(at, 'supply'))),
      span,
      source: root.source,
    });
  }
};
