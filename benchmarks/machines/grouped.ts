// Machines with the structure of real ones, by size, and planted ones of which a good layout is known. Seeded; for
// benchmarks and tests of placing and wiring.

import { createRng } from '../../src/base/index.ts';
import type { NetClass } from '../../src/netlist/index.ts';
import { type DraftMachine, type DraftPart, RECORDS } from './random-design.ts';

const WEIGHT: Readonly<Record<string, NetClass>> = {
  clock: { name: 'clock', colour: 'WH', weight: 4, longestMm: undefined, probeHole: false },
  strobe: { name: 'strobe', colour: 'VT', weight: 2, longestMm: undefined, probeHole: false },
};

/**
 * A machine of `chips` chips: processor groups (processor, two memories, address latch, decoder) with registers on their
 * data bus, each register feeding a neighbour; groups joined by a transceiver. Stages: core, memory, then the registers.
 */
export function groupedMachine(chips: number, seed = 1, withSmall = true, perGroup = 30): DraftMachine {
  const rng = createRng(seed);
  const parts: DraftPart[] = [];
  const classes = new Map<string, NetClass>();
  const buses = new Map<string, { name: string; bit: number }>();
  const groups = Math.max(1, Math.round(chips / perGroup));
  let made = 0;
  const chip = (name: string, record: DraftPart['record'], stage: number, nets: [number, string][]): DraftPart => {
    made++;
    const n = record.pins.length;
    const part: DraftPart = {
      name,
      record,
      stage,
      nets: new Map<number, string>([...nets, [n, 'main'], [n / 2, 'GND']]),
    };
    parts.push(part);
    if (withSmall)
      parts.push({
        name: `C-${name}`,
        record: RECORDS.capacitor,
        stage,
        implied: { kind: 'bypass', serves: name },
        nets: new Map([
          [1, 'main'],
          [2, 'GND'],
        ]),
      });
    return part;
  };
  const stages = 6;
  for (let g = 0; g < groups; g++) {
    const share = Math.floor((chips * (g + 1)) / groups) - Math.floor((chips * g) / groups);
    const end = made + share;
    const A = (i: number): string => `g${g}A${i}`;
    const D = (i: number): string => `g${g}D${i}`;
    for (let i = 0; i < 16; i++) buses.set(A(i), { name: `g${g}A`, bit: i });
    for (let i = 0; i < 8; i++) buses.set(D(i), { name: `g${g}D`, bit: i });
    classes.set(`g${g}CLK`, WEIGHT.clock!);
    classes.set(`g${g}/RD`, WEIGHT.strobe!);
    classes.set(`g${g}/WR`, WEIGHT.strobe!);
    const address = Array.from({ length: 16 }, (_, i) => [i < 10 ? 30 + i : i - 9, A(i)] as [number, string]);
    const cpuData = [14, 15, 12, 8, 7, 9, 10, 13].map((pin, i) => [pin, D(i)] as [number, string]);
    chip(`g${g}CPU`, RECORDS.dip40, 1, [
      ...address,
      ...cpuData,
      [16, `g${g}/RD`],
      [17, `g${g}/WR`],
      [18, `g${g}/MR`],
      [19, `g${g}/IO`],
      [22, `g${g}CLK`],
      [26, `g${g}RES`],
    ]);
    parts.push({
      name: `g${g}OSC`,
      record: RECORDS.can,
      stage: 1,
      nets: new Map([
        [7, 'GND'],
        [8, `g${g}CLK`],
        [14, 'main'],
      ]),
    });
    const memory = (name: string, select: string): void => {
      const a = [10, 9, 8, 7, 6, 5, 4, 3, 25, 24, 21, 23, 2, 26, 1].map((pin, i) => [pin, A(i)] as [number, string]);
      const d = [11, 12, 13, 15, 16, 17, 18, 19].map((pin, i) => [pin, D(i)] as [number, string]);
      chip(name, RECORDS.dip28, 2, [...a, ...d, [20, select], [22, `g${g}/RD`], [27, `g${g}/WR`]]);
    };
    if (made < end) memory(`g${g}ROM`, `g${g}/S0`);
    if (made < end) memory(`g${g}RAM`, `g${g}/S1`);
    const decoders = Math.max(1, Math.floor(share / 12));
    for (let k = 0; k < decoders && made < end; k++)
      chip(`g${g}SEL${k}`, RECORDS.dip16, 2, [
        [1, A(13)],
        [2, A(14)],
        [3, A(15)],
        [4, `g${g}/MR`],
        [5, `g${g}/IO`],
        ...[15, 14, 13, 12, 11, 10, 9, 7].map((pin, i) => [pin, `g${g}/S${k * 8 + i}`] as [number, string]),
      ]);
    let k = 0;
    while (made < end) {
      const stage = 3 + Math.floor((4 * k) / Math.max(1, share));
      if (k % 3 === 2) {
        // A package of gates between the outputs of the registers before it.
        const nets: [number, string][] = [];
        for (const [u, pins] of [
          [1, 2, 3],
          [4, 5, 6],
          [10, 9, 8],
          [13, 12, 11],
        ].entries()) {
          nets.push(
            [pins[0]!, `g${g}Q${k - 1}_${u}`],
            [pins[1]!, `g${g}Q${k - 2}_${u + 4}`],
            [pins[2]!, `g${g}Y${k}_${u}`],
          );
        }
        chip(`g${g}G${k}`, RECORDS.dip14, Math.min(stages, stage), nets);
      } else {
        const inputs = [2, 3, 4, 5, 6, 7, 8, 9].map(
          (pin, i) => [pin, k > 3 && k % 3 === 1 && i < 4 ? `g${g}Y${k - 2}_${i}` : D(i)] as [number, string],
        );
        const outputs = [19, 18, 17, 16, 15, 14, 13, 12].map((pin, i) => [pin, `g${g}Q${k}_${i}`] as [number, string]);
        chip(`g${g}U${k}`, RECORDS.dip20, Math.min(stages, stage), [
          ...inputs,
          ...outputs,
          [1, `g${g}/S${2 + (k % (decoders * 8 - 2))}`],
          [11, rng.below(3) === 0 ? `g${g}CLK` : `g${g}/WR`],
        ]);
      }
      k++;
    }
    if (g > 0) {
      // The groups hang together through a transceiver's worth of wires.
      parts.push({
        name: `g${g}LINK`,
        record: RECORDS.dip20,
        stage: stages,
        nets: new Map<number, string>([
          ...[2, 3, 4, 5, 6, 7, 8, 9].map((pin, i) => [pin, `g${g - 1}D${i}`] as [number, string]),
          ...[18, 17, 16, 15, 14, 13, 12, 11].map((pin, i) => [pin, D(i)] as [number, string]),
          [20, 'main'],
          [10, 'GND'],
        ]),
      });
    }
  }
  if (withSmall) {
    for (let i = 0; i < Math.max(2, Math.round(chips / 4)); i++) {
      const net = ['g0RES', 'g0/MR', 'g0/IO', 'g0/RD', 'g0/WR'][i] ?? `g${i % groups}D${i % 8}`;
      parts.push({
        name: `R${i}`,
        record: RECORDS.resistor,
        stage: 1,
        implied: { kind: 'pull', serves: net },
        nets: new Map([
          [1, 'main'],
          [2, net],
        ]),
      });
    }
  }
  return { name: `grouped ${chips}`, stages, parts, classes, buses };
}

