// What stands beside the boards: a net, a part with its pin card, what a stage changes, the bus diagram.

import { type Layout, layoutAt, netlistAt, shoppingVerb } from '../../app/index.ts';
import { foldName } from '../../base/index.ts';
import {
  busDiagram,
  createNetTree,
  netLine,
  pinCard,
  type Scene,
  type SceneWire,
  type Station,
} from '../../drawing/index.ts';
import type { Asks, ChangeRow, ShoppingRow, StationData } from '../protocol.ts';
import type { Bench } from './bench.ts';

const plural = (n: number, one: string, many = `${one}s`): string => `${n} ${n === 1 ? one : many}`;

/** The number of each wire's step among the steps of its stage, done or not. */
export function stepNumbers(bench: Bench, stage: number): { numbers: Map<string, number>; next: string | undefined } {
  const numbers = new Map<string, number>();
  const counts = new Map<number, number>();
  for (const step of bench.build.wholePlan()?.value.steps ?? []) {
    const n = (counts.get(step.stage) ?? 0) + 1;
    counts.set(step.stage, n);
    if (step.do === 'wire' && step.wire !== undefined) numbers.set(step.wire, n);
  }
  return { numbers, next: bench.build.plan(stage)?.value.steps[0]?.wire };
}

export function net(bench: Bench, ask: Asks['net'][0]): Asks['net'][1] {
  const netlist = netlistAt(bench.build.design(), ask.stage);
  const found = netlist.nets.find((item) => foldName(item.name) === foldName(ask.net));
  const scene = bench.scene(ask.stage);
  if (found === undefined) {
    const design = bench.build.design();
    const first = design.netlists.find((later) => later.nets.some((item) => foldName(item.name) === foldName(ask.net)));
    const name = design.stages.find((item) => item.number === first?.stage)?.name ?? '';
    return first === undefined
      ? undefined
      : {
          name: ask.net,
          kind: 'signal',
          words: `Comes at stage ${first.stage}, ${name}.`,
          svg: '',
          stations: [],
          origin: undefined,
          comes: first.stage,
        };
  }
  const pins = found.pins.map((id) => netlist.pins[id]!);
  const driving = pins.filter((pin) => pin.kind === 'output' || pin.kind === 'three-state');
  const listening = pins.filter((pin) => pin.kind === 'input');
  const both = pins.filter((pin) => pin.kind === 'bidirectional');
  const partOf = (pin: (typeof pins)[number]): string => netlist.parts[pin.part]!.name;
  const kind =
    found.kind === 'supply'
      ? 'supply'
      : found.kind === 'ground'
        ? 'ground'
        : `${found.bus === undefined ? '' : `bit ${found.bus.bit} of ${found.bus.name}, `}${found.netClass?.name ?? 'signal'}${/^[/~#]/.test(found.name) ? ', active low' : ''}`;
  const who = [
    ...(driving.length > 0 ? [`driven by ${[...new Set(driving.map(partOf))].join(', ')}`] : []),
    ...(both.length > 0 ? [`shared by ${[...new Set(both.map(partOf))].join(', ')}`] : []),
    ...(listening.length > 0 ? [plural(listening.length, 'listener')] : []),
  ];
  const wires = scene?.wires.filter((item) => item.wire.net === found.name) ?? [];
  const inNow = wires.filter((item) => item.state === 'built').length;
  const toCome = wires.filter((item) => item.state === 'planned').length;
  const wired = [
    ...(inNow > 0 ? [`${plural(inNow, 'wire')} in`] : []),
    ...(toCome > 0 ? [`${plural(toCome, 'wire')} to come`] : []),
  ];
  const sentence = (words: readonly string[]): string =>
    words.length === 0
      ? ''
      : `${words[0]!.charAt(0).toUpperCase()}${words[0]!.slice(1)}${words.length > 1 ? `, ${words.slice(1).join(', ')}` : ''}.`;
  const { numbers, next } = stepNumbers(bench, ask.stage);
  return {
    name: found.name,
    kind: found.kind,
    words: [`${kind}.`, sentence(who), sentence(wired)].filter((text) => text !== '').join(' '),
    svg:
      scene === undefined
        ? ''
        : netLine({ scene, net: found.name, steps: numbers, next, spacing: lineSpacing(scene, found.name) }),
    stations: scene === undefined ? [] : stationsOf(scene, found.name, numbers, next),
    origin: {
      text: found.origin.text,
      where: found.origin.span === undefined ? undefined : bench.place(found.origin.span),
    },
    comes: undefined,
  };
}

