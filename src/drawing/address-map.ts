// An address space as a graduated staff with who answers beside it: mapped, mirrors hatched wide, gaps hatched close, two at
// once crossed. Highest address on top. The scale is true where it can be; what would be too small is drawn large enough to
// read, and the staff is broken where a stretch is drawn shorter than its neighbours.

import type { MapReport, MapSegment } from '../decode/index.ts';
import { wrapSvg } from './page-frame.ts';
import { escapeXml, fitSans, num } from './text.ts';
import type { Ground } from './tokens.ts';

/** A stretch of addresses that is drawn as one. */
export interface AddressBlock {
  readonly from: number;
  /** Included. */
  readonly to: number;
  readonly state: MapSegment['state'] | 'again';
  readonly answers: MapSegment['answers'];
}

/** What the scale has to know of a block. */
export type Stretch = Pick<AddressBlock, 'from' | 'to' | 'state'>;

/** Where a block is drawn, in px from the top, and whether the staff is broken beside it. */
interface Drawn {
  readonly top: number;
  readonly bottom: number;
  readonly isCut: boolean;
}

/** Where addresses lie, in px from the top. */
export interface AddressScale<B extends Stretch = AddressBlock> {
  readonly height: number;
  readonly blocks: readonly (B & Drawn)[];
  /** The lower edge of an address: a stretch reaches from `y(from)` up to `y(to + 1)`. */
  y(address: number): number;
  /** The address at a height, 0 to the last. */
  addressAt(y: number): number;
  /** Marks of the staff: those with a label are at the edges of blocks or at round addresses. */
  readonly ticks: readonly {
    readonly address: number;
    readonly y: number;
    readonly weight: 'edge' | 'round' | 'fine';
  }[];
}

/** Least heights in px. */
const LEAST = { mapped: 24, double: 24, mirror: 17, gap: 17, again: 22 } as const;
/** How much of its share a stretch that holds nothing of its own gets where there is not room for all. */
const SHARE = { mapped: 1, double: 1, mirror: 0.35, gap: 0.2, again: 0.1 } as const;
/** Segments after the last mapped one beyond which they are drawn as one. */
const MOST_AFTER = 8;

/** The segments to draw: what repeats after everything that is mapped is one stretch. */
export function addressBlocks(space: MapReport['spaces'][number]): AddressBlock[] {
  const last = space.segments.findLastIndex((segment) => segment.state === 'mapped' || segment.state === 'double');
  const until = last + 1 + MOST_AFTER;
  const period = space.segments.findIndex((segment) => segment.from >= space.period);
  const cut = period > last && period >= 0 ? period : space.segments.length > until ? last + 2 : space.segments.length;
  const shown: AddressBlock[] = space.segments.slice(0, cut).map((segment) => segment);
  const from = shown.at(-1) === undefined ? 0 : shown.at(-1)!.to + 1;
  if (from < space.size) shown.push({ from, to: space.size - 1, state: 'again', answers: [] });
  return shown;
}

/** The scale for blocks that fill a space, ascending, without holes. Taller than `height` where they need more. */
export function addressScale<B extends Stretch>(blocks: readonly B[], height: number): AddressScale<B> {
  const size = (blocks.at(-1)?.to ?? 0) + 1;
  const bytes = (block: Stretch): number => block.to - block.from + 1;
  const small = new Set<number>();
  const isTrue = blocks.every((block) => (bytes(block) / size) * height >= LEAST[block.state]);
  let heights = blocks.map((block) => (bytes(block) / size) * height);
  if (!isTrue) {
    // Those that would be too small get their least; the others share what is left.
    for (let round = 0; round <= blocks.length; round++) {
      const left = height - blocks.reduce((sum, block, k) => sum + (small.has(k) ? LEAST[block.state] : 0), 0);
      const shares = blocks.reduce((sum, block, k) => sum + (small.has(k) ? 0 : bytes(block) * SHARE[block.state]), 0);
      heights = blocks.map((block, k) =>
        small.has(k) ? LEAST[block.state] : Math.max(0, left) * ((bytes(block) * SHARE[block.state]) / (shares || 1)),
      );
      const more = heights.flatMap((value, k) => (!small.has(k) && value < LEAST[blocks[k]!.state] ? [k] : []));
      if (more.length === 0) break;
      for (const k of more) small.add(k);
    }
  }
  const total = heights.reduce((sum, value) => sum + value, 0);
  const densest = Math.max(0, ...blocks.map((block, k) => (small.has(k) ? 0 : heights[k]! / bytes(block))));
  let bottom = total;
  const placed = blocks.map((block, k) => {
    const top = bottom - heights[k]!;
    const made = { ...block, top, bottom, isCut: !isTrue && heights[k]! / bytes(block) < densest * 0.3 };
    bottom = top;
    return made;
  });
  const blockOf = (address: number): (typeof placed)[number] | undefined =>
    placed.find((block) => block.from <= address && address <= block.to);
  const y = (address: number): number => {
    if (address >= size) return 0;
    const block = blockOf(address);
    if (block === undefined) return total;
    return block.bottom - ((address - block.from) / bytes(block)) * (block.bottom - block.top);
  };
  const addressAt = (at: number): number => {
    const block = placed.find((one) => one.top <= at && at < one.bottom) ?? (at < 0 ? placed.at(-1) : placed[0]);
    if (block === undefined) return 0;
    const part = Math.min(1, Math.max(0, (block.bottom - at) / (block.bottom - block.top || 1)));
    return Math.min(block.to, block.from + Math.floor(part * bytes(block)));
  };
  return { height: total, blocks: placed, y, addressAt, ticks: ticksOf(placed, size, y) };
}

