// One address space as a graduated staff with who answers beside it. Regions are moved and sized by mouse and by keys; the
// address looked at is a frame with a hairline, moved by mouse and keys too.

import { useRef, useState } from 'preact/hooks';
import { type AddressScale, addressScale, fitSans, sansWidth } from '../../../drawing/index.ts';
import type { AddressBlockData, AddressEntry, AddressSpaceData } from '../../protocol.ts';
import { select, selection } from '../../state/store.ts';
import { byKey, hex, sizeWords, snap, snapEdge } from './moves.ts';

type Scale = AddressScale<AddressBlockData>;

interface StaffView {
  readonly space: AddressSpaceData;
  readonly width: number;
  readonly height: number;
  /** The address looked at, where it is one of this space. */
  readonly cursor: number | undefined;
  readonly chosen: number | undefined;
  readonly onCursor: (address: number) => void;
  readonly onChoose: (index: number) => void;
  readonly onMove: (entry: AddressEntry, at: number, bytes: number) => void;
  readonly onRemove: (entry: AddressEntry) => void;
}

/** What is being dragged, and where it would be. */
interface Drag {
  readonly entry: AddressEntry;
  readonly part: 'all' | 'first' | 'last';
  readonly grab: number;
  readonly at: number;
  readonly bytes: number;
  readonly moved: boolean;
}

const TOP = 14;
const EDGE = 7;
const LINE = 15;
/** px from which a region bears its type and size inside. */
const BEARS = 46;

