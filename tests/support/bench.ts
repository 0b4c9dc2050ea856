// A small machine shop for tests of steps and rework: full-size boards, parts with pins of chosen kinds, random machines in
// stages, and their layouts. Written apart from the board engine, so that it can disagree with it.

import { createRng, type Rng } from '../../src/base/index.ts';
import type { HoleName, Layout, PlacedPart, Wire } from '../../src/board/index.ts';
import type { Design, Net, Netlist, NetPart, NetPin, StageInfo } from '../../src/netlist/index.ts';
import type { PartRecord, PinKind } from '../../src/parts/index.ts';
import type { BenchRules } from '../../src/stage/index.ts';

const SPAN = { file: 'machine.yaml', start: 0, end: 0 };

/** Strip of a hole on full-size boards: five rows a-e or f-j of one of 63 columns; rails broken after column 31. */
export function stripOf(hole: HoleName): string | undefined {
  const plain = /^(\d+):(\d+)([a-j])$/.exec(hole);
  if (plain !== null) {
    const column = Number(plain[2]);
    if (column < 1 || column > 63) return undefined;
    return `${plain[1]}:${column}${plain[3]! <= 'e' ? 'a' : 'f'}`;
  }
  const rail = /^(\d+):([tb][+-])(\d+)$/.exec(hole);
  if (rail === null) return undefined;
  const column = Number(rail[3]);
  if (column < 3 || column > 62 || (column - 3) % 6 === 5) return undefined;
  return `${rail[1]}:${rail[2]}${column < 32 ? 3 : 33}`;
}

export interface TestPart {
  readonly name: string;
  readonly type: string;
  readonly kinds: readonly PinKind[];
  readonly stage: number;
  readonly until?: number;
  readonly value?: string;
  readonly holds?: string;
  readonly comesOut?: boolean;
  readonly temporary?: boolean;
}

export interface TestMachine {
  readonly stages: readonly string[];
  readonly parts: readonly TestPart[];
  /** Net to pins as [part, pin number]. */
  readonly nets: ReadonlyMap<string, readonly (readonly [string, number])[]>;
}

const record = (part: TestPart): PartRecord => {
  const two = part.kinds.length === 2;
  const made: unknown = {
    part: part.type,
    title: part.type,
    category: two ? 'discrete' : 'logic',
    package: two ? { kind: 'two-lead', pins: 2, span: [5, 40] } : { kind: 'dip', pins: part.kinds.length, width: 300 },
    pins: part.kinds.map((kind, i) => ({ number: i + 1, name: `P${i + 1}`, kind })),
    sources: {},
  };
  return made as PartRecord;
};

/** A design of a machine, by hand: no elaboration. `decl` fills in what a stage declares. */
export function designOf(machine: TestMachine, decl: Partial<Record<string, Partial<StageInfo['decl']>>> = {}): Design {
  const stages: StageInfo[] = machine.stages.map((name, i) => ({
    number: i + 1,
    name,
    decl: {
      name,
      adds: [],
      removes: [],
      replaces: [],
      moves: [],
      temporary: [],
      leads: [],
      programs: [],
      notes: [],
      prove: [],
      span: SPAN,
      ...decl[name],
    },
  }));
  const origin = { by: 'net' as const, text: 'test' };
  const netlists: Netlist[] = [{ stage: 0, parts: [], pins: [], nets: [] }];
  for (const { number: stage } of stages) {
    const on = machine.parts.filter((p) => p.stage <= stage && (p.until === undefined || stage < p.until));
    const pins: NetPin[] = [];
    const parts: NetPart[] = on.map((p, id) => {
      const ids = p.kinds.map((kind, i) => {
        const pinId = pins.length;
        pins.push({
          id: pinId,
          part: id,
          number: i + 1,
          name: `P${i + 1}`,
          ref: `${p.name}.P${i + 1}`,
          kind,
          net: -1,
          open: false,
          origin: undefined,
        });
        return pinId;
      });
      return {
        id,
        name: p.name,
        type: p.type,
        record: record(p),
        family: undefined,
        grade: undefined,
        value: p.value,
        holds: p.holds,
        comesOut: p.comesOut ?? false,
        implied: undefined,
        stage: p.stage,
        until: p.until,
        temporary: p.temporary ?? false,
        origin,
        pins: ids,
      };
    });
    const byName = new Map(parts.map((p) => [p.name, p]));
    const nets: Net[] = [];
    for (const [name, refs] of machine.nets) {
      const ids = refs.flatMap(([part, pin]) => {
        const there = byName.get(part);
        return there === undefined ? [] : [there.pins[pin - 1]!];
      });
      if (ids.length === 0) continue;
      const id = nets.length;
      const bit = /^([AD])(\d+)$/.exec(name);
      nets.push({
        id,
        name,
        kind: name === 'GND' ? 'ground' : name === 'main' ? 'supply' : 'signal',
        derived: false,
        origin,
        pins: ids,
        bus: bit === null ? undefined : { name: bit[1]!, bit: Number(bit[2]) },
        netClass: undefined,
      });
      for (const pin of ids) pins[pin] = { ...pins[pin]!, net: id };
    }
    netlists.push({ stage, parts, pins, nets });
  }
  return {
    name: 'Weir keeper',
    stages,
    netlists,
    map: [],
    devices: [],
    leads: [],
    supplies: [{ name: 'main', volts: 5, tolerance: 0.05, limitAmps: 1 }],
    clocks: [],
  };
}

