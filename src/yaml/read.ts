// YAML text to plain values under a schema, with the place of every value. The schema (TypeBox, hence JSON Schema) is the
// one definition; this reader says what is wrong in a builder's words, and yields whatever part of the value is sound.

import type { TSchema } from 'typebox';
import {
  type Document,
  isAlias,
  isMap,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  parseDocument,
  type Scalar,
  type YAMLMap,
  type YAMLSeq,
} from 'yaml';
import { bug, type Finding, type Fix, nearestName, type Span } from '../base/index.ts';

/** Files longer than this are refused: no description of a machine comes near it. */
const LARGEST_FILE = 4 * 1024 * 1024;
const MOST_ALIASES = 200;
const DEEPEST = 60;

/** The form of keys that are meant to be numbers, such as pin numbers: there a bare number is as good as a quoted one. */
const NUMBER_KEYS = '^[0-9]+$';

export type Path = readonly (string | number)[];

const compiled = new Map<string, RegExp>();

/** The regular expression of a schema's pattern, compiled once: there are as many as schemas have, never from a file. */
function patternOf(pattern: string): RegExp {
  let test = compiled.get(pattern);
  if (test === undefined) {
    test = new RegExp(pattern, 'u');
    compiled.set(pattern, test);
  }
  return test;
}

/** A value read under a schema; parts that did not fit are left out. */
export interface SchemaReading {
  /** Plain value: objects, arrays, strings, numbers, booleans. Undefined when the file holds nothing usable. */
  readonly value: unknown;
  readonly findings: readonly Finding[];
  /** The place of the value at `path`, or of the nearest enclosing thing that has one. */
  spanOf(path: Path): Span;
  /** The place of the key that ends `path`. */
  keySpanOf(path: Path): Span;
  /** The keys of the object at `path` in the order of the file (objects of JavaScript put `10` before `A`). */
  keysOf(path: Path): readonly string[];
}

/** A plain object read from YAML: no prototype, so that no key of a file can mean anything special. */
type Plain = Record<string, unknown>;

interface Place {
  span: Span;
  key?: Span;
  children?: Map<string | number, Place>;
}

interface Context {
  readonly file: string;
  readonly text: string;
  readonly doc: Document;
  readonly findings: Finding[];
  aliases: number;
}

/** A part of a JSON Schema as this reader looks at it. */
interface Schema {
  readonly type?: string;
  readonly const?: unknown;
  readonly anyOf?: readonly Schema[];
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: boolean | Schema;
  readonly patternProperties?: Readonly<Record<string, Schema>>;
  readonly items?: Schema | readonly Schema[];
  readonly minItems?: number;
  readonly maxItems?: number;
  readonly minLength?: number;
  readonly pattern?: string;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly description?: string;
}

/** Reads `text` under `schema`. Never throws on any text. */
export function readYaml(file: string, text: string, schema: TSchema): SchemaReading {
  const whole: Span = { file, start: 0, end: Math.min(text.length, 1) };
  const failed = (code: string, message: string, help: string): SchemaReading => ({
    value: undefined,
    findings: [{ code, severity: 'error', message, where: [whole], notes: [], help }],
    spanOf: () => whole,
    keySpanOf: () => whole,
    keysOf: () => [],
  });
  if (text.length > LARGEST_FILE) {
    return failed(
      'yaml/too-large',
      `The file has ${text.length} characters; at most ${LARGEST_FILE} are read.`,
      'Check that this is the file you meant, or split it with `includes`.',
    );
  }
  if (nestingOf(text) > DEEPEST * 4) {
    return failed(
      'yaml/too-deep',
      'The file is nested too deeply to be a description.',
      'Look for brackets that are opened and never closed.',
    );
  }
  const doc = parseDocument(text, {
    prettyErrors: false,
    uniqueKeys: false,
    version: '1.2',
    logLevel: 'silent',
    stringKeys: false,
  });
  const context: Context = { file, text, doc, findings: [], aliases: 0 };
  for (const error of [...doc.errors, ...doc.warnings]) {
    context.findings.push({
      code: 'yaml/syntax',
      severity: 'error',
      message: `This is not YAML: ${sentence(error.message)}`,
      where: [clampSpan(file, text, error.pos[0], error.pos[1])],
      notes: [],
      help: 'Mend the text here; what stands after it may be misunderstood until then.',
    });
  }
  const root: Place = { span: whole };
  const node = doc.contents as Node | null;
  const value = node === null ? undefined : readNode(context, node, schema as Schema, root, 0);
  if (node === null && doc.errors.length === 0) {
    context.findings.push({
      code: 'yaml/empty',
      severity: 'error',
      message: 'The file is empty.',
      where: [whole],
      notes: [],
    });
  }
  const find = (path: Path): Place => {
    let place = root;
    for (const step of path) {
      const next = place.children?.get(step);
      if (next === undefined) break;
      place = next;
    }
    return place;
  };
  const exactly = (path: Path): Place | undefined => {
    let place: Place | undefined = root;
    for (const step of path) place = place?.children?.get(step);
    return place;
  };
  return {
    value,
    findings: context.findings,
    spanOf: (path) => find(path).span,
    keySpanOf: (path) => find(path).key ?? find(path).span,
    keysOf: (path) => [...(exactly(path)?.children?.keys() ?? [])].filter((key) => typeof key === 'string'),
  };
}

