// Machines made up by a seeded generator, straight as elaborated designs: chips of several widths, buses, odd packages,
// capacitors, pull-ups, LEDs, straps that come out, parts that are removed or replaced, nets that change from stage to stage.
// For tests and benchmarks of placing and wiring; electrically they mean nothing.

import { createRng, type Rng } from '../../src/base/index.ts';
import type { Design, Implied, LeadHook, Net, NetClass, Netlist, NetPart, NetPin } from '../../src/netlist/index.ts';
import type { PartRecord } from '../../src/parts/index.ts';

export interface DraftPart {
  name: string;
  record: PartRecord;
  stage: number;
  until?: number | undefined;
  implied?: Implied | undefined;
  temporary?: boolean;
  /** Pin number to net name; a list where it changes with the stages: [from stage, net]. */
  nets: Map<number, string | undefined | (readonly [number, string | undefined])[]>;
}

export interface DraftMachine {
  name: string;
  stages: number;
  parts: DraftPart[];
  classes?: Map<string, NetClass>;
  buses?: Map<string, { name: string; bit: number }>;
  leads?: LeadHook[];
  supplies?: string[];
}

const SOURCES = { pins: 'made up' };

/** A record with pins 1..n, all bidirectional but for the supply pins given. */
export function chipRecord(
  part: string,
  pins: number,
  pack: {
    kind: string;
    pins?: number;
    width?: number;
    only?: number[];
    leads?: Record<string, [number, number]>;
    span?: [number, number];
    body?: { length: number; width: number };
  },
  extra: Partial<PartRecord> = {},
): PartRecord {
  const numbers =
    pack.only ??
    (pack.leads === undefined ? Array.from({ length: pins }, (_, i) => i + 1) : Object.keys(pack.leads).map(Number));
  return {
    part,
    title: part,
    category: 'logic',
    package: { ...pack, pins: pack.pins ?? pins },
    pins: numbers.map((number) => ({ number, name: `P${number}`, kind: 'bidirectional' as const })),
    sources: SOURCES,
    ...extra,
  } as unknown as PartRecord;
}

export const RECORDS = {
  dip14: chipRecord('D14', 14, { kind: 'dip', width: 300 }),
  dip16: chipRecord('D16', 16, { kind: 'dip', width: 300 }),
  dip20: chipRecord('D20', 20, { kind: 'dip', width: 300 }),
  dip22: chipRecord('D22', 22, { kind: 'dip', width: 400 }),
  dip28: chipRecord('D28', 28, { kind: 'dip', width: 600 }),
  dip40: chipRecord('D40', 40, { kind: 'dip', width: 600 }),
  dip64: chipRecord('D64', 64, { kind: 'dip', width: 900 }),
  can: chipRecord('CAN', 14, { kind: 'dip', width: 300, only: [1, 7, 8, 14], body: { length: 20.8, width: 13.2 } }),
  sip6: chipRecord('S6', 6, { kind: 'sip' }),
  sip9: chipRecord('S9', 9, { kind: 'sip' }),
  to92: chipRecord('T92', 3, { kind: 'to-92' }),
  to220: chipRecord('T220', 3, { kind: 'to-220' }),
  resistor: chipRecord('R', 2, { kind: 'two-lead', span: [7.5, 20], body: { length: 6.3, width: 2.4 } }),
  capacitor: chipRecord('C', 2, { kind: 'two-lead', span: [2.5, 7.7], body: { length: 4, width: 2.5 } }),
  electrolytic: chipRecord('CE', 2, { kind: 'two-lead', span: [2.5, 5.1], body: { length: 6.3, width: 6.3 } }),
  led: chipRecord('LED', 2, { kind: 'two-lead', span: [2.5, 2.6], body: { length: 5, width: 5 } }),
  button: chipRecord(
    'BTN',
    4,
    { kind: 'grid', leads: { 1: [0, 0], 2: [2, 0], 3: [0, 3], 4: [2, 3] } },
    {
      joined: [
        [1, 2],
        [3, 4],
      ],
    },
  ),
  digit: chipRecord('DIG', 10, {
    kind: 'grid',
    leads: {
      1: [0, 0],
      2: [1, 0],
      3: [2, 0],
      4: [3, 0],
      5: [4, 0],
      6: [4, -6],
      7: [3, -6],
      8: [2, -6],
      9: [1, -6],
      10: [0, -6],
    },
  }),
} satisfies Record<string, PartRecord>;

