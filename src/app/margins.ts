// The margins of a build as of a stage: the engine's question put together from layout, compiled devices and library. The verb
// and the workbench ask the same.

import { type Finding, foldName } from '../base/index.ts';
import { layoutAt } from '../board/index.ts';
import {
  createScene,
  cycleDrawing,
  onBoards,
  type RailDropView,
  railDropDrawing,
  type Scene,
  wholeView,
  widestDropMv,
} from '../drawing/index.ts';
import {
  cycleWaves,
  dropAlong,
  type Margins,
  margins,
  type MarginsOptions,
  type NetWiring,
  supplyDrops,
  type SupplyWiring,
} from '../margins/index.ts';
import { netlistAt } from '../netlist/index.ts';
import { type Build, stripIn } from './build.ts';
import { revisionAt } from './decode.ts';
import { supplyWiringOf } from './rail-wiring.ts';
import { wireFactsOf } from './wire-facts.ts';

export interface MarginsAsk {
  readonly stage: number;
  /** Another clock than the machine's own. */
  readonly clockHz?: number;
  /** V that further feeds should restore at the lowest chip. */
  readonly wantedVolts?: number;
  /** Leaves out which part to replace, which costs a run for each grade. */
  readonly withoutAdvice?: boolean;
}

/** How the supply is wired as of a stage; undefined without a layout that is this design. */
export function supplyWiring(build: Build, stage: number): SupplyWiring | undefined {
  const layout = build.layout().value;
  if (layout === undefined || build.stale().length > 0) return undefined;
  const design = build.design();
  return build.project.memo(`supply wiring ${build.name} ${stage}`, [layout, design], () =>
    supplyWiringOf(design, layout, stage),
  );
}

/** What a meter should read at a chip once the power is on. */
export interface MeterRow {
  readonly part: string;
  readonly supply: string;
  /** Holes of the two tips. */
  readonly plus: string;
  readonly ground: string;
  /** V at typical and at greatest currents, the supply at its nominal volts at the entry. */
  readonly volts: number;
  readonly leastVolts: number;
}

/** The readings to expect at every chip of a stage, the lowest first; none without a layout. */
export function meterRows(build: Build, stage: number): MeterRow[] {
  const rails = supplyWiring(build, stage);
  if (rails === undefined) return [];
  return supplyDrops(build.design(), rails, { families: build.project.library().value.families })
    .flatMap((drop) => drop.chips)
    .flatMap((chip) =>
      chip.typVolts === null || chip.volts === null
        ? []
        : [
            {
              part: chip.part,
              supply: chip.supply,
              plus: chip.plusHole,
              ground: chip.groundHole,
              volts: Math.round(chip.typVolts * 1e3) / 1e3,
              leastVolts: Math.round(chip.volts * 1e3) / 1e3,
            },
          ],
    )
    .sort((a, b) => Math.abs(a.volts) - Math.abs(b.volts) || (a.part < b.part ? -1 : 1));
}

/** One sentence of it: where the least arrives. Undefined where nothing is known. */
export function meterWords(rows: readonly MeterRow[]): string | undefined {
  const least = rows[0];
  if (least === undefined) return undefined;
  return `Under power the meter shows about ${least.volts.toFixed(2)} V across ${least.plus} and ${least.ground} (${least.part}), the least of all chips, with the supply as set at the entry; under ${(least.leastVolts - 0.05).toFixed(2)} V there look for a bad contact on the way.`;
}

function timingOptions(build: Build, ask: MarginsAsk): MarginsOptions {
  const wiring = wiringOf(build, ask.stage);
  return {
    families: build.project.library().value.families,
    passes: passesOf(build, ask.stage),
    ...(wiring === undefined ? {} : { wiring }),
    ...(ask.clockHz === undefined ? {} : { clockHz: ask.clockHz }),
    ...(ask.withoutAdvice === undefined ? {} : { withoutAdvice: ask.withoutAdvice }),
  };
}

/** All margins of a build. */
export function marginsOf(
  build: Build,
  ask: MarginsAsk,
): { readonly value: Margins; readonly findings: readonly Finding[] } {
  const rails = supplyWiring(build, ask.stage);
  const layout = build.layout().value;
  const design = build.design();
  const wires =
    layout === undefined || build.stale().length > 0
      ? undefined
      : build.project.memo(`wire facts ${build.name} ${ask.stage}`, [layout, design], () =>
          wireFactsOf(design, layout, ask.stage),
        );
  return margins(design, ask.stage, {
    ...timingOptions(build, ask),
    ...(wires === undefined ? {} : { wires }),
    ...(rails === undefined ? {} : { supplyWiring: rails }),
    ...(ask.wantedVolts === undefined ? {} : { wantedVolts: ask.wantedVolts }),
  });
}

/** What the layout's wires and the hooks of instruments add to each net as of a stage. */
function wiringOf(build: Build, stage: number): ReadonlyMap<string, NetWiring> | undefined {
  const layout = build.layout().value;
  if (layout === undefined || build.stale().length > 0) return undefined;
  const nets = new Map<string, { mm: number; strips: Set<string>; leads: number }>();
  const at = (net: string): { mm: number; strips: Set<string>; leads: number } => {
    const key = foldName(net);
    const known = nets.get(key) ?? { mm: 0, strips: new Set<string>(), leads: 0 };
    nets.set(key, known);
    return known;
  };
  for (const wire of layoutAt(layout, stage).wires) {
    const net = at(wire.net);
    net.mm += wire.cutMm;
    for (const hole of [wire.from, wire.to]) net.strips.add(stripIn(layout, hole));
  }
  for (const lead of build.design().leads)
    if (lead.stage <= stage && (lead.until === undefined || stage < lead.until)) at(lead.net).leads++;
  return new Map([...nets].map(([net, item]) => [net, { mm: item.mm, strips: item.strips.size, leads: item.leads }]));
}