export function Staff(view: StaffView) {
  const { space, width, cursor } = view;
  const svg = useRef<SVGSVGElement>(null);
  const [drag, setDrag] = useState<Drag | undefined>(undefined);
  const digits = space.digits;
  const scale = addressScale(space.blocks, view.height - TOP * 2);
  const left = 14 + digits * 9.2;
  const names = Math.min(150, Math.max(112, width * 0.3));
  const box = { x: left + 22, width: Math.max(60, width - left - 22 - names - 10) };
  const y = (address: number): number => TOP + scale.y(address);
  const shown = space.entries.filter((entry) => entry.state !== 'gone' && entry.at < space.size);
  const addressAt = (event: { clientY: number }): number => {
    const frame = svg.current?.getBoundingClientRect();
    return scale.addressAt(event.clientY - (frame?.top ?? 0) - TOP);
  };
  const startDrag = (entry: AddressEntry, event: PointerEvent): void => {
    if (event.button !== 0) return;
    const frame = svg.current!.getBoundingClientRect();
    const at = event.clientY - frame.top;
    const high = y(entry.at) - y(entry.at + entry.bytes);
    const part =
      high > EDGE * 3 && at - y(entry.at + entry.bytes) < EDGE
        ? 'last'
        : high > EDGE * 3 && y(entry.at) - at < EDGE
          ? 'first'
          : 'all';
    (event.currentTarget as Element).setPointerCapture(event.pointerId);
    setDrag({ entry, part, grab: addressAt(event) - entry.at, at: entry.at, bytes: entry.bytes, moved: false });
  };
  const moveDrag = (event: PointerEvent): void => {
    if (drag === undefined) return;
    const { entry, part } = drag;
    const here = addressAt(event);
    const perPixel = perPixelAt(scale, here);
    let { at, bytes } = entry;
    if (part === 'all') at = snap(here - drag.grab, bytes, space.size);
    else if (part === 'last') bytes = Math.max(1, snapEdge(here, perPixel, space.size) - at);
    else {
      const first = Math.min(snapEdge(here, perPixel, space.size), entry.at + entry.bytes - 1);
      bytes = entry.at + entry.bytes - first;
      at = first;
    }
    setDrag({ ...drag, at, bytes, moved: drag.moved || at !== entry.at || bytes !== entry.bytes });
  };
  const endDrag = (): void => {
    if (drag === undefined) return;
    setDrag(undefined);
    view.onChoose(drag.entry.index);
    if (drag.moved && (drag.at !== drag.entry.at || drag.bytes !== drag.entry.bytes))
      view.onMove(drag.entry, drag.at, drag.bytes);
    else view.onCursor(drag.entry.at);
  };
  return (
    // biome-ignore lint/a11y/useSemanticElements: a set of fields can't be a drawing
    <svg
      ref={svg}
      class="pb staff"
      width={width}
      height={scale.height + TOP * 2}
      viewBox={`0 0 ${width} ${scale.height + TOP * 2}`}
      role="group"
      aria-label={`${space.name}, ${sizeWords(space.size)} of addresses`}
      data-space={space.name}
    >
      <defs>
        <pattern
          id={`gap-${space.name}`}
          width="7"
          height="7"
          patternUnits="userSpaceOnUse"
          patternTransform="rotate(45)"
        >
          <path class="hair" d="M0 0V7" />
        </pattern>
        <pattern
          id={`mirror-${space.name}`}
          width="14"
          height="14"
          patternUnits="userSpaceOnUse"
          patternTransform="rotate(-45)"
        >
          <path class="fineline" d="M0 0V14" />
        </pattern>
      </defs>
      {scale.ticks.map((tick) => (
        <g key={`${tick.weight} ${tick.address}`}>
          <path class="rule" d={`M${left} ${TOP + tick.y}h${tick.weight === 'fine' ? -6 : -12}`} />
          {tick.weight !== 'fine' && (
            <text
              class={tick.weight === 'edge' ? 'b' : 'q'}
              x={left - 16}
              y={TOP + tick.y}
              dy=".35em"
              text-anchor="end"
              style={{ fontSize: '12.5px' }}
            >
              {hex(tick.address, digits)}
            </text>
          )}
        </g>
      ))}
      <path class="rule2" d={`M${left} ${TOP}V${TOP + scale.height}`} />
      {scale.blocks.map((block) => (
        <Block
          key={block.from}
          block={block}
          space={space}
          box={box}
          left={left}
          onCursor={view.onCursor}
          at={addressAt}
        />
      ))}
      {space.vectors.map((vector) => (
        <g key={vector.name} class="vector">
          <path class="rule" d={`M${box.x} ${y(vector.at)}h${box.width + 6}`} />
        </g>
      ))}
      {shown.map((entry) => (
        <Entry
          key={entry.index}
          entry={entry}
          box={laneOf(entry, shown, box)}
          top={y(entry.at + entry.bytes)}
          bottom={y(entry.at)}
          digits={digits}
          isChosen={view.chosen === entry.index}
          onDown={(event) => startDrag(entry, event)}
          onDrag={moveDrag}
          onUp={endDrag}
          onCancel={() => setDrag(undefined)}
          onKey={(event) => {
            const to = byKey(entry, event.key, event.shiftKey, space.size);
            if (to !== undefined && !event.altKey && !event.ctrlKey) {
              event.preventDefault();
              event.stopPropagation();
              view.onChoose(entry.index);
              view.onMove(entry, to.at, to.bytes);
            } else if (event.key === 'Enter' || event.key === ' ') {
              event.preventDefault();
              view.onChoose(entry.index);
              view.onCursor(entry.at);
            } else if (event.key === 'Delete') {
              event.preventDefault();
              view.onRemove(entry);
            }
          }}
        />
      ))}
      <Names space={space} scale={scale} x={box.x + box.width + 12} room={names - 4} />
      {drag?.moved === true && (
        <g class="ghost">
          <rect
            x={box.x}
            y={y(drag.at + drag.bytes)}
            width={box.width}
            height={Math.max(3, y(drag.at) - y(drag.at + drag.bytes))}
          />
          <text x={box.x + 8} y={y(drag.at + drag.bytes) - 6} style={{ fontSize: '13px' }}>
            {`${drag.entry.part} ${hex(drag.at, digits)} to ${hex(drag.at + drag.bytes - 1, digits)}, ${sizeWords(drag.bytes)}`}
          </text>
        </g>
      )}
      <Cursor
        space={space}
        scale={scale}
        left={left}
        right={box.x + box.width + 6}
        cursor={cursor}
        onCursor={view.onCursor}
        at={addressAt}
      />
    </svg>
  );
}

function perPixelAt(scale: Scale, address: number): number {
  const block = scale.blocks.find((one) => one.from <= address && address <= one.to);
  return block === undefined ? 1 : (block.to - block.from + 1) / Math.max(1, block.bottom - block.top);
}

/** Regions at the same addresses stand side by side. */
function laneOf(
  entry: AddressEntry,
  all: readonly AddressEntry[],
  box: { readonly x: number; readonly width: number },
): { x: number; width: number } {
  const group = all.filter((other) => other.at < entry.at + entry.bytes && entry.at < other.at + other.bytes);
  const width = box.width / group.length;
  return { x: box.x + group.indexOf(entry) * width, width };
}

function Block({
  block,
  space,
  box,
  left,
  onCursor,
  at,
}: {
  block: Scale['blocks'][number];
  space: AddressSpaceData;
  box: { x: number; width: number };
  left: number;
  onCursor: (address: number) => void;
  at: (event: { clientY: number }) => number;
}) {
  const high = block.bottom - block.top;
  const top = TOP + block.top;
  const pattern =
    block.state === 'gap'
      ? `url(#gap-${space.name})`
      : block.state === 'mapped' || block.state === 'double'
        ? undefined
        : `url(#mirror-${space.name})`;
  return (
    // biome-ignore lint/a11y/noStaticElementInteractions: a pointer's short way; keys move the address looked at
    <g class={`block ${block.state}`} onClick={(event) => onCursor(at(event as unknown as { clientY: number }))}>
      <rect x={box.x} y={top} width={box.width} height={high} style={pattern === undefined ? {} : { fill: pattern }} />
      {block.state === 'double' && (
        <path class="clash" d={`M${box.x} ${top}l${box.width} ${high}m${-box.width} 0l${box.width} ${-high}`} />
      )}
      {block.isCut && <path class="break" d={`M${left - 5} ${top + high / 2 - 6}l10 4l-10 4l10 4`} />}
    </g>
  );
}

