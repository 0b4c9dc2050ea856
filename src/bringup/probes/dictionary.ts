// What each hypothesis would show on every net: level, rate, the very trace. One run a class, all nets at once; the questions that are
// then asked of it cost nothing.

import { type Bench, nodesOf } from '../faults/index.ts';
import { type FaultClassOfNets, type Physics, PLAIN_PHYSICS, Trial, type TrialPlan } from '../diagnose/index.ts';

/** What a net shows, in words of an instrument. */
export const LEVELS = ['low', 'high', 'changes', 'floats'] as const;
export type Level = (typeof LEVELS)[number];

/** What one class shows: per net, the level, edges a thousand half clocks and a print of the trace. */
export interface Showing {
  readonly level: Uint8Array;
  readonly edges: Float32Array;
  readonly print: Int32Array;
}

export interface Dictionary {
  /** Names of the nets, and the strip where each is probed. */
  readonly nets: readonly string[];
  readonly strips: readonly number[];
  readonly halves: number;
  /** By class, one or two ways floating nets may stand. */
  readonly shows: ReadonlyMap<number, readonly Showing[]>;
}

const IN_RESET = 24;

/** Nets worth a probe: every signal with a pin of a part that does something. */
export function probeNets(
  bench: Bench,
  probeOf: (net: string) => number | undefined,
): { nets: string[]; strips: number[] } {
  const nets: string[] = [];
  const strips: number[] = [];
  for (const net of bench.netlist.nets) {
    if (net.kind !== 'signal') continue;
    const strip = probeOf(net.name);
    if (strip === undefined) continue;
    nets.push(net.name);
    strips.push(strip);
  }
  return { nets, strips };
}

/** Runs classes and notes what every net shows in so many half clocks from the release. `of` and `part` cut the work for workers. */
export function makeDictionary(
  plan: TrialPlan,
  classes: readonly FaultClassOfNets[],
  which: readonly number[],
  where: { readonly nets: readonly string[]; readonly strips: readonly number[] },
  options: {
    readonly halves: number;
    readonly edgesPerHalf: number;
    readonly images?: ReadonlyMap<string, Uint8Array>;
    readonly progress?: (done: number, total: number) => boolean;
  },
): Dictionary {
  const trial = new Trial(plan);
  trial.setHalf(options.edgesPerHalf);
  const shows = new Map<number, readonly Showing[]>();
  let done = 0;
  for (const at of which) {
    const { edit } = classes[at]!;
    const nodes = nodesOf(plan.bench, where.strips, edit);
    const run = (physics: Physics): Showing => {
      trial.wire(nodes, edit, physics, options.images);
      return watch(trial, where.nets.length, options.halves);
    };
    const list = [run(PLAIN_PHYSICS)];
    if (trial.loose.length > 0) list.push(run({ ...PLAIN_PHYSICS, floats: 0 }));
    shows.set(at, list);
    done++;
    if ((done & 15) === 0 && options.progress?.(done, which.length) === false) break;
  }
  return { ...where, halves: options.halves, shows };
}

function watch(trial: Trial, count: number, halves: number): Showing {
  for (let n = 0; n <= IN_RESET; n++) trial.half();
  trial.releaseReset();
  const edges = new Float32Array(count);
  const high = new Int32Array(count);
  const soft = new Int32Array(count);
  const print = new Int32Array(count).fill(0x811c9dc5 | 0);
  const last = new Uint8Array(count);
  const { probes } = trial;
  for (let k = 0; k < halves; k++) {
    trial.half();
    const { level, soft: why } = trial;
    for (let n = 0; n < count; n++) {
      const node = probes[n]!;
      const now = level[node]!;
      const isSoft = why[node] !== 0 ? 2 : 0;
      high[n]! += now;
      soft[n]! += isSoft >> 1;
      if (k > 0 && now !== last[n]) edges[n]!++;
      last[n] = now;
      print[n] = Math.imul(print[n]! ^ (isSoft === 0 ? now : 2), 0x01000193);
    }
  }
  const level = new Uint8Array(count);
  for (let n = 0; n < count; n++) {
    // A net that nothing drives for nearly all the time floats, whatever it stands at.
    level[n] = soft[n]! > halves * 0.95 ? 3 : high[n] === 0 ? 0 : high[n] === halves ? 1 : 2;
    edges[n] = (edges[n]! * 1000) / halves;
  }
  return { level, edges, print };
}
