// Who answers where, and what is fused so that they do: the map as of a stage with what the machine file says of it, and the
// devices as their files were read back. Edits of the map are made as edits of the text, read again, and given out only if the
// map afterwards is the one that was asked for.

import {
  type Design,
  discreteForm,
  discreteText,
  type ExplainedOutput,
  editMap,
  enableFormula,
  levelFormula,
  type MapDecl,
  type MapEdit,
  type MapReport,
  mapAt,
  netlistAt,
  Project,
  type Revision,
  revisionAt,
} from '../../app/index.ts';
import { foldName, formatHex, parseQuantity, printFormula } from '../../base/index.ts';
import { addressBlocks } from '../../drawing/index.ts';
import type { AddressAnswer, AddressDevice, AddressEntry, AddressSpaceData, Asks } from '../protocol.ts';
import type { Bench } from './bench.ts';
import { applyEdits } from './text.ts';

/** Vectors that are listed; a file may have hundreds. */
const MOST_VECTORS = 400;

export function address(bench: Bench, ask: Asks['address'][0]): AddressAnswer {
  const { build } = bench;
  const design = build.design();
  const { revisions, findings } = build.devices();
  const map = mapAt(design, revisions, ask.stage);
  const spaces = (['memory', 'ports'] as const).flatMap((name): AddressSpaceData[] => {
    const entries = entriesOf(bench, design, name, ask.stage);
    const report = map?.report.spaces.find((space) => space.name === name);
    if (report === undefined && entries.length === 0) return [];
    const lines = map?.plan.spaces.find((space) => space.name === name)?.lines ?? [];
    return [spaceData(design, name, ask.stage, report ?? declaredOnly(name, entries), entries, lines)];
  });
  const shown = [...new Set(revisions.map((revision) => revision.part))]
    .map((part) => revisionAt(revisions, part, ask.stage))
    .filter((revision) => revision !== undefined);
  const about = new Set([
    ...shown.map((revision) => foldName(revision.part)),
    ...design.map.map((region) => foldName(region.part)),
  ]);
  const all = [...bench.project.findings(), ...findings].filter(
    (finding) =>
      (finding.code.startsWith('decode/') || /map|region|mirror|decoder|device-|select/.test(finding.code)) &&
      (finding.stage ?? 1) <= ask.stage &&
      (finding.about ?? []).some((name) => about.has(foldName(name.split('.')[0]!))),
  );
  const mapped = new Set(bench.project.machine().value.map.map((entry) => foldName(entry.part.name)));
  const members = bench.project.machine().value.buses.flatMap((bus) => bus.members.map((member) => member.name));
  const netlist = netlistAt(design, bench.lastStage());
  const isMultiplexed = netlist.parts.some(
    ({ record }) => record.bus?.role === 'processor' && record.bus.signals?.['ale'] !== undefined,
  );
  return {
    spaces,
    devices: shown.map((revision) => deviceData(bench, revision, ask.stage)),
    fixed: fixedOf(design, ask.stage, new Set(shown.map((revision) => foldName(revision.part)))),
    findings: [
      ...new Map(all.map((finding) => [`${finding.code} ${finding.message}`, bench.finding(finding)])).values(),
    ],
    unmapped: members.filter((name) => {
      const role = netlist.parts.find((part) => foldName(part.name) === foldName(name))?.record.bus?.role;
      // A latch without an address may be one for the address lines, where these carry data too.
      const isPort = role === 'buffer' || (role === 'latch' && !isMultiplexed);
      return !mapped.has(foldName(name)) && (role === 'memory' || role === 'peripheral' || isPort);
    }),
  };
}

function entriesOf(bench: Bench, design: Design, space: MapDecl['space'], stage: number): AddressEntry[] {
  const built = bench.build.built().value;
  const machine = bench.project.machine().value;
  return machine.map.flatMap((entry, index): AddressEntry[] => {
    if (entry.space !== space) return [];
    // Where buses follow each other an entry has a region on each: the one that is there, else the next to come.
    const regions = design.map.filter((one) => one.decl === entry || sameEntry(one.decl, entry));
    const isNow = (one: (typeof regions)[number]): boolean =>
      one.stage <= stage && (one.until === undefined || stage < one.until);
    const region = regions.find(isNow) ?? regions.find((one) => one.stage > stage) ?? regions.at(-1);
    const first = regions.length === 0 ? 0 : Math.min(...regions.map((one) => one.stage));
    const part = netlistAt(design, bench.lastStage()).parts.find(
      (one) => foldName(one.name) === foldName(entry.part.name),
    );
    const state =
      region === undefined || region.stage > stage
        ? 'later'
        : region.until !== undefined && region.until <= stage
          ? 'gone'
          : built.parts.has(part?.name ?? '')
            ? 'built'
            : 'planned';
    return [
      {
        index,
        part: entry.part.name,
        type: part?.type ?? '',
        holds: part?.holds ?? '',
        at: entry.at,
        bytes: entry.bytes,
        access: entry.access ?? region?.access ?? '',
        when: entry.when?.name ?? '',
        mirrors: entry.mirrors ?? '',
        stage: first,
        stageName: design.stages.find((one) => one.number === first)?.name ?? '',
        state,
        place: bench.place(entry.part.span),
      },
    ];
  });
}