function Entry(view: {
  entry: AddressEntry;
  box: { x: number; width: number };
  top: number;
  bottom: number;
  digits: number;
  isChosen: boolean;
  onDown: (event: PointerEvent) => void;
  onDrag: (event: PointerEvent) => void;
  onUp: () => void;
  onCancel: () => void;
  onKey: (event: KeyboardEvent) => void;
}) {
  const { entry, box, top, bottom } = view;
  const high = Math.max(3, bottom - top);
  const isOn = selection.value.part?.toLowerCase() === entry.part.toLowerCase();
  const size = high > 74 && box.width > 84 ? 26 : high > 20 ? 15 : 12;
  const name = fitSans(entry.part, size, box.width - 16, 700);
  const more = [entry.type, sizeWords(entry.bytes), entry.access === '' ? '' : `${entry.access} only`].filter(
    (word) => word !== '',
  );
  // On one line where it fits, else one below the other as far as there is room.
  const lines = (sansWidth(more.join(', '), 13.5) <= box.width - 18 ? [more.join(', ')] : more).slice(
    0,
    Math.max(1, Math.floor((high - 20 - size) / 17)),
  );
  const label = `${entry.part}, ${sizeWords(entry.bytes)} at ${hex(entry.at, view.digits)}${entry.state === 'later' ? `, from stage ${entry.stage}` : ''}${entry.when === '' ? '' : `, when ${entry.when}`}`;
  const nameWidth = sansWidth(name, size, 700);
  const isTall = high > BEARS;
  return (
    <>
      {/* biome-ignore lint/a11y/useSemanticElements: a button of HTML can't stand in a drawing */}
      <g
        class={`entry ${entry.state}${view.isChosen ? ' chosen' : ''}`}
        role="button"
        tabIndex={0}
        aria-label={label}
        aria-pressed={view.isChosen}
        data-part={entry.part}
        onPointerDown={(event) => view.onDown(event as unknown as PointerEvent)}
        onPointerMove={(event) => view.onDrag(event as unknown as PointerEvent)}
        onPointerUp={view.onUp}
        onPointerCancel={view.onCancel}
        onKeyDown={(event) => view.onKey(event as unknown as KeyboardEvent)}
        onFocus={() => select({ part: entry.part })}
      >
        <title>{`${label}. Drag it, or its upper or lower edge; with the keys: arrows, Shift and arrows, Delete.`}</title>
        <rect class="body" x={box.x} y={top} width={box.width} height={high} />
      </g>
      {/* Beside the button, not in it: its name says more than what is written on it. */}
      <g class={`entrytext ${entry.state}`}>
        {high > 12 && (
          <>
            {isOn && (
              <rect
                class="hl"
                x={box.x + 6}
                y={isTall ? top + 10 : top + high / 2 - size * 0.62}
                width={nameWidth + 8}
                height={size * 1.24}
              />
            )}
            <text
              class="s b"
              x={box.x + 10}
              y={isTall ? top + 10 + size * 0.98 : top + high / 2}
              dy={isTall ? 0 : '.35em'}
              style={{ fontSize: `${size}px` }}
            >
              {name}
            </text>
            {isTall &&
              lines.map((line, k) => (
                <text
                  key={line}
                  class="s"
                  x={box.x + 10}
                  y={top + 12 + size + 18 + k * 17}
                  style={{ fontSize: '13.5px' }}
                >
                  {fitSans(line, 13.5, box.width - 18)}
                </text>
              ))}
          </>
        )}
      </g>
    </>
  );
}