/** px between stations so that a line of a few fits beside the boards; longer ones scroll. */
function lineSpacing(scene: Scene, name: string): number {
  const { columns } = createNetTree(scene, name);
  return columns < 2 ? 200 : Math.max(150, Math.min(200, (636 - 156) / (columns - 1)));
}

function stationsOf(
  scene: Scene,
  name: string,
  numbers: ReadonlyMap<string, number>,
  next: string | undefined,
): StationData[] {
  const tree = createNetTree(scene, name);
  const into = new Map<Station, SceneWire>(tree.links.map((link) => [link.to, link.wire]));
  const ordered = [...tree.stations].sort((a, b) => a.row - b.row || a.column - b.column);
  return ordered.map((station) => {
    const pin = station.pins.find(({ part }) => part.leads.length > 2) ?? station.pins[0];
    const wire = into.get(station);
    return {
      part: pin?.part.name,
      number: pin?.lead.number,
      pin: pin === undefined ? (station.rail ? 'rail' : 'strip') : pin.lead.name,
      more: Math.max(0, station.pins.length - 1),
      holes: station.holes,
      rail: station.rail,
      drives: station.drives,
      wire:
        wire === undefined
          ? undefined
          : {
              id: wire.wire.id,
              colour: wire.wire.colour,
              cutMm: wire.wire.cutMm,
              state: wire.state,
              step: numbers.get(wire.wire.id),
              next: next === wire.wire.id,
            },
    };
  });
}

export function shopping(bench: Bench, ask: Asks['shopping'][0]): readonly ShoppingRow[] {
  const stock = bench.project.text(`${bench.build.folder}/stock.yaml`);
  return bench.project.memo(`shopping ${ask.stage}`, [bench.project.design(), stock], () => {
    const result = shoppingVerb(bench.build, ask);
    return (result.value as { needs: ShoppingRow[] }).needs;
  });
}

/** Whether a part is in the drawer, and what would do as well. */
export function buy(bench: Bench, ask: Asks['buy'][0]): Asks['buy'][1] {
  const need = shopping(bench, { stage: ask.stage }).find((row) =>
    row.parts.some((name) => foldName(name) === foldName(ask.part)),
  );
  if (need === undefined) return undefined;
  return {
    text:
      need.buy > 0
        ? `${need.needed} needed, ${need.have} in the drawer, ${need.buy} to buy`
        : need.coming > 0
          ? `${need.needed} needed, ${need.coming} on the way`
          : `${need.needed} needed, in the drawer`,
    substitutes: need.substitutes.map(
      (other) =>
        `${[other.type, other.grade].filter((text) => text !== null).join(', ')}${other.inStock ? ', in the drawer' : ''}`,
    ),
  };
}