/** The design of a draft: a netlist for every stage. */
export function designOf(draft: DraftMachine): Design {
  const origin = { by: 'part' as const, text: 'made up' };
  const netlists: Netlist[] = [];
  for (let stage = 0; stage <= draft.stages; stage++) {
    const parts: NetPart[] = [];
    const pins: NetPin[] = [];
    const nets: { name: string; pins: number[] }[] = [];
    const netId = new Map<string, number>();
    for (const part of draft.parts) {
      if (part.stage > stage || (part.until !== undefined && stage >= part.until)) continue;
      const id = parts.length;
      const own: number[] = [];
      for (const row of part.record.pins) {
        const entry = part.nets.get(row.number);
        let name: string | undefined;
        if (Array.isArray(entry)) {
          for (const [from, net] of entry) if (from <= stage) name = net;
        } else name = entry as string | undefined;
        let net = -1;
        if (name !== undefined) {
          net = netId.get(name) ?? -1;
          if (net < 0) {
            net = nets.length;
            netId.set(name, net);
            nets.push({ name, pins: [] });
          }
          nets[net]!.pins.push(pins.length);
        }
        own.push(pins.length);
        pins.push({
          id: pins.length,
          part: id,
          number: row.number,
          name: row.name,
          ref: `${part.name}.${row.name}`,
          kind: row.kind,
          net,
          open: net < 0,
          origin,
        });
      }
      parts.push({
        id,
        name: part.name,
        type: part.record.part,
        record: part.record,
        family: undefined,
        grade: undefined,
        value: undefined,
        holds: undefined,
        comesOut: false,
        implied: part.implied,
        stage: part.stage,
        until: part.until,
        temporary: part.temporary ?? false,
        origin,
        pins: own,
      });
    }
    netlists.push({
      stage,
      parts,
      pins,
      nets: nets.map(
        (net, id): Net => ({
          id,
          name: net.name,
          kind: net.name === 'GND' ? 'ground' : (draft.supplies ?? ['main']).includes(net.name) ? 'supply' : 'signal',
          derived: false,
          origin,
          pins: net.pins,
          bus: draft.buses?.get(net.name),
          netClass: draft.classes?.get(net.name),
        }),
      ),
    });
  }
  return {
    name: draft.name,
    stages: Array.from({ length: draft.stages }, (_, i) => ({
      number: i + 1,
      name: `stage ${i + 1}`,
      decl: undefined as never,
    })),
    netlists,
    map: [],
    devices: [],
    leads: draft.leads ?? [],
    supplies: (draft.supplies ?? ['main']).map((name) => ({ name, volts: 5, tolerance: 0.05, limitAmps: 1 })),
    clocks: [],
  };
}

export interface RandomOptions {
  readonly chips: number;
  readonly stages?: number;
  /** Include removals, replacements, nets that change, straps. */
  readonly changes?: boolean;
  /** Include odd packages. */
  readonly odd?: boolean;
  /** No capacitors and other small parts. */
  readonly bare?: boolean;
}