export const ENTRIES = [{ supply: 'main', plus: '1:t+3', ground: '1:t-3' }] as const;

export function rulesOf(machine: TestMachine): BenchRules {
  const kinds = new Map(machine.parts.map((p) => [p.type, p.kinds]));
  return { stripOf, pinKind: (type, pin) => kinds.get(type)?.[pin - 1], entries: ENTRIES };
}

/** A random machine of chips in stages: supply pins last and middle, nets with one driver each, straps through resistors. */
export function randomMachine(seed: number, chips: number, stageCount = 3): TestMachine {
  const rng = createRng(seed);
  const parts: TestPart[] = [];
  const nets = new Map<string, (readonly [string, number])[]>([
    ['GND', []],
    ['main', []],
  ]);
  const outputs: [string, number, number][] = [];
  const inputs: [string, number, number][] = [];
  for (let i = 0; i < chips; i++) {
    const half = 4 + rng.below(4);
    const stage = 1 + Math.floor((i * stageCount) / chips);
    const kinds: PinKind[] = [];
    for (let p = 1; p <= 2 * half; p++) {
      if (p === half) kinds.push('ground');
      else if (p === 2 * half) kinds.push('supply');
      else kinds.push(rng.below(3) === 0 ? (rng.below(2) === 0 ? 'output' : 'three-state') : 'input');
    }
    const name = `U${i + 1}`;
    parts.push({ name, type: `T${i + 1}-${2 * half}`, kinds, stage });
    nets.get('GND')!.push([name, half]);
    nets.get('main')!.push([name, 2 * half]);
    kinds.forEach((kind, p) => {
      if (kind === 'input') inputs.push([name, p + 1, stage]);
      else if (kind !== 'ground' && kind !== 'supply') outputs.push([name, p + 1, stage]);
    });
  }
  outputs.forEach(([part, pin, stage], i) => {
    const name = i < 8 ? `A${i}` : i < 16 ? `D${i - 8}` : `n${i}`;
    const net: (readonly [string, number])[] = [[part, pin]];
    const fan = 1 + rng.below(3);
    for (let k = 0; k < fan && inputs.length > 0; k++) {
      const [p, n] = inputs.splice(rng.below(inputs.length), 1)[0]!;
      net.push([p, n]);
    }
    nets.set(name, net);
    if (rng.below(5) === 0 && stage < stageCount) {
      const strap = `RS${i}`;
      parts.push({
        name: strap,
        type: 'resistor',
        kinds: ['passive', 'passive'],
        stage,
        until: stage + 1,
        value: '2.2 kohm',
        temporary: true,
      });
      net.push([strap, 1]);
      nets.get('GND')!.push([strap, 2]);
    }
  });
  return { stages: Array.from({ length: stageCount }, (_, i) => `stage ${i + 1}`), parts, nets };
}