/** Who answers, beside what holds nothing of its own; vectors by their names. */
function Names({ space, scale, x, room }: { space: AddressSpaceData; scale: Scale; x: number; room: number }) {
  const marks: { y: number; text: string; isVector: boolean }[] = [];
  for (const block of scale.blocks) {
    const middle = TOP + (block.top + block.bottom) / 2;
    const text = blockWords(block, space, block.bottom - block.top);
    if (text !== '') marks.push({ y: middle, text, isVector: false });
  }
  for (const vector of space.vectors)
    marks.push({ y: TOP + scale.y(vector.at), text: `${hex(vector.at, space.digits)} ${vector.name}`, isVector: true });
  marks.sort((a, b) => a.y - b.y);
  // Names keep a line's distance: pushed down from above, then up from the foot; those pushed aside hang on a leader.
  const at = marks.map((mark) => mark.y);
  for (let k = 1; k < at.length; k++) at[k] = Math.max(at[k]!, at[k - 1]! + LINE);
  let floor = TOP + scale.height + 4;
  for (let k = at.length - 1; k >= 0; k--) {
    at[k] = Math.min(at[k]!, floor);
    floor = at[k]! - LINE;
  }
  const placed = marks.map((mark, k) => ({ ...mark, at: at[k]! }));
  return (
    <>
      {placed.map((mark) => {
        const hangs = mark.isVector || Math.abs(mark.at - mark.y) > 2;
        return (
          <g key={`${mark.text} ${mark.y}`} class={mark.isVector ? 'vectorname' : 'who'}>
            {hangs && <path class="leader" d={`M${x - 8} ${mark.y}l8 ${mark.at - mark.y}h4`} />}
            <text class="s q" x={x + (hangs ? 6 : 0)} y={mark.at} dy=".35em" style={{ fontSize: '13px' }}>
              {fitSans(mark.text, 13, room - 6)}
            </text>
          </g>
        );
      })}
    </>
  );
}

function blockWords(block: AddressBlockData, space: AddressSpaceData, high: number): string {
  const parts = [...new Set(block.answers.map((answer) => answer.part))].join(', ');
  if (block.state === 'gap') {
    const later = space.entries.find(
      (entry) => entry.state === 'later' && entry.at <= block.to && block.from < entry.at + entry.bytes,
    );
    return later === undefined ? 'nobody' : `${later.part}, stage ${later.stage}`;
  }
  if (block.state === 'again') return 'the same again';
  if (block.state === 'double') return `${parts} at once`;
  if (block.state === 'mirror') return `${parts} again`;
  // A region that has room bears all this itself.
  const entry = space.entries.find((one) => one.at === block.from && one.state !== 'later');
  if (entry === undefined) return parts;
  if (high > BEARS) return '';
  const words = `${sizeWords(entry.bytes)}${entry.access === '' ? '' : `, ${entry.access} only`}`;
  return high > 12 ? words : `${parts}, ${words}`;
}

function Cursor({
  space,
  scale,
  left,
  right,
  cursor,
  onCursor,
  at,
}: {
  space: AddressSpaceData;
  scale: Scale;
  left: number;
  right: number;
  cursor: number | undefined;
  onCursor: (address: number) => void;
  at: (event: { clientY: number }) => number;
}) {
  const [held, setHeld] = useState(false);
  const here = cursor ?? 0;
  const y = TOP + scale.y(here) - (scale.y(here) > 1 ? 0.5 : 0);
  const keys = (event: KeyboardEvent): void => {
    const edges = scale.blocks.map((block) => block.from);
    const to: Readonly<Record<string, number | undefined>> = {
      ArrowUp: event.shiftKey ? here + 1 : edges.find((edge) => edge > here),
      ArrowDown: event.shiftKey ? here - 1 : edges.findLast((edge) => edge < here),
      PageUp: here + 256,
      PageDown: here - 256,
      Home: 0,
      End: space.size - 1,
    };
    if (!Object.hasOwn(to, event.key) || event.altKey || event.ctrlKey) return;
    event.preventDefault();
    event.stopPropagation();
    const next = to[event.key];
    if (next !== undefined) onCursor(Math.min(space.size - 1, Math.max(0, next)));
  };
  return (
    <g
      class={`cursor${cursor === undefined ? ' away' : ''}`}
      role="slider"
      tabIndex={0}
      aria-label={`Address looked at in ${space.name}`}
      aria-orientation="vertical"
      aria-valuemin={0}
      aria-valuemax={space.size - 1}
      aria-valuenow={here}
      aria-valuetext={hex(here, space.digits)}
      onKeyDown={(event) => keys(event as unknown as KeyboardEvent)}
      onFocus={() => cursor === undefined && onCursor(0)}
      onPointerDown={(event) => {
        (event.currentTarget as Element).setPointerCapture(event.pointerId);
        setHeld(true);
      }}
      onPointerMove={(event) => held && onCursor(at(event))}
      onPointerUp={() => setHeld(false)}
    >
      <rect class="frame" x={1} y={y - 12} width={left + 8} height={24} />
      <path class="hairline" d={`M${left + 9} ${y}H${right}`} />
      <text class="b" x={left - 16} y={y} dy=".35em" text-anchor="end" style={{ fontSize: '12.5px' }}>
        {hex(here, space.digits)}
      </text>
    </g>
  );
}
