// What a drawing of boards shows, worked out once from design, layout, stage and journal: every part, wire and strip with its
// state and its place in mm. No SVG here.

import { compareNatural } from '../base/index.ts';
import type { Layout, PlacedPart, Wire } from '../board/index.ts';
import { type Design, type Net, type NetPart, netlistAt } from '../netlist/index.ts';
import { LANE, type Lanes, type LaneWire, layLanes, type Point } from './lanes.ts';
import { type Outline, outlinePart } from './outline.ts';
import { createPlaces, type HolePlace, PITCH, type Places, type Rect, type StripPlace } from './places.ts';

/** built: on the boards. planned: as of the stage, not in yet. out: in, to be taken out. later: of a later stage. */
export type BuildState = 'built' | 'planned' | 'out' | 'later';

/**
 * What is on the boards: names of parts (or a function, where a name alone doesn't tell a part from the one it replaces), ids
 * of wires. `all` draws everything of the stage as built. `onBoards` makes it from a journal.
 */
export type Built =
  | 'all'
  | {
      readonly parts: ReadonlySet<string> | ((placed: PlacedPart) => boolean);
      readonly wires: ReadonlySet<string>;
    };

export interface SceneInput {
  readonly design: Design;
  readonly layout: Layout;
  /** Up to and including this stage; 0 is the empty bench. */
  readonly stage: number;
  readonly built?: Built | undefined;
  /** Wires that are on the boards but no longer in the layout. */
  readonly leaving?: readonly Wire[] | undefined;
  /** Parts that are on the boards in places where the layout no longer has them. */
  readonly leavingParts?: readonly PlacedPart[] | undefined;
  /** Ways found before for the same wires, by layLanes; found anew where absent. */
  readonly lanes?: Lanes | undefined;
}

export interface SceneLead {
  readonly number: number;
  readonly at: HolePlace;
  /** The pin's name, empty where the part's record isn't known. */
  readonly name: string;
  /** As of the stage; undefined where it is on no net. */
  readonly net: string | undefined;
  readonly strip: StripPlace;
}

export interface ScenePart {
  readonly name: string;
  readonly placed: PlacedPart;
  /** The part as of the stage, or of the stage that brings it; undefined for one the design doesn't know. */
  readonly known: NetPart | undefined;
  readonly state: BuildState;
  readonly leads: readonly SceneLead[];
  readonly outline: Outline;
}

export interface SceneWire {
  readonly wire: Wire;
  readonly from: HolePlace;
  readonly to: HolePlace;
  readonly state: 'built' | 'planned' | 'out';
  readonly path: readonly Point[];
  /** A short temporary wire, drawn as an arch. */
  readonly arch: boolean;
  readonly bundle: string;
}

export interface SceneStrip {
  readonly strip: StripPlace;
  readonly net: string;
}

export interface Scene {
  readonly input: SceneInput;
  readonly places: Places;
  readonly parts: readonly ScenePart[];
  readonly wires: readonly SceneWire[];
  /** Strips that carry a net as of the stage. */
  readonly strips: readonly SceneStrip[];
  readonly lanes: Lanes;
  net(name: string): Net | undefined;
}