/** Lays a machine out: chips in random order and places, nets as chains in order of stage. `seed` makes another layout. */
export function layOut(machine: TestMachine, seed: number, boards = 3): Layout {
  const rng = createRng(seed);
  const taken = new Set<HoleName>();
  const placed: PlacedPart[] = [];
  const holeOf = new Map<string, HoleName>();
  const stageOf = new Map(machine.parts.map((p) => [p.name, p]));
  const freeIn = (strip: string): HoleName | undefined => {
    const [, board, column, row] = /^(\d+):(\d+)([af])$/.exec(strip)!;
    for (const letter of row === 'a' ? 'abcde' : 'jihgf') {
      const hole = `${board}:${column}${letter}`;
      if (!taken.has(hole)) return hole;
    }
    return undefined;
  };
  const railHole = (board: number, rail: string, near: number): HoleName => {
    for (let d = 0; d < 63; d++)
      for (const column of [near - d, near + d]) {
        const hole = `${board}:${rail}${column}`;
        if (column > 3 && column < 62 && stripOf(hole) !== undefined && !taken.has(hole) && column !== 4 && column < 60)
          return hole;
      }
    throw new Error('no rail hole left');
  };
  const chips = machine.parts.filter((p) => p.kinds.length > 2);
  const order = [...chips];
  for (let i = order.length - 1; i > 0; i--) {
    const j = rng.below(i + 1);
    [order[i], order[j]] = [order[j]!, order[i]!];
  }
  const next = Array.from({ length: boards }, () => 1 + rng.below(4));
  for (const chip of order) {
    const half = chip.kinds.length / 2;
    let board = rng.below(boards);
    for (let tries = 0; tries < boards && next[board]! + half > 62; tries++) board = (board + 1) % boards;
    if (next[board]! + half > 62) throw new Error('boards are full');
    const at = next[board]!;
    next[board] = at + half + rng.below(3);
    const turned = rng.below(4) === 0;
    const leads = chip.kinds.map((_, i) => {
      const k = turned ? (i + half) % (2 * half) : i;
      const hole = k < half ? `${board + 1}:${at + k}e` : `${board + 1}:${at + 2 * half - 1 - k}f`;
      taken.add(hole);
      holeOf.set(`${chip.name} ${i + 1}`, hole);
      return { number: i + 1, hole };
    });
    placed.push({
      part: chip.name,
      type: chip.type,
      rotation: turned ? 180 : 0,
      leads,
      stage: chip.stage,
      until: chip.until,
      fixed: false,
    });
  }
  const wires: Wire[] = [];
  const add = (net: string, from: HoleName, to: HoleName, stage: number, until?: number): void => {
    taken.add(from);
    taken.add(to);
    const length = 10 + 2.5 * rng.below(12);
    const colour = net === 'GND' ? 'BK' : net === 'main' ? 'RD' : /^A\d/.test(net) ? 'BU' : 'OG';
    wires.push({
      id: `${net}:${[from, to].sort().join('-')}`,
      net,
      from,
      to,
      cutMm: length,
      colour,
      style: 'flat',
      stage,
      until,
      temporary: false,
      lead: undefined,
      path: undefined,
    });
  };
  for (const [rail, net] of [
    ['t+', 'main'],
    ['t-', 'GND'],
  ] as const) {
    for (let b = 1; b <= boards; b++) {
      add(net, `${b}:${rail}31`, `${b}:${rail}33`, 1);
      if (b > 1) add(net, `${b - 1}:${rail}61`, `${b}:${rail}4`, 1);
    }
  }
  for (const [net, refs] of machine.nets) {
    const pins = refs
      .filter(([part]) => stageOf.get(part)!.kinds.length > 2)
      .map(([part, pin]) => ({ stage: stageOf.get(part)!.stage, strip: stripOf(holeOf.get(`${part} ${pin}`)!)! }))
      .sort((a, b) => a.stage - b.stage);
    if (net === 'GND' || net === 'main') {
      for (const pin of pins) {
        const [board, column] = pin.strip.split(':');
        const rail = railHole(Number(board), net === 'GND' ? 't-' : 't+', Number.parseInt(column!, 10));
        add(net, freeIn(pin.strip)!, rail, pin.stage);
      }
      continue;
    }
    for (let i = 1; i < pins.length; i++)
      add(net, freeIn(pins[i - 1]!.strip)!, freeIn(pins[i]!.strip)!, pins[i]!.stage);
    for (const [part] of refs) {
      const strap = stageOf.get(part)!;
      if (strap.kinds.length !== 2) continue;
      const strip = pins[0]!.strip;
      const [board, column] = strip.split(':');
      const leads = [
        { number: 1, hole: freeIn(strip)! },
        { number: 2, hole: railHole(Number(board), 't-', Number.parseInt(column!, 10)) },
      ];
      for (const lead of leads) taken.add(lead.hole);
      placed.push({
        part,
        type: strap.type,
        rotation: 0,
        leads,
        stage: strap.stage,
        until: strap.until,
        fixed: false,
      });
    }
  }
  return {
    format: 1,
    machine: 'Weir keeper',
    seed,
    boards: Array.from({ length: boards }, (_, i) => ({ board: i + 1, kind: 'full', x: 0, y: 60.96 * i })),
    parts: placed,
    wires,
    entries: ENTRIES.map((entry) => ({ ...entry })),
  };
}

/** Picks one of a list. */
export function pick<T>(rng: Rng, list: readonly T[]): T {
  return list[rng.below(list.length)]!;
}