/** The greatest depth of flow brackets and of indentation steps, an upper bound that costs one pass. */
function nestingOf(text: string): number {
  let depth = 0;
  let deepest = 0;
  let dashes = 0;
  for (let i = 0; i < text.length; i++) {
    const c = text.charCodeAt(i);
    if (c === 0x5b || c === 0x7b) deepest = Math.max(deepest, ++depth);
    else if (c === 0x5d || c === 0x7d) depth = Math.max(0, depth - 1);
    else if (c === 10) dashes = 0;
    else if (
      (c === 0x2d || c === 0x3f || c === 0x3a) &&
      (text.charCodeAt(i + 1) === 32 || text.charCodeAt(i + 1) === 9)
    ) {
      // `- - - -` and `? ? ?` nest within one line.
      deepest = Math.max(deepest, ++dashes);
    }
  }
  // Block nesting: a stack of indentations.
  const indents: number[] = [];
  for (const line of text.matchAll(/^( *)\S/gm)) {
    const indent = line[1]!.length;
    while (indents.length > 0 && indents[indents.length - 1]! >= indent) indents.pop();
    indents.push(indent);
    deepest = Math.max(deepest, indents.length);
  }
  return deepest;
}

function sentence(text: string): string {
  const trimmed = text.trim();
  return /[.!?]$/.test(trimmed) ? trimmed : `${trimmed}.`;
}

function clampSpan(file: string, text: string, start: number, end: number): Span {
  const from = Math.max(0, Math.min(start, text.length));
  return { file, start: from, end: Math.max(from, Math.min(end, text.length)) };
}

function spanOfNode(context: Context, node: Node): Span {
  const range = node.range;
  if (range === undefined || range === null) return { file: context.file, start: 0, end: 0 };
  return clampSpan(context.file, context.text, range[0], range[1]);
}

function report(
  context: Context,
  code: string,
  message: string,
  span: Span,
  extra: { help?: string; fixes?: Fix[]; note?: string } = {},
): undefined {
  context.findings.push({
    code,
    severity: 'error',
    message,
    where: [span],
    notes: extra.note === undefined ? [] : [{ text: extra.note }],
    ...(extra.help === undefined ? {} : { help: extra.help }),
    ...(extra.fixes === undefined ? {} : { fixes: extra.fixes }),
  });
  return undefined;
}

