// The machine as of a stage as a diagram: processor at the left, buses as bands with their widths, each chip below with taps
// where it joins, selects and strobes by name. To follow the machine from somewhere else; not a schematic.

import { compareNatural } from '../base/index.ts';
import type { Netlist, NetPart } from '../netlist/index.ts';
import { wrapSvg } from './page-frame.ts';
import { escapeXml, fitMono, fitSans, monoWidth, num } from './text.ts';
import type { Ground } from './tokens.ts';

export interface BusDiagramView {
  readonly netlist: Netlist;
  /** Names of parts that are on the boards; all are drawn as planned where absent. */
  readonly built?: ReadonlySet<string> | undefined;
  /** A net to highlight. */
  readonly select?: string | undefined;
  readonly title?: string | undefined;
  readonly ground?: Ground | undefined;
}

interface Lane {
  readonly name: string;
  /** Net ids, in order of bits; one for a single net. */
  readonly nets: readonly number[];
  readonly bus: boolean;
  readonly colour: string;
}

interface Tap {
  readonly lane: number;
  /** What the chip calls it: a pin's name, or a range of bits of the bus. */
  readonly text: string;
  readonly bits: number;
  readonly drives: boolean;
}

const CODES: Readonly<Record<string, string>> = { A: 'BU', AD: 'BU', D: 'OG' };

/** `A15-A0`, `A15, A7-A3`: runs of bits, highest first. */
export function bitRange(bus: string, bits: readonly number[]): string {
  const sorted = [...new Set(bits)].sort((a, b) => b - a);
  const runs: string[] = [];
  // A short name stands with each bit, a long one once.
  const short = [...bus].length <= 2;
  const name = (bit: number | undefined): string => (short ? `${bus}${bit}` : String(bit));
  for (let i = 0; i < sorted.length; ) {
    let j = i;
    while (j + 1 < sorted.length && sorted[j + 1] === sorted[j]! - 1) j++;
    runs.push(
      j > i + 1
        ? `${name(sorted[i])}-${name(sorted[j])}`
        : sorted
            .slice(i, j + 1)
            .map(name)
            .join(', '),
    );
    i = j + 1;
  }
  return `${short ? '' : `${bus} `}${runs.join(', ')}`;
}

const isChip = (part: NetPart): boolean => part.pins.length > 3 || part.record.package.kind === 'to-92';

