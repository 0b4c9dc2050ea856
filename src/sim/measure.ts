// What an instrument shows at each net of a running machine: its level where it stands still, else frequency and duty; and of
// address lines also what they show gated by fetches, since a Z80 puts refresh addresses on the low ones between them.

import type { Circuit } from './circuit/circuit.ts';
import type { SimContents, SimLevel, SimNetlist } from './model.ts';
import { processorNets } from './proof-terms.ts';
import { resetNs } from './proofs.ts';
import { Session } from './session.ts';
import { HIGH, LOW, levelOf } from './values.ts';

export interface MeasuredNet {
  readonly net: string;
  /** Level over the whole window, where it has no edges. */
  readonly level?: SimLevel;
  /** Rising edges a second over the window, and the part of the time it is high; of known levels only. */
  readonly frequencyHz?: number;
  readonly dutyPercent?: number;
  /** Part of the time at which it floats or is not known, percent. */
  readonly unsurePercent?: number;
  /** What it shows when sampled at the fetches only. */
  readonly atFetches?: { readonly gate: string; readonly level?: SimLevel; readonly frequencyHz?: number };
}

/** Measures nets over `windowNs` after reset. */
export function measureNets(
  netlist: SimNetlist,
  circuit: Circuit,
  contents: SimContents,
  windowNs: number,
): { readonly nets: readonly MeasuredNet[]; readonly session: Session } {
  const names = circuit.nets.filter((name) => !name.startsWith('.'));
  const count = names.length;
  const processor = processorNets(netlist, circuit);
  const rises = new Float64Array(count);
  const edges = new Float64Array(count);
  const high = new Float64Array(count);
  const unsure = new Float64Array(count);
  const last = new Float64Array(count);
  const value = new Uint8Array(count);
  const sampled = new Uint8Array(count);
  const turns = new Float64Array(count);
  let isOn = false;
  let fetches = 0;
  let fetch = -1;
  let read = -1;
  let lines: number[] = [];
  const record = (ns: number, index: number, now: number): void => {
    if (isOn) {
      const before = value[index]!;
      if (before === HIGH) high[index]! += ns - last[index]!;
      else if (before !== LOW) unsure[index]! += ns - last[index]!;
      edges[index]!++;
      if (before === LOW && now === HIGH) rises[index]!++;
      if (index === read && now === LOW && value[fetch] === LOW) {
        fetches++;
        for (const line of lines) {
          if (fetches > 1 && sampled[line] !== value[line]) turns[line]!++;
          sampled[line] = value[line]!;
        }
      }
    }
    last[index] = ns;
    value[index] = now;
  };
  const session = new Session(circuit, contents, { watch: names, record, quiet: true });
  const place = (name: string | undefined): number => (name === undefined ? -1 : session.watched.indexOf(name));
  fetch = place(processor?.fetch);
  read = place(processor?.read);
  lines = (processor?.address ?? []).map(place);
  session.runTo(resetNs(netlist));
  const start = session.now;
  session.startRecording();
  isOn = true;
  last.fill(start);
  session.runTo(start + windowNs);
  const end = session.now;
  const nets = names.map((net, k): MeasuredNet => {
    if (value[k] === HIGH) high[k]! += end - last[k]!;
    else if (value[k] !== LOW) unsure[k]! += end - last[k]!;
    const seconds = (end - start) / 1e9;
    const gate =
      fetches > 1 && lines.includes(k)
        ? {
            atFetches: {
              gate: `${processor!.fetch} low at the fall of ${processor!.read}`,
              ...(turns[k] === 0 ? { level: levelOf(sampled[k]!) } : { frequencyHz: turns[k]! / 2 / seconds }),
            },
          }
        : {};
    if (edges[k] === 0) return { net, level: levelOf(value[k]!), ...gate };
    const sure = end - start - unsure[k]!;
    return {
      net,
      frequencyHz: rises[k]! / seconds,
      ...(sure > 0 ? { dutyPercent: (high[k]! / sure) * 100 } : {}),
      ...(unsure[k]! > 0 ? { unsurePercent: (unsure[k]! / (end - start)) * 100 } : {}),
      ...gate,
    };
  });
  return { nets, session };
}

/** What a net shows first: its level as reset is let go, and its changes from there. */
export interface FirstChanges {
  readonly net: string;
  readonly level: SimLevel;
  /** ns after the supervisors let go (typical times), and the level from there on. */
  readonly changes: readonly { readonly ns: number; readonly level: SimLevel }[];
}

/** The first `ns` after the supervisors let go of reset, net by net. */
export function firstChanges(
  netlist: SimNetlist,
  circuit: Circuit,
  contents: SimContents,
  names: readonly string[],
  ns: number,
): FirstChanges[] {
  const session = new Session(circuit, contents, { watch: names, quiet: true });
  const start = Math.max(0, resetNs(netlist) - 1e6);
  session.runTo(start);
  session.startRecording();
  session.runTo(start + ns);
  const shown = session.watched.map(
    (net): { net: string; level: SimLevel; changes: { ns: number; level: SimLevel }[] } => ({
      net,
      level: 'X',
      changes: [],
    }),
  );
  const seen = new Set<number>();
  for (const change of session.changes) {
    const entry = shown[change.net]!;
    if (seen.has(change.net)) entry.changes.push({ ns: change.ns - start, level: change.level });
    else entry.level = change.level;
    seen.add(change.net);
  }
  return shown;
}
