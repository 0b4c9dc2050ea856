// What the machine of a stage should show: the simulator run through the release of reset, and the level of each net at the end of
// every half clock of the processor.

import { foldName } from '../../base/index.ts';
import { type Circuit, Session, type SimContents } from '../../sim/index.ts';
import type { Predicted } from '../model.ts';

export interface PredictOptions {
  /** Nets wanted; those that the machine has not are left out. */
  readonly nets: readonly string[];
  /** Net at the processor's clock input. */
  readonly clock: string;
  readonly reset: { readonly net: string; readonly active: 0 | 1 } | undefined;
  /** Half clocks wanted after reset. */
  readonly halves: number;
  /** ns after power-up at which recording begins: shortly before reset is let go. */
  readonly startNs: number;
  /** s of a half clock, nominal. */
  readonly half: number;
}

/** Longest stretch before the release of reset that is kept, in half clocks. */
const BEFORE = 4096;

interface Trace {
  readonly ns: number[];
  readonly values: number[];
}

/** Predicts a run; undefined where the clock does not swing. */
export function predictTrace(circuit: Circuit, contents: SimContents, options: PredictOptions): Predicted | undefined {
  const wanted = [options.clock, ...(options.reset === undefined ? [] : [options.reset.net]), ...options.nets];
  const names: string[] = [];
  const seen = new Set<string>();
  for (const name of wanted) {
    if (seen.has(foldName(name))) continue;
    seen.add(foldName(name));
    names.push(name);
  }
  const traces: Trace[] = names.map(() => ({ ns: [], values: [] }));
  const session = new Session(circuit, contents, {
    watch: names,
    quiet: true,
    record: (ns, index, value) => {
      const trace = traces[index]!;
      trace.ns.push(ns);
      trace.values.push(value);
    },
  });
  const placeOf = new Map(session.watched.map((name, k) => [foldName(name), k]));
  const clock = placeOf.get(foldName(options.clock));
  if (clock === undefined) return undefined;
  const halfNs = options.half * 1e9;
  session.runTo(Math.max(0, options.startNs - 200 * halfNs));
  session.startRecording();
  const edges = traces[clock]!;
  session.runTo(Math.max(session.now, options.startNs) + (options.halves + 16) * halfNs);
  const count = edges.ns.length;
  if (count < 4) return undefined;
  const reset = options.reset === undefined ? undefined : placeOf.get(foldName(options.reset.net));
  const released = (trace: Trace, active: 0 | 1): number => {
    for (let k = 1; k < trace.ns.length; k++)
      if (levelOf(trace.values[k]!) === 1 - active && levelOf(trace.values[k - 1]!) === active) return trace.ns[k]!;
    return -1;
  };
  const letGo = reset === undefined ? -1 : released(traces[reset]!, options.reset!.active);
  // Entry 0 of `edges` is the level when recording began, and no edge.
  let release = -1;
  let first = 1;
  if (letGo >= 0) {
    while (first < count && edges.ns[first]! <= letGo) first++;
    // The half clock at whose end reset is released first.
    release = first - 1;
    first = Math.max(1, release - BEFORE);
  }
  const last = Math.min(count - 1, (release < 0 ? first : release) + options.halves);
  const halves = last - first;
  if (halves < 1) return undefined;
  return {
    halves,
    sinceReset: release < 0 ? null : first - release,
    firstHigh: levelOf(edges.values[first]!) === 1,
    half: options.half,
    nets: session.watched.map((net, index) => {
      const { ns, values } = traces[index]!;
      const level = new Uint8Array(halves);
      let at = 0;
      for (let h = 0; h < halves; h++) {
        const end = edges.ns[first + h + 1]!;
        while (at + 1 < ns.length && ns[at + 1]! < end) at++;
        level[h] = levelOf(values[at]!);
      }
      return { net, level };
    }),
  };
}

/** Values of the simulator (sim/values.ts): 1 high, 2 low, 0 floating, 3 not known. */
const levelOf = (value: number): number => (value === 1 ? 1 : value === 2 ? 0 : 2);