function sameEntry(a: MapDecl, b: MapDecl): boolean {
  return foldName(a.part.name) === foldName(b.part.name) && a.at === b.at && a.bytes === b.bytes && a.space === b.space;
}

/** The map as the machine file states it, where no device tells more. */
function declaredOnly(name: MapDecl['space'], entries: readonly AddressEntry[]): MapReport['spaces'][number] {
  const live = entries.filter((entry) => entry.state === 'built' || entry.state === 'planned');
  const least = name === 'ports' ? 256 : 65536;
  const end = Math.max(0, ...entries.map((entry) => entry.at + entry.bytes));
  const size = Math.max(least, 2 ** Math.ceil(Math.log2(Math.max(1, end))));
  const edges = [...new Set([0, size, ...live.flatMap((entry) => [entry.at, entry.at + entry.bytes])])].sort(
    (a, b) => a - b,
  );
  const segments = edges.slice(0, -1).map((from, k) => {
    const here = live.filter((entry) => entry.at <= from && from < entry.at + entry.bytes);
    const plain = here.filter((entry) => entry.when === '');
    return {
      from,
      to: edges[k + 1]! - 1,
      state: here.length === 0 ? ('gap' as const) : plain.length > 1 ? ('double' as const) : ('mapped' as const),
      answers: here.map((entry) => ({
        part: entry.part,
        net: '',
        when: entry.when === '' ? undefined : entry.when,
        is: 'mapped' as const,
        access: undefined,
      })),
    };
  });
  return { name, size, segments, period: size, mayMirror: [], isCut: false };
}

function spaceData(
  design: Design,
  name: MapDecl['space'],
  stage: number,
  report: MapReport['spaces'][number],
  entries: readonly AddressEntry[],
  lines: readonly string[],
): AddressSpaceData {
  const first = Math.min(...entries.map((entry) => (entry.stage === 0 ? Number.POSITIVE_INFINITY : entry.stage)));
  const vectors =
    name === 'ports'
      ? []
      : netlistAt(design, stage).parts.flatMap((part) =>
          part.record.bus?.role === 'processor' ? (part.record.bus.vectors ?? []) : [],
        );
  return {
    name,
    size: report.size,
    digits: Math.max(2, (report.size - 1).toString(16).length),
    lines: lines.length > 0 ? lines : Array.from({ length: Math.log2(report.size) }, (_, bit) => `A${bit}`),
    from: Number.isFinite(first) ? first : undefined,
    blocks: addressBlocks(report).map((block) => ({
      from: block.from,
      to: block.to,
      state: block.state,
      answers: block.answers.map((answer) => ({
        part: answer.part,
        net: answer.net,
        when: answer.when ?? '',
        is: answer.is,
        access: answer.access ?? '',
      })),
    })),
    entries,
    vectors: vectors
      .filter((vector) => vector.at < report.size)
      .map((vector) => ({ name: vector.name, at: vector.at, bytes: vector.bytes })),
    mayMirror: report.mayMirror,
  };
}