export function part(bench: Bench, ask: Asks['part'][0]): Asks['part'][1] {
  const design = bench.build.design();
  const scene = bench.scene(ask.stage);
  const placed = scene?.parts.find((item) => foldName(item.name) === foldName(ask.part));
  const known =
    placed?.known ??
    netlistAt(design, ask.stage).parts.find((item) => foldName(item.name) === foldName(ask.part)) ??
    design.netlists.at(-1)?.parts.find((item) => foldName(item.name) === foldName(ask.part));
  if (known === undefined) return undefined;
  const title = known.record.title;
  return {
    name: known.name,
    type: [known.type, known.grade].filter((text) => text !== undefined).join(', '),
    title,
    value: known.value ?? '',
    stage: known.stage,
    state: placed?.state ?? 'not placed',
    fixed: bench.build.choices().value.places.some((place) => foldName(place.part) === foldName(known.name)),
    rotation: placed?.placed.rotation ?? 0,
    firstHole: placed?.placed.leads[0]?.hole ?? '',
    leads: placed?.placed.leads.map((lead) => lead.hole) ?? [],
    pins: (placed?.leads ?? []).map((lead, i) => ({
      number: lead.number,
      name: lead.name,
      net: lead.net ?? '',
      hole: placed!.placed.leads[i]?.hole ?? '',
      kind: known.record.pins.find((row) => row.number === lead.number)?.kind ?? '',
    })),
    card: scene === undefined ? '' : pinCard({ scene, part: known.name, select: ask.net, width: 760 }),
    cautions: known.record.cautions ?? [],
    where: known.origin.span === undefined ? undefined : bench.place(known.origin.span),
  };
}

/** What a stage changes, group by group, and the figures of the title block. */
export function stage(bench: Bench, ask: Asks['stage'][0]): Asks['stage'][1] {
  const layout = bench.build.layout().value;
  const scene = bench.scene(ask.stage);
  if (layout === undefined || scene === undefined) return undefined;
  const whole = bench.build.wholePlan()?.value.steps.filter((step) => step.stage === ask.stage) ?? [];
  const left = new Set((bench.build.plan(ask.stage)?.value.steps ?? []).map((step) => step.id));
  const groups = new Map<string, typeof whole>();
  for (const step of whole) {
    if (step.do === 'measure' || step.do === 'program' || step.do === 'label') continue;
    groups.set(step.group, [...(groups.get(step.group) ?? []), step]);
  }
  const rows = [...groups].map(([group, steps]): ChangeRow => {
    const toDo = steps.filter((step) => left.has(step.id));
    const mm = steps.reduce((sum, step) => sum + (step.do === 'wire' ? (step.cutMm ?? 0) : 0), 0);
    const out = steps.every((step) => step.do === 'take-out' || step.do === 'detach');
    return {
      group,
      marks: steps.map((step) => ({
        colour: step.colour ?? '',
        state: step.do === 'take-out' || step.do === 'detach' ? 'out' : left.has(step.id) ? 'planned' : 'built',
      })),
      text:
        toDo.length === 0
          ? 'all done'
          : out
            ? `${toDo.length} to take out`
            : toDo.length === steps.length
              ? `${toDo.length} to come`
              : `${steps.length - toDo.length} of ${steps.length} in`,
      cut: mm === 0 ? '' : `${(mm / 1000).toFixed(2)} m`,
    };
  });
  const count = (state: string): number => scene.wires.filter((wire) => wire.state === state).length;
  const mm = scene.wires.filter((wire) => wire.state !== 'out').reduce((sum, wire) => sum + wire.wire.cutMm, 0);
  const info = bench.build.design().stages.find((item) => item.number === ask.stage);
  return {
    rows,
    boards: boardsWords(layout),
    wires: { built: count('built'), planned: count('planned'), out: count('out'), mm },
    note: info?.decl.notes.map((note) => note.text).join(' ') ?? '',
    stale: bench.build.stale()[0]?.message,
  };
}

function boardsWords(layout: Layout): string {
  const kinds = [...new Set(layout.boards.map((board) => board.kind))];
  return `${plural(layout.boards.length, 'board')}${kinds.length === 1 ? `, ${kinds[0]}` : ''}`;
}

export function bus(bench: Bench, ask: Asks['bus'][0]): string {
  const built = bench.build.built().value;
  return busDiagram({
    netlist: netlistAt(bench.build.design(), ask.stage),
    built: new Set(built.parts.keys()),
    select: ask.net,
  });
}

/** What a layout holds as of a stage, for tables. */
export function wiresAt(bench: Bench, stageNumber: number) {
  const layout = bench.build.layout().value;
  return layout === undefined ? { parts: [], wires: [] } : layoutAt(layout, stageNumber);
}
