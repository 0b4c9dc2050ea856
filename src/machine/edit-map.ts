// Edits of the memory and port maps as edits of the text: a region moved, sized, added, taken out, or given another word on
// mirrors and access. Comments, order and the way the rest is written stay. Who calls this reads the result again and
// compares; a form that is not understood here gives no edit, never a wrong one.

import type { Span, TextEdit } from '../base/index.ts';
import type { MapDecl } from './model.ts';
import { readRegion } from './words.ts';

/** What is to be done to the maps. Addresses and sizes in bytes. */
export type MapEdit =
  | { readonly do: 'move'; readonly entry: MapDecl; readonly at: number; readonly bytes: number }
  | {
      readonly do: 'say';
      readonly entry: MapDecl;
      readonly key: 'mirrors' | 'access';
      readonly word: string | undefined;
    }
  | { readonly do: 'remove'; readonly entry: MapDecl }
  | {
      readonly do: 'add';
      readonly space: MapDecl['space'];
      readonly part: string;
      readonly at: number;
      readonly bytes: number;
    };

/** The edits that do it in `text` of `file`; undefined where the text is in a form that this can't change. */
export function editMap(file: string, text: string, edit: MapEdit): TextEdit[] | undefined {
  const replace = (start: number, end: number, by: string): TextEdit[] => [{ span: { file, start, end }, text: by }];
  if (edit.do === 'add') return addEntry(text, edit, replace);
  if (edit.entry.span.file !== file) return undefined;
  const item = itemAt(text, edit.entry.span);
  if (item === undefined) return undefined;
  if (edit.do === 'say') return sayWord(text, item, edit.key, edit.word, replace);
  if (edit.do === 'move') {
    if (item.isLong) return moveLong(text, item, edit, file);
    const region = regionIn(text, item, edit.entry);
    if (region === undefined) return undefined;
    return replace(region.start, region.end, regionText(edit.at, edit.bytes, text.slice(region.start, region.end)));
  }
  const region = item.isLong ? undefined : regionIn(text, item, edit.entry);
  if (region?.isOneOfMany === true) return replace(...withComma(text, region.start, region.end), '');
  return item.isFlow && item.outer === 'flow'
    ? replace(...withComma(text, item.start, item.end), '')
    : replace(...wholeLines(text, item), '');
}

type Replace = (start: number, end: number, by: string) => TextEdit[];

/** An entry of a map in its text. */
interface Item {
  /** The braces, or a block's lines from after its dash. */
  readonly start: number;
  readonly end: number;
  readonly isFlow: boolean;
  /** How the list is written that the entry is in. */
  readonly outer: 'flow' | 'block';
  /** After the key's colon; for the long form after `part:`. */
  readonly value: number;
  readonly isLong: boolean;
}