function deviceData(bench: Bench, revision: Revision, stage: number): AddressDevice {
  const { result, own, nets } = revision;
  const explained = result?.compiled.explained ?? own?.result?.explained;
  const outputs: readonly ExplainedOutput[] = result?.compiled.outputs ?? explained?.outputs ?? [];
  const name = (pin: number): string => nets.get(pin) ?? `pin ${pin}`;
  const read = new Set<number>();
  for (const output of outputs)
    for (const term of [...output.terms, ...(typeof output.enable === 'boolean' ? [] : output.enable)])
      for (const literal of term) read.add(literal.pin);
  const outputPins = new Set(outputs.map((output) => output.pin));
  const columns = [...new Set([...nets.keys()].filter((pin) => !outputPins.has(pin) || read.has(pin)))]
    .filter((pin) => read.has(pin) || !outputPins.has(pin))
    .sort((a, b) => a - b)
    .map((pin) => ({ pin, net: name(pin), used: read.has(pin) }));
  const compiled = new Map((result?.compiled.outputs ?? []).map((output) => [output.pin, output]));
  const check = result?.check ?? own?.result?.check;
  const run = own?.result?.run;
  const file = own === undefined ? revision.file : own.file;
  const form = discreteForm(
    bench.build.design(),
    bench.build.machine().value,
    bench.project.library().value,
    revision.part,
    stage,
    Math.max(1, ...(result?.compiled.outputs ?? []).map((output) => output.passes)),
  );
  const proof = result?.compiled.proof ?? own?.result?.proof;
  return {
    part: revision.part,
    device: revision.device,
    mode: explained?.mode ?? '',
    revision: revision.number,
    stage: revision.stage,
    until: revision.until,
    file,
    isOwn: own !== undefined,
    isProved: own === undefined ? result !== undefined : own.isProved,
    fuses: explained?.fuses ?? 0,
    sum: sumText(result?.compiled.checksum ?? own?.result?.file.fuseSum.computed),
    signature: (explained?.signature ?? '').trimEnd(),
    points: (proof?.points ?? 0) + (check?.points ?? 0),
    text: result?.compiled.text ?? '',
    discrete: form === undefined ? '' : discreteText(form, revision.device),
    columns,
    rows: outputs.map((output) => ({
      pin: output.pin,
      net: name(output.pin),
      registered: output.registered,
      activeLow: output.activeLow,
      equation: printFormula(levelFormula(output, name)).replace(/^~~/, ''),
      enable: output.enable === true ? '' : printFormula(enableFormula(output, name)!),
      terms: output.terms.map((term) => columns.map(({ pin }) => term.find((literal) => literal.pin === pin)?.level)),
      proved: compiled.get(output.pin)?.isProvedMinimal ?? true,
      passes: compiled.get(output.pin)?.passes ?? 0,
      room: compiled.get(output.pin)?.room ?? 0,
    })),
    pins: pinsOf(revision),
    vectors:
      result !== undefined
        ? vectorsOf(result.compiled.text)
        : (own?.result?.file.vectors ?? [])
            .slice(0, MOST_VECTORS)
            .map((vector) => ({ number: vector.number, conditions: vector.conditions })),
    failures: (run?.failures ?? []).map((failure) => ({
      vector: failure.vector,
      pin: failure.pin,
      text: failure.message,
    })),
    differences: (check?.differences ?? []).map((one) => ({
      space: one.space,
      from: one.from,
      to: one.to,
      text:
        one.kind === 'missing'
          ? `${one.part} is mapped, and ${one.net} does not select it`
          : `${one.net} selects ${one.part}, which is not mapped`,
      at: Object.entries(one.at)
        .map(
          ([net, level]) =>
            `${[...nets.values()].find((known) => foldName(known) === net) ?? net} ${level === 1 ? 'high' : 'low'}`,
        )
        .join(', '),
    })),
  };
}

function sumText(sum: number | undefined): string {
  return sum === undefined ? '' : sum.toString(16).toUpperCase().padStart(4, '0');
}

/** The vectors as the written file has them. */
function vectorsOf(text: string): { number: number; conditions: string }[] {
  return [...text.matchAll(/^V(\d+) ([^*]+)\*/gm)]
    .slice(0, MOST_VECTORS)
    .map((match) => ({ number: Number(match[1]), conditions: match[2]!.trim() }));
}

const PINS: Readonly<Record<string, number>> = { '16V8': 20, '20V8': 24, '22V10': 24 };

function pinsOf(revision: Revision): AddressDevice['pins'] {
  const count = PINS[revision.device] ?? 20;
  return Array.from({ length: count }, (_, k) => {
    const pin = k + 1;
    const use = revision.result?.compiled.pins[k];
    return {
      pin,
      net: revision.nets.get(pin) ?? (pin === count / 2 ? 'GND' : pin === count ? '+5 V' : (use?.name ?? '')),
      use: use?.use ?? '',
    };
  });
}

function fixedOf(design: Design, stage: number, programmed: ReadonlySet<string>): AddressAnswer['fixed'] {
  const holds = (one: { readonly stage: number; readonly until: number | undefined }): boolean =>
    one.stage <= stage && (one.until === undefined || stage < one.until);
  const rails = new Set(['gnd', ...design.supplies.map((supply) => foldName(supply.name))]);
  return design.devices.flatMap((plan) => {
    const outputs = plan.outputs.filter(holds);
    if (programmed.has(foldName(plan.part)) || outputs.length === 0) return [];
    return [
      {
        part: plan.part,
        type: plan.type,
        inputs: plan.inputs
          .filter((input) => !rails.has(foldName(input.net)))
          .map((input) => ({ pin: input.pin, net: input.net })),
        outputs: outputs.map((output) => ({ pin: output.pin, net: output.net, part: output.select?.part ?? '' })),
      },
    ];
  });
}