/** Passes through its array that each output of a programmable device takes, as compiled for this stage. */
function passesOf(build: Build, stage: number): ReadonlyMap<string, number> {
  const passes = new Map<string, number>();
  const { revisions } = build.devices();
  for (const plan of build.design().devices) {
    const compiled = revisionAt(revisions, plan.part, stage)?.result?.compiled;
    for (const output of compiled?.outputs ?? []) {
      const pin = plan.outputs.find((item) => foldName(item.net) === foldName(output.net))?.pin;
      if (pin !== undefined) passes.set(foldName(`${plan.part}.${pin}`), output.passes);
    }
  }
  return passes;
}

/** Which cycle to draw. */
export interface CycleAsk extends MarginsAsk {
  readonly cycle: string;
  /** With this part only; all that answer in it where absent. */
  readonly target?: string;
  /** px; 1120 unless said. */
  readonly width?: number;
  /** The most trains drawn. */
  readonly most?: number;
  /** Given: the drawing stands alone. */
  readonly ground?: 'paper' | 'slate';
}

/** The names of the cycles that a machine's processor makes at a stage, with the parts that answer in each. */
export function cyclesOf(
  value: Pick<Margins, 'timing'>,
): { readonly cycle: string; readonly targets: readonly string[] }[] {
  const found = new Map<string, Set<string>>();
  for (const row of value.timing.rows) {
    if (row.cycle === 'clock') continue;
    const set = found.get(row.cycle) ?? new Set();
    found.set(row.cycle, set.add(row.target));
  }
  return [...found].map(([cycle, targets]) => ({ cycle, targets: [...targets] }));
}

/** A cycle as an SVG with its slack marked; undefined where that cycle isn't there. `value` saves working it out again. */
export function cycleSvg(build: Build, ask: CycleAsk, value = marginsOf(build, ask).value): string | undefined {
  const options = timingOptions(build, ask);
  const waves = cycleWaves(
    build.design(),
    ask.stage,
    value.timing,
    { cycle: ask.cycle, ...(ask.target === undefined ? {} : { target: ask.target }) },
    { ...options, loading: value.loading },
  );
  if (waves === null || waves.rows.length === 0) return undefined;
  return cycleDrawing({
    rows: waves.rows,
    lanes: waves.lanes,
    capture: waves.capture,
    periodNs: waves.periodNs,
    high: waves.high,
    startsWith: waves.startsWith,
    width: ask.width,
    most: ask.most,
    ground: ask.ground,
  });
}

/** The boards with what is lost along the rails; undefined without a layout that is fed. */
export function railSvg(
  build: Build,
  ask: { readonly stage: number; readonly width?: number; readonly ground?: 'paper' | 'slate' },
  scene?: Scene,
): { readonly svg: string; readonly widestMv: number } | undefined {
  const rails = supplyWiring(build, ask.stage);
  const layout = build.layout().value;
  if (rails === undefined || layout === undefined) return undefined;
  const design = build.design();
  const drops = supplyDrops(design, rails, { families: build.project.library().value.families });
  const kinds = new Map(rails.wiring.rails.map((rail) => [rail.name, rail.kind]));
  // Loss is told from the entry on: of plus below the volts of its supply, of ground above 0 V.
  const supplyVolts = (strip: string, volts: number): number => {
    if (kinds.get(strip) === 'ground') return 0;
    const near = design.supplies
      .map((supply) => supply.volts)
      .sort((a, b) => Math.abs(a - volts) - Math.abs(b - volts));
    return near[0] ?? volts;
  };
  const lines = [...dropAlong(rails)].flatMap(([strip, places]) => {
    const rail = /^(\d+:[tb][+-])\d+-\d+$/.exec(strip);
    if (rail === null) return [];
    const points = places.flatMap(({ inch, volts }) =>
      volts === null
        ? []
        : [{ hole: `${rail[1]}${Math.round(inch * 10)}`, lost: Math.abs(supplyVolts(strip, volts) - volts) }],
    );
    return [{ points }];
  });
  const drawn = scene ?? createScene({ design, layout, stage: ask.stage, ...onBoards(build.built().value, layout) });
  const view: RailDropView = {
    scene: drawn,
    scale: ask.width === undefined ? undefined : Math.max(2.2, Math.min(5, ask.width / wholeView(drawn).width)),
    ground: ask.ground,
    rails: lines,
    chips: drops.flatMap((drop) =>
      drop.chips.map((chip) => ({
        part: chip.part,
        volts: chip.volts,
        needs: chip.needs,
        isLowest: chip.part === drop.lowest?.part,
      })),
    ),
    entries: rails.entries.map((entry) => ({
      plus: entry.plus,
      ground: entry.ground,
      volts: design.supplies.find((supply) => supply.name === entry.supply)?.volts ?? 0,
    })),
    feeds: drops.flatMap((drop) => drop.proposal?.feeds ?? []),
    nets: new Set(
      netlistAt(design, ask.stage)
        .nets.filter((net) => net.kind !== 'signal')
        .map((net) => net.name),
    ),
  };
  return { svg: railDropDrawing(view), widestMv: widestDropMv(view) };
}