function itemAt(text: string, span: Span): Item | undefined {
  const lineStart = text.lastIndexOf('\n', span.start - 1) + 1;
  const before = text.slice(0, span.start);
  const isLong = /(?:^|[\s{,])part\s*:\s*["']?$/.test(before);
  const after = /^["']?\s*:\s*/.exec(text.slice(span.end));
  if (!isLong && after === null) return undefined;
  const value = isLong ? span.start : span.end + after![0].length;
  const open = openBrace(text, span.start);
  if (open !== undefined) {
    const close = closeOf(text, open);
    if (close === undefined) return undefined;
    const isInDash = /^[ \t]*-[ \t]*$/.test(text.slice(text.lastIndexOf('\n', open - 1) + 1, open));
    return { start: open, end: close + 1, isFlow: true, outer: isInDash ? 'block' : 'flow', value, isLong };
  }
  // A block: from its dash to the next line that is not deeper.
  let start = lineStart;
  for (;;) {
    const line = /^([ \t]*)-[ \t]+/.exec(text.slice(start));
    if (line !== null && line.index === 0) break;
    if (start === 0) return undefined;
    start = text.lastIndexOf('\n', start - 2) + 1;
  }
  const dash = /^([ \t]*)-[ \t]+/.exec(text.slice(start))!;
  let end = text.indexOf('\n', start);
  while (end >= 0) {
    const next = /^\n([ \t]*)(\S?)/.exec(text.slice(end))!;
    if (next[2] !== '' && next[1]!.length <= dash[1]!.length) break;
    end = text.indexOf('\n', end + 1);
  }
  return {
    start: start + dash[0].length,
    end: end < 0 ? text.length : end,
    isFlow: false,
    outer: 'block',
    value,
    isLong,
  };
}

/** The brace that is open before `offset`, on this line or one before; undefined where there is none in this entry. */
function openBrace(text: string, offset: number): number | undefined {
  let depth = 0;
  for (let k = offset - 1; k >= 0; k--) {
    const character = text[k]!;
    if (character === '}' || character === ']') depth++;
    else if (character === '{' || character === '[') {
      if (depth === 0) return character === '{' ? k : undefined;
      depth--;
    } else if (character === '\n' && /^\n[ \t]*(?:- |\w+:)/.test(text.slice(k, k + 40)) && depth === 0) {
      // A line of its own that begins a block: nothing before it can be open.
      if (!/[{[,]\s*$/.test(text.slice(0, k))) return undefined;
    }
  }
  return undefined;
}

function closeOf(text: string, open: number): number | undefined {
  let depth = 0;
  let quote = '';
  for (let k = open; k < text.length; k++) {
    const character = text[k]!;
    if (quote !== '') {
      if (character === quote) quote = '';
    } else if (character === '"' || character === "'") quote = character;
    else if (character === '{' || character === '[') depth++;
    else if (character === '}' || character === ']') {
      depth--;
      if (depth === 0) return k;
    }
  }
  return undefined;
}

interface Stretch {
  readonly start: number;
  readonly end: number;
  readonly isOneOfMany: boolean;
}

/** The words of the region, without quotes. */
function regionIn(text: string, item: Item, entry: MapDecl): Stretch | undefined {
  const isList = text[item.value] === '[';
  const end = isList ? (closeOf(text, item.value) ?? item.value) : item.end;
  const pieces: Stretch[] = [];
  for (let k = isList ? item.value + 1 : item.value; k < end; ) {
    const match = /^[\s]*(["']?)([^,\]}\n#"']*[^,\]}\n#"'\s])\1/.exec(text.slice(k, end));
    if (match === null) break;
    const start = k + match[0].length - match[1]!.length - match[2]!.length;
    pieces.push({ start, end: start + match[2]!.length, isOneOfMany: isList });
    if (!isList) break;
    const comma = text.indexOf(',', k + match[0].length);
    if (comma < 0 || comma > end) break;
    k = comma + 1;
  }
  const found = pieces.find((piece) => {
    const region = readRegion(text.slice(piece.start, piece.end));
    return typeof region !== 'string' && region.at === entry.at && region.bytes === entry.bytes;
  });
  return found === undefined ? undefined : { ...found, isOneOfMany: pieces.length > 1 };
}

/** A region as one writes it, in the manner of what was there before. */
export function regionText(at: number, bytes: number, before = ''): string {
  const digits = Math.max(2, ...[...before.matchAll(/0x([0-9a-f]+)/gi)].map((match) => match[1]!.length));
  const wide = before === '' ? (at > 0xff || bytes > 0xff ? 4 : 2) : digits;
  const hex = (value: number): string => `0x${value.toString(16).toUpperCase().padStart(wide, '0')}`;
  return / to /.test(before) ? `${hex(at)} to ${hex(at + bytes - 1)}` : `${sizeText(bytes)} at ${hex(at)}`;
}

function sizeText(bytes: number): string {
  if (bytes % 2 ** 20 === 0) return `${bytes / 2 ** 20} MiB`;
  return bytes % 1024 === 0 ? `${bytes / 1024} KiB` : String(bytes);
}

function keyValue(text: string, item: Item, key: string): { start: number; end: number; keyStart: number } | undefined {
  const within = text.slice(item.start, item.end);
  const match = new RegExp(`(^|[\\s{,])(${key}\\s*:\\s*)(["']?)([^,}\\n#"']*[^,}\\n#"'\\s])`).exec(within);
  if (match === null) return undefined;
  const keyStart = item.start + match.index + match[1]!.length;
  const start = keyStart + match[2]!.length + match[3]!.length;
  return { keyStart, start, end: start + match[4]!.length };
}

function moveLong(
  text: string,
  item: Item,
  { at, bytes }: { readonly at: number; readonly bytes: number },
  file: string,
): TextEdit[] | undefined {
  const start = keyValue(text, item, 'at');
  const size = keyValue(text, item, 'size');
  if (start === undefined || size === undefined) return undefined;
  const old = text.slice(start.start, start.end);
  const address = regionText(at, bytes, /^0x/i.test(old) ? old : '0x00').replace(/^.* at /, '');
  return [
    { span: { file, start: start.start, end: start.end }, text: address },
    { span: { file, start: size.start, end: size.end }, text: sizeText(bytes) },
  ];
}

function sayWord(
  text: string,
  item: Item,
  key: string,
  word: string | undefined,
  replace: Replace,
): TextEdit[] | undefined {
  const old = keyValue(text, item, key);
  if (old !== undefined && word !== undefined) return replace(old.start, old.end, word);
  if (old !== undefined) {
    if (item.isFlow) return replace(...withComma(text, old.keyStart, old.end), '');
    const start = text.lastIndexOf('\n', old.keyStart - 1);
    const end = text.indexOf('\n', old.end);
    // The first line of a block bears its dash and stays.
    return /^\n[ \t]*-/.test(text.slice(start)) ? undefined : replace(start, end < 0 ? text.length : end, '');
  }
  if (word === undefined) return [];
  if (item.isFlow) {
    const inner = text.slice(item.start, item.end - 1).trimEnd();
    return replace(item.start + inner.length, item.start + inner.length, `, ${key}: ${word}`);
  }
  const column = item.start - (text.lastIndexOf('\n', item.start - 1) + 1);
  return replace(item.end, item.end, `\n${' '.repeat(column)}${key}: ${word}`);
}

/** The stretch with the comma and the blanks that part it from its neighbour. */
function withComma(text: string, start: number, end: number): [number, number] {
  const before = /,\s*$/.exec(text.slice(0, start));
  if (before !== null) return [before.index, end];
  const after = /^\s*,\s*/.exec(text.slice(end));
  return [start, end + (after?.[0].length ?? 0)];
}

/** The lines of an entry of a block list; with the list's key where it was the only one. */
function wholeLines(text: string, item: Item): [number, number] {
  const start = text.lastIndexOf('\n', item.start - 1) + 1;
  const next = text.indexOf('\n', item.end);
  const end = next < 0 ? text.length : next + 1;
  const head = /(?:^|\n)(?:memory|ports)[ \t]*:[ \t]*(?:#[^\n]*)?\n(?:[ \t]*#[^\n]*\n)*$/.exec(text.slice(0, start));
  const isLast = !/^[ \t]*(?:-|#)/.test(text.slice(end));
  return head !== null && isLast ? [head.index + (head[0].startsWith('\n') ? 1 : 0), end] : [start, end];
}

function addEntry(
  text: string,
  { space, part, at, bytes }: Extract<MapEdit, { do: 'add' }>,
  replace: Replace,
): TextEdit[] | undefined {
  const entry = `{ ${/^[A-Za-z][\w-]*$/.test(part) ? part : `"${part}"`}: ${regionText(at, bytes)} }`;
  const head = new RegExp(`(^|\\n)${space}[ \\t]*:[ \\t]*`).exec(text);
  if (head === null) {
    const other = new RegExp(`(^|\\n)(?:${space === 'ports' ? 'memory' : 'ports'})[ \\t]*:`).exec(text);
    const place = other === null ? text.length : endOfSection(text, other.index + other[1]!.length);
    const eol = place > 0 && text[place - 1] !== '\n' ? '\n' : '';
    return replace(place, place, `${eol}${other === null ? '' : '\n'}${space}:\n  - ${entry}\n`);
  }
  const after = head.index + head[0].length;
  if (text[after] === '[') {
    const close = closeOf(text, after);
    if (close === undefined) return undefined;
    const inner = text.slice(after + 1, close).trimEnd();
    return replace(after + 1 + inner.length, after + 1 + inner.length, `${inner.trim() === '' ? '' : ', '}${entry}`);
  }
  if (!/^(?:#[^\n]*)?(?:\r?\n|$)/.test(text.slice(after))) return undefined;
  const items = [...text.slice(after, endOfSection(text, after)).matchAll(/\n([ \t]*)-/g)];
  const end = endOfSection(text, after);
  const indent = items.at(-1)?.[1] ?? '  ';
  const eol = end > 0 && text[end - 1] !== '\n' ? '\n' : '';
  return replace(end, end, `${eol}${indent}- ${entry}\n`);
}

/** Where the section ends that begins at or before `offset`: after its last line that is neither blank nor another key. */
function endOfSection(text: string, offset: number): number {
  let end = text.indexOf('\n', offset);
  if (end < 0) return text.length;
  let last = end + 1;
  for (;;) {
    const start = end + 1;
    if (start >= text.length) return last;
    const next = text.indexOf('\n', start);
    const line = text.slice(start, next < 0 ? text.length : next);
    if (/^(?![-#\s])\S/.test(line)) return last;
    if (/^[ \t]*[^#\s]/.test(line)) last = next < 0 ? text.length : next + 1;
    if (next < 0) return last;
    end = next;
  }
}