function readNode(context: Context, given: Node, schema: Schema, place: Place, depth: number): unknown {
  let node: Node = given;
  place.span = spanOfNode(context, node);
  if (depth > DEEPEST)
    return report(context, 'yaml/too-deep', 'This is nested too deeply.', place.span, {
      help: 'Nothing in a description goes deeper than a few levels.',
    });
  if (isAlias(node)) {
    if (++context.aliases > MOST_ALIASES)
      return report(context, 'yaml/too-many-aliases', `More than ${MOST_ALIASES} aliases.`, place.span, {
        help: 'Write the value out, or use a block with copies.',
      });
    const target = node.resolve(context.doc);
    if (target === undefined)
      return report(
        context,
        'yaml/unknown-alias',
        `No anchor named ${node.source} stands before this alias.`,
        place.span,
      );
    node = target as Node;
  }
  if (schema.anyOf !== undefined) return readUnion(context, node, schema, schema.anyOf, place, depth);
  if (schema.const !== undefined) return readUnion(context, node, schema, [schema], place, depth);
  switch (schema.type) {
    case 'object':
      return isMap(node)
        ? readMap(context, node, schema, place, depth)
        : wrongKind(context, node, 'a group of `key: value`', schema, place);
    case 'array':
      return isSeq(node)
        ? readSeq(context, node, schema, place, depth)
        : wrongKind(context, node, 'a list', schema, place);
    case 'string':
      return isScalar(node)
        ? readString(context, node, schema, place)
        : wrongKind(context, node, 'a text', schema, place);
    case 'number':
    case 'integer':
      return isScalar(node)
        ? readNumber(context, node, schema, place)
        : wrongKind(context, node, 'a number', schema, place);
    case 'boolean':
      if (isScalar(node) && typeof node.value === 'boolean') return node.value;
      return wrongKind(context, node, 'true or false', schema, place);
    case undefined:
      return isScalar(node) ? node.value : node.toJS(context.doc, { maxAliasCount: 0 });
    default:
      return bug('a schema of a kind this reader does not know', { type: schema.type });
  }
}

function nodeKind(node: Node): string {
  if (isMap(node)) return 'a group of `key: value`';
  if (isSeq(node)) return 'a list';
  if (isScalar(node)) {
    if (node.value === null) return 'nothing';
    if (typeof node.value === 'number' || typeof node.value === 'bigint')
      return `the number ${String(node.source ?? node.value)}`;
    if (typeof node.value === 'boolean') return `${node.value}`;
    return `the text "${shorten(String(node.value))}"`;
  }
  return 'something else';
}

function shorten(text: string): string {
  return text.length > 40 ? `${text.slice(0, 37)}…` : text;
}

function wrongKind(context: Context, node: Node, wanted: string, schema: Schema, place: Place): undefined {
  return report(
    context,
    'yaml/wrong-kind',
    `Here ${wanted} is wanted, and there is ${nodeKind(node)}.`,
    place.span,
    schema.description === undefined ? {} : { note: schema.description },
  );
}

/** The text of a scalar that YAML took for something other than text, as the builder wrote it. */
function readString(context: Context, node: Scalar, schema: Schema, place: Place): string | undefined {
  let text: string;
  if (typeof node.value === 'string') text = node.value;
  else if (node.value === null && (node.source === undefined || node.source === '')) {
    return report(
      context,
      'yaml/no-value',
      'A value is missing here.',
      place.span,
      schema.description === undefined ? {} : { note: schema.description },
    );
  } else {
    text = node.source ?? String(node.value);
    const read =
      node.value === null
        ? 'nothing'
        : typeof node.value === 'boolean'
          ? `the truth value ${node.value}`
          : `the number ${String(node.value)}`;
    const quoted = `"${text}"`;
    report(context, 'yaml/misread-value', `YAML reads ${text} as ${read}, but here a text is wanted.`, place.span, {
      help: `Write ${quoted}, with quotes.`,
      fixes: [{ title: `Quote it: ${quoted}`, edits: [{ span: place.span, text: quoted }] }],
      note: 'Types and grades that look like numbers lose zeros and signs when they are read as such.',
    });
  }
  if (schema.minLength !== undefined && text.length < schema.minLength)
    return report(context, 'yaml/no-value', 'A value is missing here.', place.span);
  if (schema.pattern !== undefined && !patternOf(schema.pattern).test(text)) {
    return report(
      context,
      'yaml/wrong-form',
      `"${shorten(text)}" has not the form wanted here.`,
      place.span,
      schema.description === undefined ? {} : { note: schema.description },
    );
  }
  return text;
}

function readNumber(context: Context, node: Scalar, schema: Schema, place: Place): number | undefined {
  if (typeof node.value !== 'number')
    return wrongKind(context, node, schema.type === 'integer' ? 'a whole number' : 'a number', schema, place);
  const value = node.value;
  if (!Number.isFinite(value) || (schema.type === 'integer' && !Number.isSafeInteger(value)))
    return wrongKind(context, node, 'a whole number', schema, place);
  if (
    (schema.minimum !== undefined && value < schema.minimum) ||
    (schema.maximum !== undefined && value > schema.maximum)
  ) {
    const range =
      schema.maximum === undefined
        ? `${schema.minimum} or more`
        : schema.minimum === undefined
          ? `${schema.maximum} or less`
          : `${schema.minimum} to ${schema.maximum}`;
    return report(context, 'yaml/out-of-range', `${value} is out of range: ${range} is wanted.`, place.span);
  }
  return value;
}