/** The text with the edit done, or a sentence that says why not. */
export function mapEdit(bench: Bench, ask: Asks['mapEdit'][0]): Asks['mapEdit'][1] {
  const { project } = bench;
  const machine = project.machine().value;
  const entry = ask.index === undefined ? undefined : machine.map[ask.index];
  if (ask.do !== 'add' && entry === undefined) return 'That entry is no longer in the file.';
  const bytes = ask.size === undefined ? undefined : sizeOf(ask.size);
  const at = ask.at === undefined ? undefined : addressOf(ask.at);
  if (typeof bytes === 'string') return bytes;
  if (typeof at === 'string') return at;
  let edit: MapEdit;
  if (ask.do === 'add') {
    if (at === undefined || bytes === undefined || ask.part === undefined || ask.space === undefined)
      return 'A part, its first address and its size are wanted.';
    edit = { do: 'add', space: ask.space, part: ask.part, at, bytes };
  } else if (ask.do === 'move') edit = { do: 'move', entry: entry!, at: at ?? entry!.at, bytes: bytes ?? entry!.bytes };
  else if (ask.do === 'say') edit = { do: 'say', entry: entry!, key: ask.key ?? 'mirrors', word: ask.word };
  else edit = { do: 'remove', entry: entry! };
  if (edit.do === 'move' || edit.do === 'add') {
    const space = edit.do === 'add' ? edit.space : edit.entry.space;
    const size = address(bench, { stage: ask.stage }).spaces.find((one) => one.name === space)?.size;
    if (size !== undefined && edit.at + edit.bytes > size)
      return `${formatHex(edit.at)} with ${edit.bytes} bytes runs past ${formatHex(size - 1)}, the last address there is.`;
  }
  const file = entry?.span.file ?? project.main;
  const before = project.text(file);
  const edits = before === undefined ? undefined : editMap(file, before, edit);
  const refused = `${file} is written in a form that can't be changed from here: edit it in Intent.`;
  if (before === undefined || edits === undefined) return refused;
  const text = applyEdits(file, before, edits);
  return changesOnly(bench, file, text, edit) ? { file, text } : refused;
}

/** Whether the map of the new text is the old one with the one change. */
function changesOnly(bench: Bench, file: string, text: string, edit: MapEdit): boolean {
  const { project } = bench;
  const files = new Map(project.paths().map((path) => [path, project.text(path) ?? '']));
  files.set(file, text);
  const after = new Project(project.shipped, files, project.main).machine().value.map.map(wordOf);
  const wanted = project.machine().value.map.flatMap((entry) => {
    if (edit.do === 'add' || entry !== edit.entry) return [wordOf(entry)];
    if (edit.do === 'remove') return [];
    if (edit.do === 'move') return [wordOf({ ...entry, at: edit.at, bytes: edit.bytes })];
    const { [edit.key]: _, ...rest } = entry;
    return [wordOf(edit.word === undefined ? (rest as MapDecl) : ({ ...rest, [edit.key]: edit.word } as MapDecl))];
  });
  if (edit.do === 'add') wanted.push(`${edit.space} ${foldName(edit.part)} ${edit.at} ${edit.bytes}    `.trimEnd());
  return [...after].sort().join('\n') === [...wanted].sort().join('\n');
}

function wordOf(entry: MapDecl): string {
  return [
    entry.space,
    foldName(entry.part.name),
    entry.at,
    entry.bytes,
    entry.access ?? '',
    entry.mirrors ?? '',
    entry.when?.name ?? '',
    entry.offset ?? '',
  ]
    .join(' ')
    .trimEnd();
}

function sizeOf(text: string): number | string {
  const value = parseQuantity(text);
  return value !== undefined &&
    (value.dimension === 'plain' || value.dimension === 'size') &&
    Number.isInteger(value.value) &&
    value.value > 0
    ? value.value
    : `${text} is no size: write 32 KiB, or 8 for bytes.`;
}

function addressOf(text: string): number | string {
  const plain = text.trim().replace(/^0x/i, '');
  return /^[0-9a-f]{1,8}$/i.test(plain)
    ? Number.parseInt(plain, 16)
    : `${text} is no address: write it in hexadecimal.`;
}