/** A random machine. */
export function randomMachine(seed: number, options: RandomOptions): DraftMachine {
  const rng = createRng(seed);
  const stages = options.stages ?? 4;
  const pick = <T>(list: readonly T[]): T => list[rng.below(list.length)]!;
  const parts: DraftPart[] = [];
  const classes = new Map<string, NetClass>();
  const buses = new Map<string, { name: string; bit: number }>();
  const shapes = [RECORDS.dip14, RECORDS.dip16, RECORDS.dip20, RECORDS.dip28, RECORDS.dip40];
  const add = (part: DraftPart): DraftPart => {
    parts.push(part);
    return part;
  };
  const cap = (chip: DraftPart, plus = 'main'): void => {
    if (options.bare) return;
    add({
      name: `C-${chip.name}`,
      record: RECORDS.capacitor,
      stage: chip.stage,
      until: chip.until,
      implied: { kind: 'bypass', serves: chip.name },
      nets: new Map([
        [1, plus],
        [2, 'GND'],
      ]),
    });
  };
  const dips: DraftPart[] = [];
  for (let i = 0; i < options.chips; i++) {
    const record = i === 0 ? RECORDS.dip40 : pick(shapes);
    const n = record.pins.length;
    const chip = add({
      name: `U${i + 1}`,
      record,
      stage: i === 0 ? 1 : 1 + rng.below(stages),
      nets: new Map<number, string>([
        [n, 'main'],
        [n / 2, 'GND'],
      ]),
    });
    dips.push(chip);
    cap(chip);
  }
  const free = new Map<DraftPart, number[]>();
  for (const chip of dips) {
    const n = chip.record.pins.length;
    const list = chip.record.pins.map((pin) => pin.number).filter((number) => number !== n && number !== n / 2);
    shuffle(rng, list);
    free.set(chip, list);
  }
  const connect = (chip: DraftPart, net: string): boolean => {
    const number = free.get(chip)!.pop();
    if (number === undefined) return false;
    chip.nets.set(number, net);
    return true;
  };
  // A bus over most big chips.
  const members = dips.filter((chip) => chip.record.pins.length >= 20);
  for (let bit = 0; bit < 8; bit++) {
    buses.set(`D${bit}`, { name: 'D', bit });
    for (const chip of members) connect(chip, `D${bit}`);
  }
  // Local nets of 2 to 4 pins.
  let count = 0;
  for (const chip of dips) {
    let own = Math.floor((free.get(chip)!.length * 2) / 3);
    while (own-- > 0) {
      const others = dips.filter((other) => other !== chip && free.get(other)!.length > 0);
      if (others.length === 0 || free.get(chip)!.length === 0) break;
      const net = `n${count++}`;
      connect(chip, net);
      for (let k = 1 + rng.below(rng.below(3) + 1); k > 0; k--) connect(pick(others), net);
      if (rng.below(12) === 0)
        classes.set(net, {
          name: 'strobe',
          colour: 'VT',
          weight: 2,
          longestMm: undefined,
          probeHole: rng.below(2) === 0,
        });
    }
  }
  if (!options.bare) {
    for (let i = 0; i < Math.ceil(options.chips / 4); i++) {
      const net = `n${rng.below(Math.max(1, count))}`;
      const part = parts.find((p) => [...p.nets.values()].includes(net));
      if (part === undefined) continue;
      add({
        name: `R-PULL${i}`,
        record: RECORDS.resistor,
        stage: part.stage,
        implied: { kind: 'pull', serves: net },
        nets: new Map([
          [1, 'main'],
          [2, net],
        ]),
      });
    }
    add({
      name: 'C-BULK',
      record: RECORDS.electrolytic,
      stage: 1,
      implied: { kind: 'bulk', serves: 'main' },
      nets: new Map([
        [1, 'main'],
        [2, 'GND'],
      ]),
    });
    if (count > 0) {
      add({
        name: 'LED1',
        record: RECORDS.led,
        stage: stages,
        nets: new Map([
          [1, 'n0'],
          [2, 'led-k'],
        ]),
      });
      add({
        name: 'R-LED1',
        record: RECORDS.resistor,
        stage: stages,
        implied: { kind: 'series', serves: 'LED1' },
        nets: new Map([
          [1, 'led-k'],
          [2, 'GND'],
        ]),
      });
    }
  }
  if (options.odd) {
    const nets = new Map<number, string>();
    for (let n = 1; n <= 8; n++) nets.set(n, `D${n - 1}`);
    nets.set(9, 'main');
    add({ name: 'RN1', record: RECORDS.sip9, stage: Math.min(2, stages), nets });
    add({
      name: 'HDR',
      record: RECORDS.sip6,
      stage: stages,
      nets: new Map([
        [1, 'GND'],
        [2, 'n1'],
        [3, 'main'],
        [4, 'n2'],
      ]),
    });
    add({
      name: 'Q1',
      record: RECORDS.to92,
      stage: 1,
      nets: new Map([
        [1, 'n0'],
        [2, 'main'],
        [3, 'GND'],
      ]),
    });
    add({
      name: 'REG',
      record: RECORDS.to220,
      stage: 1,
      nets: new Map([
        [1, 'n3'],
        [2, 'GND'],
        [3, 'main'],
      ]),
    });
    add({
      name: 'BUTTON',
      record: RECORDS.button,
      stage: 1,
      nets: new Map([
        [1, 'n0'],
        [3, 'GND'],
      ]),
    });
    add({
      name: 'OSC',
      record: RECORDS.can,
      stage: 1,
      nets: new Map([
        [7, 'GND'],
        [8, 'n4'],
        [14, 'main'],
      ]),
    });
    add({
      name: 'DIGIT',
      record: RECORDS.digit,
      stage: stages,
      nets: new Map([
        [1, 'D0'],
        [2, 'D1'],
        [3, 'GND'],
        [8, 'GND'],
      ]),
    });
    add({
      name: 'WIDE',
      record: RECORDS.dip22,
      stage: stages,
      nets: new Map([
        [1, 'D3'],
        [2, 'n5'],
        [11, 'GND'],
        [22, 'main'],
      ]),
    });
  }
  if (options.changes && stages >= 3) {
    // A chip comes out, another is replaced under its name, a pin moves to another net, straps come and go.
    const going = dips[1 + rng.below(Math.max(1, dips.length - 1))];
    if (going !== undefined && going !== dips[0]) {
      going.stage = 1;
      going.until = 3;
      for (const part of parts) if (part.name === `C-${going.name}`) Object.assign(part, { stage: 1, until: 3 });
      if (rng.below(2) === 0) {
        const again = add({ ...going, stage: 3, until: undefined, nets: new Map(going.nets) });
        const number = free.get(going)![0];
        if (number !== undefined) again.nets.set(number, 'n0');
        cap(again);
      }
    }
    const cpu = dips[0]!;
    for (const [number, net] of cpu.nets) {
      if (net === 'n0') {
        cpu.nets.set(number, [
          [1, 'n0'],
          [3, 'n1'],
        ]);
        break;
      }
    }
    for (let bit = 0; bit < 4; bit++) {
      add({
        name: `R-STRAP-D${bit}`,
        record: RECORDS.resistor,
        stage: 1,
        until: 2 + rng.below(2),
        temporary: true,
        implied: { kind: 'strap', serves: `D${bit}` },
        nets: new Map([
          [1, bit % 2 === 0 ? 'GND' : 'main'],
          [2, `D${bit}`],
        ]),
      });
    }
  }
  return { name: `random ${seed}`, stages, parts, classes, buses };
}

function shuffle(rng: Rng, list: number[]): void {
  for (let i = list.length - 1; i > 0; i--) {
    const j = rng.below(i + 1);
    [list[i], list[j]] = [list[j]!, list[i]!];
  }
}

/** Shorthand: the design of a random machine. */
export function randomDesign(seed: number, options: RandomOptions): Design {
  return designOf(randomMachine(seed, options));
}