function readUnion(
  context: Context,
  node: Node,
  whole: Schema,
  branches: readonly Schema[],
  place: Place,
  depth: number,
): unknown {
  const literals = branches.filter((branch) => branch.const !== undefined).map((branch) => branch.const);
  if (isScalar(node) && literals.length > 0) {
    const written = typeof node.value === 'string' ? node.value : node.source;
    const hit = literals.find(
      (literal) => literal === node.value || (typeof literal === 'string' && literal === written),
    );
    if (hit !== undefined) return hit;
    const others = branches.filter((branch) => branch.const === undefined);
    if (others.length === 0) {
      const near = nearestName(String(written ?? ''), literals.map(String));
      return report(
        context,
        'yaml/unknown-word',
        `"${shorten(String(written ?? ''))}" is not one of the words wanted here${near === undefined ? '.' : `; did you mean ${near}?`}`,
        place.span,
        {
          help: `One of: ${literals.map(String).join(', ')}.`,
          ...(near === undefined
            ? {}
            : { fixes: [{ title: `Change it to ${near}`, edits: [{ span: place.span, text: near }] }] }),
        },
      );
    }
  }
  const fitting = branches.filter((branch) => branch.const === undefined && fits(node, branch));
  if (fitting.length === 0) {
    // A number or `true` where a text would do is one that YAML misread.
    const textual = branches.find((branch) => branch.type === 'string');
    if (isScalar(node) && textual !== undefined && node.value !== null)
      return readString(context, node, textual, place);
    const wanted = [...new Set(branches.map(describe))].join(' or ');
    return report(
      context,
      'yaml/wrong-kind',
      `Here ${wanted} is wanted, and there is ${nodeKind(node)}.`,
      place.span,
      whole.description === undefined ? {} : { note: whole.description },
    );
  }
  let best = fitting[0]!;
  if (fitting.length > 1 && isMap(node)) {
    const keys = node.items.map((pair) => keyText(pair));
    const score = (schema: Schema): number =>
      keys.filter((key) => schema.properties !== undefined && Object.hasOwn(schema.properties, key)).length;
    for (const branch of fitting) if (score(branch) > score(best)) best = branch;
  }
  return readNode(context, node, best, place, depth);
}

function fits(node: Node, schema: Schema): boolean {
  if (schema.anyOf !== undefined)
    return schema.anyOf.some((branch) => branch.const !== undefined || fits(node, branch));
  if (schema.type === 'object') return isMap(node);
  if (schema.type === 'array') return isSeq(node);
  if (!isScalar(node)) return false;
  if (schema.type === 'string') return typeof node.value === 'string';
  if (schema.type === 'number' || schema.type === 'integer') return typeof node.value === 'number';
  if (schema.type === 'boolean') return typeof node.value === 'boolean';
  return true;
}

function describe(schema: Schema): string {
  if (schema.const !== undefined) return `"${String(schema.const)}"`;
  if (schema.anyOf !== undefined) return schema.anyOf.map(describe).join(' or ');
  if (schema.type === 'object') return 'a group of `key: value`';
  if (schema.type === 'array') return 'a list';
  if (schema.type === 'string') return 'a text';
  if (schema.type === 'boolean') return 'true or false';
  return 'a number';
}

function keyText(pair: Pair): string {
  const key = pair.key;
  if (isScalar(key)) return typeof key.value === 'string' ? key.value : (key.source ?? String(key.value));
  return '';
}