function ticksOf(
  blocks: readonly (Stretch & Drawn)[],
  size: number,
  y: (address: number) => number,
): AddressScale['ticks'] {
  const ticks: { address: number; y: number; weight: 'edge' | 'round' | 'fine' }[] = [];
  for (const block of blocks) ticks.push({ address: block.from, y: block.bottom, weight: 'edge' });
  ticks.push({ address: size - 1, y: 0, weight: 'edge' });
  for (const block of blocks) {
    if (block.isCut) continue;
    const bytes = block.to - block.from + 1;
    const perByte = (block.bottom - block.top) / bytes;
    let fine = 1;
    while (fine * perByte < 9) fine *= 2;
    let round = fine;
    while (round * perByte < 34) round *= 2;
    if (fine >= bytes) continue;
    for (let at = Math.ceil((block.from + 1) / fine) * fine; at <= block.to; at += fine)
      ticks.push({ address: at, y: y(at), weight: at % round === 0 ? 'round' : 'fine' });
  }
  // Labels keep clear of those of the edges.
  const edges = ticks.filter((tick) => tick.weight === 'edge');
  return ticks.map((tick) =>
    tick.weight === 'round' && edges.some((edge) => Math.abs(edge.y - tick.y) < 13)
      ? { ...tick, weight: 'fine' }
      : tick,
  );
}

export interface AddressMapView {
  readonly space: MapReport['spaces'][number];
  readonly title: string;
  readonly width?: number;
  readonly height?: number;
  readonly ground?: Ground;
}

const LEFT = 76;
const TOP = 40;
const TYPE = 13;

/** The map of one space as a drawing. */
export function addressMapDrawing(view: AddressMapView): string {
  const { space } = view;
  const width = view.width ?? 420;
  const scale = addressScale(addressBlocks(space), (view.height ?? 620) - TOP - 24);
  const digits = Math.max(2, (space.size - 1).toString(16).length);
  const hex = (address: number): string => address.toString(16).toUpperCase().padStart(digits, '0');
  const box = { x: LEFT + 22, width: width - LEFT - 22 - 150 };
  let body = `<text class="s b" x="12" y="22" style="font-size:16px">${escapeXml(view.title)}</text>`;
  body += `<path class="rule2" d="M${LEFT} ${TOP}V${num(TOP + scale.height)}"/>`;
  for (const tick of scale.ticks) {
    const long = tick.weight === 'fine' ? 6 : 12;
    body += `<path class="rule" d="M${LEFT} ${num(TOP + tick.y)}h${-long}"/>`;
    if (tick.weight !== 'fine')
      body += `<text class="${tick.weight === 'edge' ? 'b' : 'q'}" x="${LEFT - 16}" y="${num(TOP + tick.y)}" dy=".35em" text-anchor="end" style="font-size:${TYPE - 1}px">${hex(tick.address)}</text>`;
  }
  for (const block of scale.blocks) {
    const y = TOP + block.top;
    const high = block.bottom - block.top;
    const isHeld = block.state === 'mapped' || block.state === 'double';
    body += `<rect${isHeld ? ' class="sheet"' : ''} x="${box.x}" y="${num(y)}" width="${box.width}" height="${num(high)}" style="${isHeld ? '' : 'fill:none;'}stroke:${isHeld ? 'var(--ink)' : 'var(--hair)'};stroke-width:${isHeld ? 2 : 1}"/>`;
    if (!isHeld) body += hatch({ x: box.x, y, width: box.width, height: high }, block.state === 'gap');
    if (block.state === 'double')
      body += `<path style="stroke:var(--fault);stroke-width:2" d="M${box.x} ${num(y)}l${box.width} ${num(high)}m${-box.width} 0l${box.width} ${num(-high)}"/>`;
    if (block.isCut)
      body += `<path class="rule2" d="M${LEFT - 4} ${num(y + high / 2 - 5)}l8 3l-8 4l8 3" style="stroke-width:1.6"/>`;
    body += labelOf(block, box.x + box.width + 10, y + high / 2, 138);
  }
  return wrapSvg(body, width, scale.height + TOP + 24, view.title, view.ground);
}

/** Lines across a box, close and rising for gaps, wide and falling for mirrors; as plain paths, so that every reader draws them. */
function hatch(
  box: { readonly x: number; readonly y: number; readonly width: number; readonly height: number },
  isGap: boolean,
): string {
  const step = isGap ? 8 : 16;
  let path = '';
  for (let c = step; c < box.width + box.height; c += step) {
    // The line x + y = c of the box, or its mirror image.
    const from = { x: Math.max(0, c - box.height), y: Math.min(c, box.height) };
    const to = { x: Math.min(c, box.width), y: Math.max(0, c - box.width) };
    const across = (x: number): number => (isGap ? box.x + x : box.x + box.width - x);
    path += `M${num(across(from.x))} ${num(box.y + from.y)}L${num(across(to.x))} ${num(box.y + to.y)}`;
  }
  return path === '' ? '' : `<path class="hair" d="${path}"/>`;
}

function labelOf(block: AddressBlock, x: number, y: number, room: number): string {
  const text = blockText(block);
  return `<text class="s${block.state === 'mapped' ? ' b' : ' q'}" x="${num(x)}" y="${num(y)}" dy=".35em" style="font-size:${TYPE}px">${escapeXml(fitSans(text, TYPE, room, block.state === 'mapped' ? 700 : 400))}</text>`;
}

/** Who answers on a block, in a few words. */
export function blockText(block: AddressBlock): string {
  if (block.state === 'gap') return 'nobody';
  if (block.state === 'again') return 'mirrors of the above, again and again';
  const parts = [...new Set(block.answers.map((answer) => answer.part))];
  const names = parts.join(block.state === 'double' ? ' and ' : ', ');
  return block.state === 'mirror' ? `${names} again` : block.state === 'double' ? `${names} at once` : names;
}
