// A capture made by the same engine with other physics: levels of floating nets, contents of RAM and who wins a fight drawn at
// random; late data; bits lost. It shares its machine with the diagnosis, so figures from it are optimistic; the independent
// source is the structural Verilog.

import { createRng, type Rng } from '../../src/base/index.ts';
import { type Edit, nodesOf, type Observed, probeOf, Trial, type TrialPlan } from '../../src/bringup/index.ts';

export interface MadeOptions {
  readonly nets: readonly string[];
  readonly halves: number;
  readonly seed: number;
  /** Half clocks after release at which it begins; undefined: with reset. */
  readonly from?: number;
  readonly images?: ReadonlyMap<string, Uint8Array>;
}

export function madeCapture(plan: TrialPlan, edit: Edit, options: MadeOptions): Observed {
  const rng: Rng = createRng(options.seed);
  const { bench } = plan;
  const probes = options.nets.map((net) => probeOf(bench, net)!.strip);
  const trial = new Trial(plan);
  const edges = trial.measureHalf(nodesOf(bench, [], {}));
  trial.setHalf(edges);
  const nodes = nodesOf(bench, probes, edit);
  const constant = rng.below(3);
  const floats = Uint8Array.from({ length: nodes.count + plan.innerCount + 64 }, () =>
    constant < 2 ? constant : rng.below(2),
  );
  trial.wire(
    nodes,
    edit,
    {
      floats,
      wins: rng.below(10) < 7 ? 0 : 1,
      unfed: rng.below(100) < 15 ? 'works' : rng.below(100) < 30 ? 'low' : 'dead',
    },
    options.images,
  );
  for (const entry of plan.parts)
    if (entry.isRam)
      for (let k = 0; k < entry.words; k++) {
        const byte = rng.below(256);
        trial.state[entry.state + k] = byte | ((~byte & 0xff) << 16);
      }
  const inReset = 24 + rng.below(2);
  const lead = options.from === undefined ? 8 : 0;
  const isLate = rng.below(2) === 1;
  const levels = options.nets.map(() => new Uint8Array(options.halves));
  const before = new Uint8Array(options.nets.length);
  const randomNet = new Map<number, number>();
  for (const node of trial.loose) if (rng.below(5) === 0) randomNet.set(node, 1);
  const loose = [...randomNet.keys()];
  const go = (): void => {
    trial.half();
    if (loose.length === 0) return;
    for (const node of loose) trial.clamp(node, rng.below(2));
    trial.step();
  };
  for (let k = 0; k < inReset - lead; k++) go();
  const first = trial.clockHighAfter(inReset - lead + 1 + (options.from ?? 0));
  let released = false;
  if (options.from !== undefined) {
    trial.releaseReset();
    released = true;
    for (let k = 0; k < options.from; k++) go();
  }
  for (let k = 0; k < options.halves; k++) {
    if (!released && k === lead) {
      trial.releaseReset();
      released = true;
    }
    go();
    options.nets.forEach((net, n) => {
      const now = trial.level[trial.probes[n]!]!;
      levels[n]![k] = isLate && /^D\d/.test(net) ? before[n]! : now;
      before[n] = now;
    });
  }
  const reset = levels[options.nets.findIndex((net) => /reset/i.test(net))];
  let release = -1;
  if (options.from === undefined && reset !== undefined)
    for (let k = 1; k < options.halves && release < 0; k++) if (reset[k - 1] === 0 && reset[k] === 1) release = k;
  return {
    halves: options.halves,
    sinceReset: release < 0 ? null : -release,
    firstHigh: first,
    times: Float64Array.from({ length: options.halves }, (_, k) => (k + 1) * 1.35e-7),
    nets: options.nets.map((net, n) => {
      const strong = Uint8Array.from({ length: options.halves }, () => (rng.below(200) === 0 ? 0 : 1));
      return { net, level: levels[n]!, known: strong.map((one) => (one === 1 ? 1 : rng.below(2))), strong };
    }),
    by: 'clock',
    sure: 1,
  };
}
