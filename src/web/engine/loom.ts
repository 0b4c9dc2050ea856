// What a line of the machine file expands to, as a loom: nets across, parts as columns they pass through, pin numbers where
// they touch. For a net one row, for a bus all its nets, for a part all nets at its pins.

import { type Net, netlistAt, type NetPart } from '../../app/index.ts';
import { compareNatural } from '../../base/index.ts';
import type { Asks, LoomAnswer } from '../protocol.ts';
import type { Bench } from './bench.ts';
import { keysAt, lineAt } from './text.ts';

const MOST_COLUMNS = 7;
const MOST_ROWS = 44;
const DEFAULTS: Readonly<Record<string, string>> = { A: 'BU', AD: 'BU', D: 'OG' };

export function loom(bench: Bench, ask: Asks['loom'][0]): LoomAnswer | undefined {
  const design = bench.build.design();
  const last = netlistAt(design, bench.lastStage());
  const text = bench.project.text(ask.file) ?? '';
  const keys = keysAt(text, ask.offset);
  const line = lineAt(text, ask.offset);
  const section = keys[0] ?? '';
  const item = keys[1] ?? '';
  const built = bench.build.built().value;
  const partOf = (pin: number): NetPart => last.parts[last.pins[pin]!.part]!;
  const byName = (name: string): NetPart | undefined =>
    last.parts.find((part) => part.name.toLowerCase() === name.toLowerCase());
  const netNamed = (name: string): Net | undefined =>
    last.nets.find((net) => net.name.toLowerCase() === name.toLowerCase());

  let nets: Net[] = [];
  let title = '';
  const wanted = ask.net === undefined ? undefined : netNamed(ask.net);
  const part = byName(item);
  if (wanted !== undefined) {
    title = wanted.name;
    nets = [wanted];
  } else if (section === 'parts' && part !== undefined) {
    title = part.name;
    nets = part.pins.flatMap((id) => {
      const net = last.nets[last.pins[id]!.net];
      return net === undefined || net.kind !== 'signal' ? [] : [net];
    });
  } else if ((section === 'nets' || section === 'logic') && item !== '') {
    title = item;
    const range = /^(.*?)(\d+)-(.*?)(\d+)$/.exec(item);
    nets = last.nets.filter((net) => {
      if (range === null) return net.name.toLowerCase() === item.toLowerCase();
      const found = /^(.*?)(\d+)$/.exec(net.name);
      return found !== null && found[1]!.toLowerCase() === range[1]!.toLowerCase();
    });
  } else if (section === 'buses' || section === 'memory' || section === 'ports') {
    title = section === 'buses' ? (item === '' ? 'buses' : `bus ${item}`) : section;
    const derived = section === 'buses' ? ['bus', 'select'] : ['select'];
    // Of the buses, what the bus itself makes: its address, data, strobes and selects.
    const master = (net: Net): boolean =>
      net.bus !== undefined && net.pins.some((pin) => partOf(pin).record.bus?.role === 'processor');
    nets = last.nets.filter((net) => derived.includes(net.origin.by) || (section === 'buses' && master(net)));
  } else if (section === 'stages') {
    const number = design.stages.find((stage) => {
      const at = stage.decl.span;
      return at.file === ask.file && at.start <= ask.offset;
    });
    const stage = design.stages.findLast(
      (info) => info.decl.span.file === ask.file && info.decl.span.start <= ask.offset + line.length,
    );
    const info = stage ?? number;
    if (info === undefined) return undefined;
    title = info.name;
    const names = new Set(info.decl.adds.map((name) => name.name.toLowerCase()));
    nets = last.nets.filter(
      (net) => net.kind === 'signal' && net.pins.some((pin) => names.has(partOf(pin).name.toLowerCase())),
    );
  } else return undefined;
  nets = [...new Set(nets)].filter((net) => net.kind === 'signal' || wanted !== undefined);
  if (nets.length === 0) return undefined;
  nets.sort(
    (a, b) =>
      Number(a.bus === undefined) - Number(b.bus === undefined) ||
      compareNatural(a.bus?.name ?? '', b.bus?.name ?? '') ||
      (a.bus?.bit ?? 0) - (b.bus?.bit ?? 0) ||
      compareNatural(a.netClass?.name ?? '', b.netClass?.name ?? '') ||
      compareNatural(a.name, b.name),
  );
  const touches = new Map<NetPart, number>();
  for (const net of nets)
    for (const pin of net.pins) {
      const at = partOf(pin);
      if (at.implied !== undefined && nets.length > 6) continue;
      touches.set(at, (touches.get(at) ?? 0) + 1);
    }
  const processor = [...touches.keys()].find((candidate) => candidate.record.bus?.role === 'processor');
  const columns = [...touches]
    .sort(
      ([a, m], [b, n]) => Number(b === processor) - Number(a === processor) || n - m || compareNatural(a.name, b.name),
    )
    .slice(0, MOST_COLUMNS)
    .map(([at]) => at);
  const shown = nets.slice(0, MOST_ROWS);
  const pins = nets.reduce((sum, net) => sum + net.pins.length, 0);
  const state = (at: NetPart): 'built' | 'planned' | 'later' =>
    built.parts.has(at.name) ? 'built' : at.stage > ask.stage ? 'later' : 'planned';
  const hidden = [
    ...(touches.size > columns.length ? [`${touches.size - columns.length} parts not shown`] : []),
    ...(nets.length > shown.length ? [`${nets.length - shown.length} nets not shown`] : []),
  ];
  const kind = (net: Net): string => net.bus?.name ?? net.netClass?.name ?? '';
  return {
    title,
    note: `${nets.length} ${nets.length === 1 ? 'net' : 'nets'}, ${pins} pins; pin numbers in the columns${hidden.length === 0 ? '' : `; ${hidden.join(', ')}`}`,
    columns: columns.map((at) => ({ name: at.name, state: state(at) })),
    rows: shown.map((net, i) => ({
      net: net.name,
      gap: i > 0 && (kind(net) !== kind(shown[i - 1]!) || (net.bus !== undefined && net.bus.bit % 8 === 0)),
      colour: net.netClass?.colour ?? DEFAULTS[net.bus?.name ?? ''] ?? 'VT',
      pins: columns.map((at) => {
        const found = net.pins.map((id) => last.pins[id]!).filter((pin) => last.parts[pin.part] === at);
        return found.length === 0 ? undefined : found.map((pin) => pin.number).join(' ');
      }),
      built: net.pins.every((pin) => built.parts.has(partOf(pin).name)),
    })),
  };
}