/** The scene of a layout as of a stage. Holes that no board has are left out, with what hangs on them. */
export function createScene(input: SceneInput): Scene {
  const { design, layout, stage } = input;
  const places = createPlaces(layout);
  const netlist = netlistAt(design, stage);
  const nets = new Map(netlist.nets.map((net) => [net.name, net]));
  const now = new Map(netlist.parts.map((part) => [part.name, part]));
  const onBoards = input.built === 'all' ? undefined : input.built;
  const isBuiltPart = (placed: PlacedPart): boolean => {
    const set = onBoards?.parts;
    return set !== undefined && (typeof set === 'function' ? set(placed) : set.has(placed.part));
  };
  const state = (item: Pick<PlacedPart, 'stage' | 'until'>, isBuilt: boolean): BuildState | undefined => {
    const holds = item.stage <= stage && (item.until === undefined || stage < item.until);
    if (holds) return input.built === 'all' || isBuilt ? 'built' : 'planned';
    // Looking back at an earlier stage, what a later one has already put in is not to be taken out for that.
    if (item.stage > stage) return 'later';
    return isBuilt ? 'out' : undefined;
  };

  // Where the layout exchanged pins of a part, what its wires carry says which net a lead is on: the design handed in may
  // or may not have followed the exchange already.
  const exchanged = new Set((layout.exchanges ?? []).map((exchange) => `${exchange.part}\n${exchange.type}`));
  const carried = new Map<string, string>();
  if (exchanged.size > 0)
    for (const wire of layout.wires) {
      if (wire.temporary) continue;
      for (const end of [wire.from, wire.to]) {
        const at = places.hole(end);
        if (at !== undefined) carried.set(places.strip(at).key, wire.net);
      }
    }

  const parts: ScenePart[] = [];
  const asked = [
    ...layout.parts.map((placed) => ({ placed, is: state(placed, isBuiltPart(placed)) })),
    ...(input.leavingParts ?? []).map((placed) => ({ placed, is: 'out' as const })),
  ];
  for (const { placed, is } of asked) {
    if (is === undefined) continue;
    // A name may pass from one part to another; what isn't of this stage is looked up in its own.
    const current = is === 'later' || is === 'out' ? undefined : now.get(placed.part);
    const source = current === undefined ? netlistAt(design, placed.stage) : netlist;
    const known = current ?? source.parts.find((part) => part.name === placed.part);
    const pins = new Map((known?.pins ?? []).map((id) => source.pins[id]!).map((pin) => [pin.number, pin]));
    const rows = new Map((known?.record.pins ?? []).map((row) => [row.number, row.name]));
    const leads = placed.leads.flatMap((lead): SceneLead[] => {
      const at = places.hole(lead.hole);
      if (at === undefined) return [];
      const pin = pins.get(lead.number);
      const strip = places.strip(at);
      const given = is === 'later' || pin === undefined ? undefined : source.nets[pin.net]?.name;
      const net =
        given !== undefined && exchanged.has(`${placed.part}\n${placed.type}`)
          ? (carried.get(strip.key) ?? given)
          : given;
      return [{ number: lead.number, at, name: rows.get(lead.number) ?? '', net, strip }];
    });
    if (leads.length === 0) continue;
    parts.push({
      name: placed.part,
      placed,
      known,
      state: is,
      leads,
      outline: outlinePart(placed, known?.record, leads),
    });
  }
  parts.sort((a, b) => compareNatural(a.name, b.name) || a.placed.stage - b.placed.stage);

  const strips = new Map<string, SceneStrip>();
  const owner = new Map<string, string>();
  for (const part of parts) {
    if (part.state === 'later') continue;
    for (const lead of part.leads) {
      if (part.leads.length > 2 && !owner.has(lead.strip.key)) owner.set(lead.strip.key, part.name);
      if (lead.net !== undefined) strips.set(lead.strip.key, { strip: lead.strip, net: lead.net });
    }
  }

  const drawn: { wire: Wire; from: HolePlace; to: HolePlace; state: 'built' | 'planned' | 'out' }[] = [];
  const add = (wire: Wire, is: 'built' | 'planned' | 'out'): void => {
    const from = places.hole(wire.from);
    const to = places.hole(wire.to);
    if (from === undefined || to === undefined) return;
    drawn.push({ wire, from, to, state: is });
    for (const end of [from, to]) {
      const strip = places.strip(end);
      if (!strips.has(strip.key)) strips.set(strip.key, { strip, net: wire.net });
    }
  };
  for (const wire of layout.wires) {
    const is = state(wire, onBoards?.wires.has(wire.id) ?? false);
    if (is !== undefined && is !== 'later') add(wire, is);
  }
  for (const wire of input.leaving ?? []) add(wire, 'out');

  const requests = drawn.map(({ wire, from, to }): LaneWire => {
    const bus = nets.get(wire.net)?.bus;
    const ends = [from, to].map((end) => owner.get(places.strip(end).key) ?? '');
    const joins = ends.includes('') ? '' : ends.sort().join('\n');
    return {
      id: wire.id,
      from: [from.x, from.y],
      to: [to.x, to.y],
      bundle: joins === '' ? '' : `${bus?.name ?? wire.colour}\n${joins}`,
      order: bus?.bit ?? from.x,
      path: wayOf(wire, from),
    };
  });
  const isArch = (wire: Wire, from: HolePlace, to: HolePlace): boolean =>
    wire.temporary && wire.path === undefined && Math.hypot(to.x - from.x, to.y - from.y) < 12 * PITCH;
  const lanes =
    input.lanes ??
    layLanes(
      requests.filter((_, i) => !isArch(drawn[i]!.wire, drawn[i]!.from, drawn[i]!.to)),
      laneField(places, parts, drawn),
    );
  const wires = drawn.map((item, i): SceneWire => {
    const arch = isArch(item.wire, item.from, item.to);
    const straight: readonly Point[] = [
      [item.from.x, item.from.y],
      [item.to.x, item.to.y],
    ];
    return {
      ...item,
      arch,
      bundle: requests[i]!.bundle,
      path: (arch ? undefined : lanes.paths.get(item.wire.id)) ?? straight,
    };
  });
  return { input, places, parts, wires, strips: [...strips.values()], lanes, net: (name) => nets.get(name) };
}