/** Draws the diagram; an empty sheet that says so where the stage has no processor and no bus. */
export function busDiagram(view: BusDiagramView): string {
  const { netlist } = view;
  const title = view.title ?? `Buses as of stage ${netlist.stage}`;
  const chips = netlist.parts.filter(isChip);
  const processor = chips.find((part) => part.record.bus?.role === 'processor') ?? mostJoined(netlist, chips);
  const partOf = (pin: number): NetPart => netlist.parts[netlist.pins[pin]!.part]!;
  const chipsOn = (net: number): NetPart[] => [...new Set(netlist.nets[net]!.pins.map(partOf))].filter(isChip);

  const buses = new Map<string, { bit: number; net: number }[]>();
  const singles: number[] = [];
  for (const net of netlist.nets) {
    if (net.kind !== 'signal' || chipsOn(net.id).length < 2) continue;
    if (net.bus === undefined) singles.push(net.id);
    else buses.set(net.bus.name, [...(buses.get(net.bus.name) ?? []), { bit: net.bus.bit, net: net.id }]);
  }
  const lanes: Lane[] = [...buses]
    .sort(([a], [b]) => compareNatural(a, b))
    .map(([name, bits]) => ({
      name,
      nets: bits.sort((a, b) => a.bit - b.bit).map(({ net }) => net),
      bus: true,
      colour: netlist.nets[bits[0]!.net]!.netClass?.colour ?? CODES[name] ?? 'BU',
    }));
  const touchesProcessor = (net: number): boolean => processor !== undefined && chipsOn(net).includes(processor);
  // What the processor has a hand in first; then by name.
  singles.sort(
    (a, b) =>
      Number(touchesProcessor(b)) - Number(touchesProcessor(a)) ||
      compareNatural(netlist.nets[a]!.name, netlist.nets[b]!.name),
  );
  for (const net of singles)
    lanes.push({
      name: netlist.nets[net]!.name,
      nets: [net],
      bus: false,
      colour: netlist.nets[net]!.netClass?.colour ?? 'VT',
    });

  const laneOf = new Map(lanes.flatMap((lane, index) => lane.nets.map((net) => [net, index] as const)));
  const tapsOf = (part: NetPart): Tap[] => {
    const groups = new Map<number, { names: string[]; bits: number[]; drives: boolean }>();
    for (const id of part.pins) {
      const pin = netlist.pins[id]!;
      const lane = laneOf.get(pin.net);
      if (lane === undefined) continue;
      const group = groups.get(lane) ?? { names: [], bits: [], drives: false };
      groups.set(lane, group);
      group.names.push(pin.name);
      group.bits.push(netlist.nets[pin.net]!.bus?.bit ?? 0);
      if (pin.kind === 'output') group.drives = true;
    }
    return [...groups]
      .sort(([a], [b]) => b - a)
      .map(([lane, group]) => ({
        lane,
        text: lanes[lane]!.bus ? bitRange(lanes[lane]!.name, group.bits) : [...new Set(group.names)].join(' '),
        bits: group.bits.length,
        drives: group.drives && !lanes[lane]!.bus,
      }));
  };

  const others = chips.filter((part) => part !== processor && tapsOf(part).length > 0);
  if (lanes.length === 0 || processor === undefined) {
    const text = `No bus joins two chips as of stage ${netlist.stage}.`;
    return wrapSvg(`<text class="s" x="12" y="30" style="font-size:16px">${text}</text>`, 480, 48, title, view.ground);
  }

  // Heights of the lanes from the top; a band is as thick as its number of bits asks.
  const thick = (lane: Lane): number => (lane.bus ? Math.min(22, 5 + lane.nets.length * 0.8) : 1.6);
  const ys: number[] = [];
  let y = 44;
  for (const lane of lanes) {
    const t = thick(lane);
    y += t / 2 + (lane.bus ? 15 : 14);
    ys.push(y);
    y += t / 2 + (lane.bus ? 10 : 0);
  }
  const bottom = y + 22;
  const left = 24;
  const boxWidth = 150;
  const nameWidth = Math.min(
    150,
    Math.max(60, ...lanes.map((lane) => monoWidth(lane.name, 13) + (lane.bus ? 56 : 10))),
  );
  const start = left + boxWidth;
  let x = start + nameWidth + 30;
  const columns = others.map((part) => {
    const taps = tapsOf(part);
    const width = Math.max(66, taps.length * 17 + 14);
    const column = { part, taps, x, width };
    x += width + 20;
    return column;
  });
  const right = x;
  const longestTap = Math.max(0, ...columns.flatMap((c) => c.taps.map((tap) => [...tap.text].length)));
  const chipHeight = Math.min(230, 54 + monoWidth('x'.repeat(longestTap), 11.5));
  const boxBottom = bottom + chipHeight;
  const isBuilt = (part: NetPart): boolean => view.built?.has(part.name) ?? false;

  let bands = '';
  let drops = '';
  let words = '';
  lanes.forEach((lane, index) => {
    const at = ys[index]!;
    const users = columns.filter((column) => column.taps.some((tap) => tap.lane === index));
    const end = Math.max(start + nameWidth, ...users.map((c) => tapX(c, index)));
    const begins = lane.nets.some(touchesProcessor) ? start : Math.min(...users.map((c) => tapX(c, index)));
    const on = view.select !== undefined && lane.nets.some((net) => netlist.nets[net]!.name === view.select);
    const d = `M${num(begins)} ${num(at)}H${num(end)}`;
    const t = thick(lane);
    if (on) bands += `<path class="pb-band" d="${d}" style="--c:var(--halo-c);stroke-width:${num(t + 8)}px"/>`;
    bands += `<path class="pb-band thin c-${lane.colour}" d="${d}" style="stroke-width:${num(t)}px;stroke-linecap:butt${lane.bus ? ';opacity:.5' : ''}" data-net="${escapeXml(lane.name)}"><title>${escapeXml(lane.nets.map((net) => netlist.nets[net]!.name).join(' '))}</title></path>`;
    // A band's edges, so that it reads as a bundle with a width and not as one thick wire.
    if (lane.bus)
      for (const side of [-1, 1])
        bands += `<path class="pb-band thin c-${lane.colour}" d="M${num(begins)} ${num(at + (side * t) / 2)}H${num(end)}" style="stroke-width:1.4px"/>`;
    const size = lane.bus ? 15 : 13;
    const text = fitMono(lane.name, size, nameWidth - (lane.bus ? 44 : 8));
    if (begins === start) {
      words += `<text class="${lane.bus ? 'b' : on ? 'onmark' : 'out'}" x="${num(start + 12)}" y="${num(lane.bus ? at - t / 2 - 4 : at)}"${lane.bus ? '' : ' dy=".34em"'} style="font-size:${size}px">${escapeXml(text)}${lane.bus ? `<tspan class="s" style="font-weight:400;font-size:13px" dx="8">${lane.nets.length} lines</tspan>` : ''}</text>`;
    } else {
      words += `<text class="q ${on ? 'onmark' : 'out'}" x="${num(begins - 5)}" y="${num(at)}" dy=".34em" text-anchor="end" style="font-size:12px">${escapeXml(lane.name)}</text>`;
    }
  });
  for (const column of columns) {
    const { part } = column;
    const cx = column.x + column.width / 2;
    column.taps.forEach((tap) => {
      const tx = tapX(column, tap.lane);
      const from = ys[tap.lane]!;
      const lane = lanes[tap.lane]!;
      const t = lane.bus ? Math.max(2.2, Math.min(10, 1.5 + tap.bits * 0.5)) : 1.6;
      drops += `<path class="pb-band" d="M${num(tx)} ${num(from)}V${num(bottom)}" style="--c:var(--ground);stroke-width:${num(t + 3)}px;stroke-linecap:butt"/>`;
      drops += `<path class="pb-band thin c-${lane.colour}" d="M${num(tx)} ${num(from)}V${num(bottom)}" style="stroke-width:${num(t)}px;stroke-linecap:butt"/>`;
      drops += `<circle class="pb-band thin c-${lane.colour}" cx="${num(tx)}" cy="${num(from)}" r="${lane.bus ? 3.4 : 2.6}" style="fill:var(--p);stroke-width:1px"/>`;
      if (tap.drives) drops += `<path class="inkfill" d="M${num(tx - 4)} ${num(bottom - 3)}h8l-4 -8z"/>`;
      const room = chipHeight - 48;
      words += `<text transform="translate(${num(tx)} ${num(bottom + 7)})rotate(-90)" text-anchor="end" dy=".34em" style="font-size:11.5px">${escapeXml(fitMono(tap.text, 11.5, room))}</text>`;
    });
    const built = isBuilt(part);
    words += `<text class="s${built ? ' b' : ''}" x="${num(cx)}" y="${num(boxBottom - 24)}" text-anchor="middle" style="font-size:15px">${escapeXml(fitSans(part.name, 15, column.width - 6, 700))}</text><text class="s q" x="${num(cx)}" y="${num(boxBottom - 8)}" text-anchor="middle" style="font-size:12px">${escapeXml(fitSans(part.type, 12, column.width - 6))}</text>`;
    drops += `<g class="pb-part chip ${built ? 'built' : 'planned'}" data-part="${escapeXml(part.name)}"><rect class="body" x="${num(column.x)}" y="${num(bottom)}" width="${num(column.width)}" height="${num(chipHeight)}"/></g>`;
  }
  const builtCpu = isBuilt(processor);
  const box = `<g class="pb-part chip ${builtCpu ? 'built' : 'planned'}" data-part="${escapeXml(processor.name)}"><rect class="body" x="${left}" y="24" width="${boxWidth}" height="${num(boxBottom - 24)}"/></g>`;
  words += `<text class="s${builtCpu ? ' b' : ''}" x="${left + 14}" y="58" style="font-size:24px">${escapeXml(fitSans(processor.name, 24, boxWidth - 24, 700))}</text><text class="s q" x="${left + 14}" y="80" style="font-size:15px">${escapeXml(fitSans(processor.type, 15, boxWidth - 24))}</text>`;
  const processorTaps = tapsOf(processor);
  for (const tap of processorTaps)
    words += `<text x="${num(start - 8)}" y="${num(ys[tap.lane]!)}" dy=".34em" text-anchor="end" style="font-size:11.5px">${escapeXml(fitMono(tap.text, 11.5, boxWidth - 20))}</text>`;
  return wrapSvg(bands + drops + box + words, right + 10, boxBottom + 24, title, view.ground);

  function tapX(
    column: { readonly x: number; readonly width: number; readonly taps: readonly Tap[] },
    lane: number,
  ): number {
    const index = column.taps.findIndex((tap) => tap.lane === lane);
    return column.x + (column.width * (index + 0.5)) / column.taps.length;
  }
}

/** The chip with most pins on nets, where no record says it is a processor. */
function mostJoined(netlist: Netlist, chips: readonly NetPart[]): NetPart | undefined {
  const count = (part: NetPart): number => part.pins.filter((pin) => netlist.pins[pin]!.net >= 0).length;
  return chips.reduce<NetPart | undefined>(
    (best, part) => (best === undefined || count(part) > count(best) ? part : best),
    undefined,
  );
}