/** Pin ends less nets: the number of wires that the nets need, supplies included. */
export function connectionsOf(machine: DraftMachine): number {
  const ends = new Map<string, number>();
  for (const part of machine.parts)
    for (const net of part.nets.values()) if (typeof net === 'string') ends.set(net, (ends.get(net) ?? 0) + 1);
  let sum = 0;
  for (const count of ends.values()) sum += count - 1;
  return sum;
}

/**
 * A planted machine: `rows` x `across` boards' worth of identical 20-pin drivers, `per` to a board, each net as short as a
 * net between two chips can be; scrambled. `length` is the cost of the planted placement in pitches on boards 24 pitches
 * apart: 13 down (row a of one board to row j of the next, over the rails), 3 across (one free column between parts).
 */
export function plantedMachine(
  rows: number,
  per: number,
  across: number,
  seed = 5,
): { machine: DraftMachine; length: number } {
  const parts: DraftPart[] = [];
  const name = (c: number, r: number, i: number): string => `U${c}_${r}_${i}`;
  const at = new Map<string, DraftPart>();
  let length = 0;
  for (let c = 0; c < across; c++)
    for (let r = 0; r < rows; r++)
      for (let i = 0; i < per; i++) {
        const part: DraftPart = {
          name: name(c, r, i),
          record: RECORDS.dip20,
          stage: 1,
          nets: new Map([
            [20, 'main'],
            [10, 'GND'],
          ]),
        };
        parts.push(part);
        at.set(part.name, part);
      }
  // Lower row: pins 1 to 10 from the left; upper row: pins 20 to 11. Six nets down, two to the right.
  for (let c = 0; c < across; c++)
    for (let r = 0; r < rows; r++)
      for (let i = 0; i < per; i++) {
        const here = at.get(name(c, r, i))!;
        if (r + 1 < rows)
          for (let pin = 3; pin <= 8; pin++) {
            const net = `v${c}_${r}_${i}_${pin}`;
            here.nets.set(pin, net);
            at.get(name(c, r + 1, i))!.nets.set(21 - pin, net);
            length += 13;
          }
        if (i + 1 < per) {
          const next = at.get(name(c, r, i + 1))!;
          here.nets.set(9, `l${c}_${r}_${i}`);
          next.nets.set(1, `l${c}_${r}_${i}`);
          here.nets.set(11, `h${c}_${r}_${i}`);
          next.nets.set(19, `h${c}_${r}_${i}`);
          length += 6;
        }
      }
  const rng = createRng(seed);
  for (let i = parts.length - 1; i > 0; i--) {
    const j = rng.below(i + 1);
    [parts[i], parts[j]] = [parts[j]!, parts[i]!];
  }
  return { machine: { name: 'planted', stages: 1, parts }, length };
}