/**
 * The way that the layout fixes. What is arched, or a flexible jumper, lies in no lane and passes over chips: the drawing leads
 * it round them, so that what is under it can be read.
 */
function wayOf(wire: Wire, from: HolePlace): Point[] | undefined {
  if (wire.path === undefined || wire.path.length < 2 || wire.style === 'arched' || wire.style === 'jumper')
    return undefined;
  return pitchPath(wire.path, from);
}

/** Corners in mm; the path's own origin doesn't matter, since its first corner is the hole it starts from. */
function pitchPath(path: readonly (readonly [number, number])[], from: HolePlace): Point[] {
  const [x0, y0] = path[0]!;
  return path.map(([x, y]) => [from.x + (x - x0) * PITCH, from.y + (y - y0) * PITCH]);
}

function laneField(
  places: Places,
  parts: readonly ScenePart[],
  wires: readonly { from: HolePlace; to: HolePlace; wire: Wire }[],
) {
  const present = parts.filter((part) => part.state !== 'later');
  const soft: Point[] = [];
  for (const part of present) {
    if (part.leads.length < 3) continue;
    for (const { strip } of part.leads)
      if (!strip.rail) for (let y = strip.y0; y <= strip.y1 + 0.1; y += PITCH) soft.push([strip.x0, y]);
  }
  const first = places.boards[0];
  const origin: Point = first === undefined ? [0, 0] : [first.firstX, first.firstY];
  const { x, y, width, height } = places.bounds;
  return {
    // Two lanes beside the boards, for what goes round everything.
    x: x - 2 * LANE,
    y,
    width: width + 4 * LANE,
    height,
    origin,
    bodies: present.map((part) => part.outline.body).filter((body): body is Rect => body !== undefined),
    // An arched wire's ends are as taken as a lead's hole.
    leads: [
      ...present.flatMap((part) => part.leads.map((lead): Point => [lead.at.x, lead.at.y])),
      ...wires
        .filter(({ wire }) => wire.temporary)
        .flatMap(({ from, to }): Point[] => [
          [from.x, from.y],
          [to.x, to.y],
        ]),
    ],
    soft,
    rails: places.boards.flatMap((board) =>
      [0, 2.54, 45.72, 48.26].map((dy) => ({ x0: board.x, x1: board.x + board.width, y: board.firstY + dy })),
    ),
  };
}