function readMap(context: Context, node: YAMLMap, schema: Schema, place: Place, depth: number): Plain {
  const result: Plain = Object.create(null) as Plain;
  place.children = new Map();
  const known = schema.properties ?? {};
  const patterns = Object.entries(schema.patternProperties ?? {}).map(([pattern, value]) => ({
    source: pattern,
    test: patternOf(pattern),
    value,
  }));
  const first = new Map<string, Span>();
  let present: Set<string> | undefined;
  for (const pair of node.items) {
    const keyNode = pair.key as Node;
    const keySpan = spanOfNode(context, keyNode);
    if (!isScalar(keyNode)) {
      report(context, 'yaml/wrong-kind', 'A key must be a plain text.', keySpan);
      continue;
    }
    const key = keyText(pair);
    const plainNumbers = patterns.some(({ source, test }) => source === NUMBER_KEYS && test.test(key));
    if (typeof keyNode.value !== 'string' && !Object.hasOwn(known, key) && !plainNumbers) {
      report(context, 'yaml/misread-value', `YAML reads the name ${key} as something other than text.`, keySpan, {
        help: `Write "${key}", with quotes.`,
        fixes: [{ title: `Quote it: "${key}"`, edits: [{ span: keySpan, text: `"${key}"` }] }],
      });
    }
    const before = first.get(key);
    if (before !== undefined) {
      context.findings.push({
        code: 'yaml/duplicate-key',
        severity: 'error',
        message: `${key} stands here a second time.`,
        where: [keySpan],
        notes: [{ text: 'It stands first here; this one is used.', span: before }],
        help: 'Keep one of the two, or give the other its own name.',
      });
      continue;
    }
    first.set(key, keySpan);
    const inner = Object.hasOwn(known, key) ? known[key] : patterns.find((pattern) => pattern.test.test(key))?.value;
    const child: Place = { span: keySpan, key: keySpan };
    place.children.set(key, child);
    if (inner === undefined) {
      if (schema.additionalProperties === false || patterns.length > 0) {
        present ??= new Set(node.items.map(keyText));
        const taken = present;
        const near = nearestName(
          key,
          Object.keys(known).filter((name) => !taken.has(name)),
        );
        report(
          context,
          'yaml/unknown-key',
          `There is no ${key === '' ? 'empty key' : key} here${near === undefined ? '.' : `; did you mean ${near}?`}`,
          keySpan,
          {
            help:
              Object.keys(known).length > 0
                ? `Keys known here: ${Object.keys(known).join(', ')}.`
                : 'This name has not the form wanted here.',
            ...(near === undefined
              ? {}
              : { fixes: [{ title: `Change it to ${near}`, edits: [{ span: keySpan, text: near }] }] }),
          },
        );
        continue;
      }
    }
    const valueNode = pair.value as Node | null;
    const branch = inner ?? (typeof schema.additionalProperties === 'object' ? schema.additionalProperties : {});
    if (valueNode === null || valueNode === undefined) {
      report(
        context,
        'yaml/no-value',
        `${key} has no value.`,
        keySpan,
        branch.description === undefined ? {} : { note: branch.description },
      );
      continue;
    }
    const value = readNode(context, valueNode, branch, child, depth + 1);
    if (value !== undefined) result[key] = value;
  }
  for (const key of schema.required ?? []) {
    if (!first.has(key)) {
      const span = { ...place.span, end: Math.min(place.span.end, place.span.start + 1) };
      report(
        context,
        'yaml/missing-key',
        `${key} is missing here.`,
        span,
        known[key]?.description === undefined ? {} : { note: known[key].description },
      );
    }
  }
  return result;
}

function readSeq(context: Context, node: YAMLSeq, schema: Schema, place: Place, depth: number): unknown[] {
  const result: unknown[] = [];
  place.children = new Map();
  const tuple = Array.isArray(schema.items) ? (schema.items as readonly Schema[]) : undefined;
  node.items.forEach((item, index) => {
    const inner = tuple === undefined ? ((schema.items as Schema | undefined) ?? {}) : tuple[index];
    const child: Place = { span: item === null ? place.span : spanOfNode(context, item as Node) };
    if (inner === undefined) {
      report(context, 'yaml/out-of-range', `At most ${tuple?.length ?? 0} entries are wanted here.`, child.span);
      return;
    }
    if (item === null) {
      report(context, 'yaml/no-value', 'An entry of this list is empty.', place.span);
      return;
    }
    const value = readNode(context, item as Node, inner, child, depth + 1);
    if (value !== undefined) {
      place.children?.set(result.length, child);
      result.push(value);
    }
  });
  const least = schema.minItems ?? 0;
  if (node.items.length < least)
    report(
      context,
      'yaml/out-of-range',
      `At least ${least} ${least === 1 ? 'entry is' : 'entries are'} wanted here.`,
      place.span,
    );
  return result;
}
