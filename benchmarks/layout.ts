// Placing and wiring: time, and how good the result is against what can be known. Lengths are in pitches of 2.54 mm, as
// columns apart plus rows apart between holes ("over": wires take no room), unless said; cost is length weighted by class.

import { createRng } from '../src/base/index.ts';
import { lay, type LayoutChoices, NO_CHOICES, openEditor, placementCost, wiringTotals } from '../src/board/index.ts';
import { connectionsOf, groupedMachine, plantedMachine } from './machines/grouped.ts';
import { designOf } from './machines/random-design.ts';

/**
 * Best placement costs known, in weighted pitches: grouped 60 from ten runs of 20 million moves on 31 boards (20,157 to
 * 20,767).
 */
const BEST_KNOWN: Readonly<Record<string, number>> = { 'grouped 60': 20_157 };

const say = (text: string): void => {
  process.stdout.write(`${text}\n`);
};
/** Seconds of the processor, which a busy machine changes less than those of the clock. */
const seconds = <T>(work: () => T): [T, number] => {
  const start = process.cpuUsage();
  const value = work();
  const { user, system } = process.cpuUsage(start);
  return [value, (user + system) / 1e6];
};

for (const [chips, seeds] of [
  [12, 3],
  [60, 2],
] as const) {
  const machine = groupedMachine(chips, 1, true, chips === 60 ? 4 : 30);
  const design = designOf(machine);
  for (let seed = 1; seed <= seeds; seed++) {
    const [{ value, findings }, time] = seconds(() => lay(design, NO_CHOICES, undefined, { seed }));
    const cost = placementCost(design, NO_CHOICES, value);
    const totals = wiringTotals(design, NO_CHOICES, value);
    const best = BEST_KNOWN[machine.name] ?? 0;
    const flat = value.wires.filter((wire) => wire.style !== 'arched').length;
    say(
      `${machine.name}, ${connectionsOf(machine)} connections, seed ${seed}: ${time.toFixed(1)} s, ${findings.length} findings, ` +
        `${value.boards.length} boards, ${value.wires.length} wires, ${flat} flat, cost ${cost}` +
        `${best > 0 ? ` (${(cost / best).toFixed(3)} of the best known)` : ''}, ` +
        `wires between strips ${totals.length} pitches, ${(totals.length / totals.bound).toFixed(3)} of the sum of shortest trees, ` +
        `${Math.round(process.memoryUsage().rss / 1e6)} MB`,
    );
    if (seed === 1) {
      const once = designOf({ ...machine, stages: 1, parts: machine.parts.map((part) => ({ ...part, stage: 1 })) });
      const atOnce = lay(once, NO_CHOICES, undefined, { seed });
      const staged = totals.length;
      const whole = wiringTotals(once, NO_CHOICES, atOnce.value).length;
      say(`  stage by stage against the layout made at once: ${(staged / whole).toFixed(3)}`);
    }
  }
  if (chips === 60) {
    const laid = lay(design, NO_CHOICES, undefined, { seed: 1, moves: 400_000 }).value;
    const editor = openEditor(design, NO_CHOICES, laid).value;
    const rng = createRng(3);
    const times: number[] = [];
    let refused = 0;
    for (let i = 0; i < 200; i++) {
      const parts = editor.layout().parts.filter((part) => part.leads.length > 3);
      const part = parts[rng.below(parts.length)]!;
      const first = part.leads[0]!.hole;
      const [board, column] = first.slice(0, -1).split(':').map(Number);
      const at =
        i % 3 === 0
          ? `${board}:${Math.max(1, column! + rng.below(7) - 3)}${first.slice(-1)}`
          : `${1 + rng.below(laid.boards.length)}:${1 + rng.below(63)}${first.slice(-1)}`;
      const [result, time] = seconds(() => editor.move({ part: part.part, at }));
      if (result.value.moved) times.push(time * 1000);
      else refused++;
    }
    times.sort((a, b) => a - b);
    say(
      `  drags, each proved: ${times.length} made, ${refused} refused, median ${times[times.length >> 1]!.toFixed(1)} ms, ` +
        `95th percentile ${times[Math.floor(times.length * 0.95)]!.toFixed(1)} ms; ${editor.prove().length} findings after all`,
    );
  }
}

for (const [rows, per, across] of [
  [4, 3, 2],
  [5, 4, 3],
] as const) {
  const { machine, length } = plantedMachine(rows, per, across);
  const boards: LayoutChoices['boards'] = Array.from({ length: across * (rows + 2) }, (_, i) => ({
    kind: 'full',
    column: (i % across) + 1,
    row: Math.floor(i / across) + 1,
  }));
  const choices = { ...NO_CHOICES, boards };
  const design = designOf(machine);
  const [{ value }, time] = seconds(() => lay(design, choices, undefined, { seed: 1, moves: 6_000_000 }));
  say(
    `planted ${rows * per * across}: ${(placementCost(design, choices, value) / length).toFixed(3)} of the planted length, ${time.toFixed(1)} s`,
  );
}
