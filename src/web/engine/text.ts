// The machine file as text: what can be written at a place, where a name is defined and used, renaming, waiving. Renaming is
// proved before it is offered: the machine after it must be the machine before, names exchanged.

import { machineJsonSchema, netlistAt, Project } from '../../app/index.ts';
import { foldName, type TextEdit } from '../../base/index.ts';
import type { Asks, CompletionData, UiPlace } from '../protocol.ts';
import type { Bench } from './bench.ts';

export function lineAt(text: string, offset: number): string {
  const start = text.lastIndexOf('\n', offset - 1) + 1;
  const end = text.indexOf('\n', offset);
  return text.slice(start, end < 0 ? text.length : end);
}

const KEY = /^(\s*)(?:- )?\s*(?:"([^"]+)"|'([^']+)'|([^\s:#{}[\],"'][^:#{}[\],]*?))\s*:(?:\s|$)/;

/** The keys that enclose a place, outermost first, by indentation: `['parts', 'CPU']` on a line of a part. */
export function keysAt(text: string, offset: number): string[] {
  const before = text.slice(0, text.indexOf('\n', offset) < 0 ? text.length : text.indexOf('\n', offset)).split('\n');
  const keys: string[] = [];
  let indent = Number.POSITIVE_INFINITY;
  for (let i = before.length - 1; i >= 0; i--) {
    const line = before[i]!;
    if (/^\s*(?:#|$)/.test(line)) continue;
    const depth = /^\s*(?:- )?/.exec(line)![0].length;
    if (depth >= indent) continue;
    const match = KEY.exec(line);
    if (match !== null) keys.unshift(match[2] ?? match[3] ?? match[4]!);
    else if (indent === Number.POSITIVE_INFINITY) {
      indent = depth + 1;
      continue;
    }
    indent = depth;
    if (depth === 0) break;
  }
  return keys;
}

type Schema = Record<string, unknown>;
const schema = machineJsonSchema() as Schema;

function resolveRef(node: Schema | undefined): Schema | undefined {
  const ref = node?.['$ref'];
  if (typeof ref !== 'string') return node;
  return ref
    .slice(2)
    .split('/')
    .reduce<Schema | undefined>((at, key) => at?.[key] as Schema | undefined, schema);
}

/** The branches of a schema node: itself, its alternatives, and what its list holds. */
function branches(node: Schema | undefined): Schema[] {
  const at = resolveRef(node);
  if (at === undefined) return [];
  const inner = [...((at['anyOf'] as Schema[] | undefined) ?? [])];
  if (at['items'] !== undefined) inner.push(at['items'] as Schema);
  return [at, ...inner.flatMap(branches)];
}

function below(nodes: readonly Schema[], key: string): Schema[] {
  return nodes.flatMap((node) => {
    const own = (node['properties'] as Record<string, Schema> | undefined)?.[key];
    if (own !== undefined) return branches(own);
    const rest =
      node['additionalProperties'] ?? Object.values((node['patternProperties'] as object | undefined) ?? {})[0];
    return typeof rest === 'object' && rest !== null ? branches(rest as Schema) : [];
  });
}

function keyItems(path: readonly string[]): CompletionData[] {
  let nodes = branches(schema);
  for (const key of path) nodes = below(nodes, key);
  const items = new Map<string, CompletionData>();
  for (const node of nodes)
    for (const [key, value] of Object.entries((node['properties'] as Record<string, Schema> | undefined) ?? {}))
      items.set(key, { label: key, detail: String(resolveRef(value)?.['description'] ?? ''), kind: 'key' });
  return [...items.values()];
}

/** What can be written at a place. The text given is the newest, which the engine may not have yet. */
export function complete(bench: Bench, ask: Asks['complete'][0]): Asks['complete'][1] {
  const { text, offset } = ask;
  const start = text.lastIndexOf('\n', offset - 1) + 1;
  const head = text.slice(start, offset);
  if (/(?:^|\s)#/.test(head)) return undefined;
  const word = /[\w/~#.@+-]*$/.exec(head)![0];
  const from = offset - word.length;
  const path = keysAt(text, offset);
  const design = bench.build.design();
  const netlist = netlistAt(design, bench.lastStage());
  const library = bench.project.library().value;
  const dot = word.lastIndexOf('.');
  if (dot > 0) {
    const part = netlist.parts.find((item) => foldName(item.name) === foldName(word.slice(0, dot)));
    if (part !== undefined)
      return {
        from: from + dot + 1,
        items: part.record.pins.map((pin) => ({
          label: pin.name,
          detail: `pin ${pin.number}, ${pin.kind}`,
          kind: 'pin',
        })),
      };
  }
  const parts = (): CompletionData[] =>
    netlist.parts
      .filter((part) => part.implied === undefined)
      .map((part) => ({ label: part.name, detail: `${part.type}, ${part.record.title}`, kind: 'part' }));
  const nets = (): CompletionData[] =>
    netlist.nets.map((net) => ({ label: net.name, detail: `${net.kind}, ${net.pins.length} pins`, kind: 'net' }));
  const value = /(?:^|[{,]\s*|-\s+|\s)([\w-]+)\s*:\s+[^:{}[\],]*$/.exec(head)?.[1];
  if (value === 'type')
    return {
      from,
      items: library.records.flatMap((record) => {
        const families = record.families ?? [];
        const names = /^\d+x\d/.test(record.part)
          ? families.map((family) => record.part.replace('x', family))
          : [record.part];
        return names.map((label): CompletionData => ({ label, detail: record.title, kind: 'type' }));
      }),
    };
  if (value === 'grade') {
    const type = /type\s*:\s*"?([\w.-]+)"?/.exec(lineAt(text, offset))?.[1];
    const record = type === undefined ? undefined : library.find(type)?.record;
    return {
      from: offset - /[^:,{]*$/.exec(head)![0].trimStart().length,
      items: Object.keys(record?.grades ?? {}).map((label) => ({ label, detail: 'grade', kind: 'value' })),
    };
  }
  const openBrace = Math.max(head.lastIndexOf('{'), head.lastIndexOf('['));
  const inFlow = openBrace > Math.max(head.lastIndexOf('}'), head.lastIndexOf(']'));
  const since = inFlow
    ? head
        .slice(openBrace + 1)
        .split(',')
        .at(-1)!
    : head.replace(/^\s*(?:- )?/, '');
  const atKey = !since.includes(':') && head[openBrace] !== '[';
  if (atKey && inFlow) {
    const owner = /([\w-]+)\s*:\s*\{[^{]*$/.exec(head)?.[1];
    if (owner === 'pins') {
      const part = netlist.parts.find((item) => foldName(item.name) === foldName(path[1] ?? ''));
      return {
        from,
        items: (part?.record.pins ?? []).map((pin) => ({
          label: pin.name,
          detail: `pin ${pin.number}, ${pin.kind}`,
          kind: 'pin',
        })),
      };
    }
    const keys = keyItems(path);
    return { from, items: path[0] === 'memory' || path[0] === 'ports' ? [...parts(), ...keys] : keys };
  }
  if (atKey && !inFlow) {
    const indent = /^\s*/.exec(head)![0].length;
    if (indent === 0) return { from, items: keyItems([]) };
    const parent = keysAt(text, Math.max(0, start - 1)).slice(0, path.length);
    return { from, items: path[0] === 'nets' ? nets() : keyItems(parent) };
  }
  return { from, items: [...parts(), ...nets()] };
}

/** The files that the machine is written in. */
function sources(bench: Bench): string[] {
  return bench.project.machine().value.files.filter((file) => !file.startsWith('shipped:'));
}

const escaped = (word: string): string => word.replace(/[.*+?^${}()|[\]\\/-]/g, '\\$&');

/** Every place where a name stands as a whole word, comments left out. */
export function references(bench: Bench, word: string): UiPlace[] {
  const pattern = new RegExp(`(?<![\\w/~#.@-])${escaped(word)}(?![\\w@-])`, 'gi');
  return sources(bench).flatMap((file) => {
    const text = bench.project.text(file) ?? '';
    return [...text.matchAll(pattern)]
      .filter((match) => !/(?:^|\s)#/.test(text.slice(text.lastIndexOf('\n', match.index) + 1, match.index)))
      .map((match) => bench.place({ file, start: match.index, end: match.index + match[0].length }));
  });
}

/** Where a part, net, stage or pin is said. */
export function definition(bench: Bench, word: string): UiPlace | undefined {
  const machine = bench.project.machine().value;
  const name = foldName(word);
  const owner = word.includes('.') ? foldName(word.slice(0, word.indexOf('.'))) : name;
  const part = machine.parts.find((item) => foldName(item.name) === owner);
  if (part !== undefined) return bench.place(part.span);
  const net = machine.nets.find((item) => foldName(item.name) === name);
  if (net !== undefined) return bench.place(net.span);
  const stage = machine.stages.find((item) => foldName(item.name) === name);
  if (stage !== undefined) return bench.place(stage.span);
  const derived = netlistAt(bench.build.design(), bench.lastStage()).nets.find((item) => foldName(item.name) === name);
  return derived?.origin.span === undefined ? undefined : bench.place(derived.origin.span);
}

/** Edits that give a part or net another name everywhere; a sentence where it can't be done. */
export function rename(bench: Bench, word: string, to: string): { edits: TextEdit[] } | string {
  const before = netlistAt(bench.build.design(), bench.lastStage());
  const isPart = before.parts.some((part) => foldName(part.name) === foldName(word));
  const isNet = before.nets.some((net) => foldName(net.name) === foldName(word));
  if (!isPart && !isNet) return `${word} is neither a part nor a net.`;
  if (!/^[/~#]?[\p{L}\p{N}][\p{L}\p{N}_-]*$/u.test(to)) return `${to} can't be a name.`;
  const taken = (name: string): boolean => foldName(name) === foldName(to) && foldName(name) !== foldName(word);
  if (before.parts.some((part) => taken(part.name)) || before.nets.some((net) => taken(net.name)))
    return `${to} is there already.`;
  const edits = references(bench, word).map(
    (place): TextEdit => ({ span: { file: place.file, start: place.start, end: place.end }, text: to }),
  );
  const copy = new Project(
    bench.project.shipped,
    new Map(bench.project.paths().map((path) => [path, applyEdits(path, bench.project.text(path) ?? '', edits)])),
    bench.project.main,
  );
  const after = netlistAt(copy.design().value, copy.design().value.stages.length);
  // Parts that the design adds are known by what they serve, and nets without a name of their own by their pins.
  const print = (netlist: typeof before, old: string): string => {
    const swap = (name: string): string => {
      const [owner = '', ...rest] = name.split('.');
      return foldName([foldName(owner) === foldName(old) ? to : owner, ...rest].join('.'));
    };
    const pin = (id: number): string => {
      const { part, number } = netlist.pins[id]!;
      const { name, implied } = netlist.parts[part]!;
      return `${implied === undefined ? swap(name) : `${implied.kind} ${swap(implied.serves)}`}.${number}`;
    };
    return netlist.nets
      .map((net) => `${net.derived ? '' : swap(net.name)} ${net.pins.map(pin).sort().join(' ')}`)
      .sort()
      .join('\n');
  };
  if (print(before, word) !== print(after, to))
    return `${word} can't be renamed by exchanging the word: the machine would be another one. Rename it by hand.`;
  return { edits };
}

/** A text with those of the edits that are of this file. */
export function applyEdits(file: string, text: string, edits: readonly TextEdit[]): string {
  return edits
    .filter((edit) => edit.span.file === file)
    .sort((a, b) => b.span.start - a.span.start)
    .reduce((now, edit) => now.slice(0, edit.span.start) + edit.text + now.slice(edit.span.end), text);
}

/** The machine file with one more waiver; a sentence where a finding can't be waived. */
export function waive(bench: Bench, id: string, reason: string): { file: string; text: string } | string {
  const finding = bench.findings().find((item) => item.id === id);
  if (finding === undefined) return 'That finding is no longer there.';
  if (finding.severity === 'error') return 'An error can harm a part or cannot work, so it can’t be waived.';
  if (reason.trim() === '') return 'A waiver wants a reason: the book prints it.';
  if (finding.about.length === 0) return 'This finding names no part, pin or net, so there is nothing to waive it at.';
  const file = bench.project.main;
  const text = bench.project.text(file) ?? '';
  const eol = text.includes('\r\n') ? '\r\n' : '\n';
  const plain = (name: string): string => (/^[\w.-]+$/.test(name) ? name : JSON.stringify(name));
  const entry = `  - { code: ${finding.code}, at: [${finding.about.map(plain).join(', ')}], reason: ${JSON.stringify(reason.trim())} }`;
  const section = /^waive:[ \t]*(.*)$/m.exec(text);
  if (section === null) {
    const gap = text.endsWith('\n') || text === '' ? '' : eol;
    return { file, text: `${text}${gap}${eol}waive:${eol}${entry}${eol}` };
  }
  if (section[1]!.replace(/#.*/, '').trim() !== '') return 'The waivers are written in one line: add this one by hand.';
  let at = text.indexOf('\n', section.index);
  at = at < 0 ? text.length : at + 1;
  let indent: string | undefined;
  for (;;) {
    const end = text.indexOf('\n', at);
    const line = text.slice(at, end < 0 ? text.length : end);
    if (line === '' || !/^(?:\s|-)/.test(line)) break;
    indent ??= /^(\s*)-/.exec(line)?.[1];
    if (end < 0) {
      at = text.length;
      break;
    }
    at = end + 1;
  }
  const gap = at > 0 && text[at - 1] !== '\n' ? eol : '';
  return { file, text: `${text.slice(0, at)}${gap}${entry.replace(/^ {2}/, indent ?? '  ')}${eol}${text.slice(at)}` };
}
