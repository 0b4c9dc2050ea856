// Builds a design and its layout from a few lines: chips at given columns, nets as lists of pins, wires between them in the
// holes that are free. Only for tests of drawings: it doesn't place, check or optimise anything.

import type { HoleName, Layout, PlacedBoard, PlacedPart, Wire } from '../../src/board/index.ts';
import type { Design, Net, Netlist, NetPart, NetPin, Origin } from '../../src/netlist/index.ts';
import type { PartRecord, PinKind } from '../../src/parts/index.ts';

const origin: Origin = { by: 'part', text: 'fixture' };
const span = { file: 'machine.yaml', start: 0, end: 0 };

type Symbol = string;

interface Package {
  readonly kind: string;
  readonly pins: number;
  readonly width?: number;
  readonly only?: readonly number[];
  readonly body?: { readonly length: number; readonly width: number };
}

interface Piece {
  readonly name: string;
  readonly record: PartRecord;
  readonly value: string | undefined;
  readonly stage: number;
  readonly until: number | undefined;
  readonly temporary: boolean;
  readonly placed: PlacedPart;
}

interface Join {
  readonly net: string;
  readonly pin: string;
}

export interface ChipOptions {
  /** Rows of the lower and upper leads: `ef` for 0.3 inch, `cg` or `dh` for 0.6 inch. */
  readonly rows: string;
  readonly board: number;
  /** Column of pin 1 (rotation 0) or of the leftmost leads (180). */
  readonly column: number;
  readonly stage: number;
  readonly until?: number;
  readonly turned?: boolean;
  readonly only?: readonly number[];
  readonly symbol?: Symbol;
  readonly body?: { readonly length: number; readonly width: number };
}

export interface LeadsOptions {
  readonly symbol: Symbol;
  readonly holes: readonly HoleName[];
  readonly stage: number;
  readonly until?: number;
  readonly kind?: string;
  readonly value?: string;
  readonly body?: { readonly length: number; readonly width: number };
  readonly rotation?: 0 | 90 | 180 | 270;
  readonly temporary?: boolean;
}

const kindOf = (name: string): PinKind =>
  /^(VCC|VDD)$/.test(name) ? 'supply' : /^(GND|VSS)$/.test(name) ? 'ground' : name === 'NC' ? 'unconnected' : 'input';

export function createFixture(machine: string, stageNames: readonly string[], boards: readonly PlacedBoard[]) {
  const pieces: Piece[] = [];
  const joins: Join[] = [];
  const wires: Wire[] = [];
  const taken = new Set<HoleName>();
  const classes = new Map<string, { bus: { name: string; bit: number } | undefined; colour: string }>();

  const record = (
    name: string,
    pins: readonly string[],
    pack: Package,
    symbol: Symbol | undefined,
    outputs: readonly string[],
  ): PartRecord => {
    const made = {
      part: name,
      title: name,
      category: symbol === undefined ? 'logic' : 'discrete',
      ...(symbol === undefined ? {} : { symbol }),
      package: pack,
      pins: pins.map((pin, i) => ({
        number: i + 1,
        name: pin,
        kind: outputs.includes(pin) ? 'output' : symbol === undefined || symbol === 'can' ? kindOf(pin) : 'passive',
      })),
      sources: { pins: 'fixture' },
    };
    return made as unknown as PartRecord;
  };

  const add = (piece: Piece): void => {
    pieces.push(piece);
    for (const lead of piece.placed.leads) taken.add(lead.hole);
  };

  const leadOf = (pin: string): { piece: Piece; hole: HoleName } => {
    const dot = pin.indexOf('.');
    const piece = pieces.find((p) => p.name === pin.slice(0, dot))!;
    const row = piece.record.pins.find((p) => p.name === pin.slice(dot + 1))!;
    return { piece, hole: piece.placed.leads.find((lead) => lead.number === row.number)!.hole };
  };

  /** A free hole of the strip that `hole` is in, from the outside in. */
  const freeBeside = (hole: HoleName): HoleName => {
    const match = /^(\d+):(\d+)([a-j])$/.exec(hole)!;
    const rows = match[3]! >= 'f' ? 'jihgf' : 'abcde';
    const free = [...rows].map((row) => `${match[1]}:${match[2]}${row}`).find((name) => !taken.has(name));
    if (free === undefined) throw new Error(`no free hole beside ${hole}`);
    taken.add(free);
    return free;
  };

  const railNear = (board: number, row: string, column: number): HoleName => {
    const columns = Array.from({ length: 10 }, (_, g) => [0, 1, 2, 3, 4].map((k) => 3 + g * 6 + k)).flat();
    const names = columns
      .sort((a, b) => Math.abs(a - column) - Math.abs(b - column) || a - b)
      .map((c) => `${board}:${row}${c}`);
    const free = names.find((name) => !taken.has(name))!;
    taken.add(free);
    return free;
  };

  const mm = (hole: HoleName): [number, number] => {
    const match = /^(\d+):(?:([tb][+-])(\d+)|(\d+)([a-j]))$/.exec(hole)!;
    const order = ['t+', 't-', '', '', 'j', 'i', 'h', 'g', 'f', '', '', 'e', 'd', 'c', 'b', 'a', '', '', 'b+', 'b-'];
    const board = boards.find((b) => b.board === Number(match[1]))!;
    return [board.x + Number(match[3] ?? match[4]) * 2.54, board.y + order.indexOf(match[2] ?? match[5]!) * 2.54];
  };

  const addWire = (net: string, from: HoleName, to: HoleName, stage: number, more: Partial<Wire> = {}): void => {
    const [ax, ay] = mm(from);
    const [bx, by] = mm(to);
    wires.push({
      id: `${net}:${from}-${to}`,
      net,
      from,
      to,
      cutMm: Math.ceil(Math.abs(ax - bx) + Math.abs(ay - by) + 17),
      colour: classes.get(net)?.colour ?? (net === '+5V' ? 'RD' : net === 'GND' ? 'BK' : 'VT'),
      style: 'flat',
      stage,
      until: undefined,
      temporary: false,
      lead: undefined,
      path: undefined,
      ...more,
    });
  };

  const netlist = (stage: number): Netlist => {
    const parts: NetPart[] = [];
    const pins: NetPin[] = [];
    const nets: Net[] = [];
    const netIds = new Map<string, number>();
    const here = pieces.filter((p) => p.stage <= stage && (p.until === undefined || stage < p.until));
    const members: number[][] = [];
    for (const piece of here) {
      const id = parts.length;
      const own: number[] = [];
      for (const row of piece.record.pins) {
        if (!piece.placed.leads.some((lead) => lead.number === row.number)) continue;
        const ref = `${piece.name}.${row.name}`;
        const join = joins.find((j) => j.pin === ref);
        let net = -1;
        if (join !== undefined) {
          net = netIds.get(join.net) ?? -1;
          if (net < 0) {
            net = nets.length;
            netIds.set(join.net, net);
            members.push([]);
            const cls = classes.get(join.net);
            nets.push({
              id: net,
              name: join.net,
              kind: join.net === '+5V' ? 'supply' : join.net === 'GND' ? 'ground' : 'signal',
              derived: false,
              origin,
              pins: members[net]!,
              bus: cls?.bus,
              netClass: undefined,
            });
          }
          members[net]!.push(pins.length);
        }
        own.push(pins.length);
        pins.push({
          id: pins.length,
          part: id,
          number: row.number,
          name: row.name,
          ref,
          kind: row.kind,
          net,
          open: false,
          origin,
        });
      }
      parts.push({
        id,
        name: piece.name,
        type: piece.record.part,
        record: piece.record,
        family: undefined,
        grade: undefined,
        value: piece.value,
        holds: undefined,
        comesOut: false,
        implied: undefined,
        stage: piece.stage,
        until: piece.until,
        temporary: piece.temporary,
        origin,
        pins: own,
      });
    }
    return { stage, parts, pins, nets };
  };

  return {
    /** A chip in two rows. `pins` in order of their numbers, `-` for a position without a lead. */
    chip(name: string, type: string, pins: string, options: ChipOptions, outputs: readonly string[] = []): void {
      const names = pins.split(' ');
      const half = names.length / 2;
      const [low, high] = options.rows;
      const leads = names.flatMap((pin, i) => {
        const lower = i < half !== (options.turned ?? false);
        const along = i < half ? i : names.length - 1 - i;
        const column = options.column + (options.turned ? half - 1 - along : along);
        return pin === '-' ? [] : [{ number: i + 1, hole: `${options.board}:${column}${lower ? low : high}` }];
      });
      const only = options.only === undefined ? {} : { only: [...options.only] };
      const body = options.body === undefined ? {} : { body: options.body };
      const pack = { kind: 'dip', pins: names.length, width: 300, ...only, ...body };
      add({
        name,
        record: record(type, names, pack, options.symbol, outputs),
        value: undefined,
        stage: options.stage,
        until: options.until,
        temporary: false,
        placed: {
          part: name,
          type,
          rotation: options.turned ? 180 : 0,
          leads,
          stage: options.stage,
          until: options.until,
          fixed: false,
        },
      });
    },
    /** Any other part, each lead in a given hole. */
    leads(name: string, type: string, pins: string, options: LeadsOptions): void {
      const names = pins.split(' ');
      const body = options.body === undefined ? {} : { body: options.body };
      const pack = {
        kind: options.kind ?? (names.length === 2 ? 'two-lead' : 'grid'),
        pins: names.length,
        ...body,
      };
      add({
        name,
        record: record(type, names, pack, options.symbol, []),
        value: options.value,
        stage: options.stage,
        until: options.until,
        temporary: options.temporary ?? false,
        placed: {
          part: name,
          type,
          rotation: options.rotation ?? 0,
          leads: options.holes.map((hole, i) => ({ number: i + 1, hole })),
          stage: options.stage,
          until: options.until,
          fixed: false,
        },
      });
    },
    net(name: string, pins: readonly string[], colour?: string, bus?: string, bit?: number): void {
      for (const pin of pins) joins.push({ net: name, pin });
      if (colour !== undefined)
        classes.set(name, { colour, bus: bus === undefined || bit === undefined ? undefined : { name: bus, bit } });
    },
    /** A wire from pin to pin. */
    wire(net: string, from: string, to: string, stage: number, more: Partial<Wire> = {}): void {
      addWire(net, freeBeside(leadOf(from).hole), freeBeside(leadOf(to).hole), stage, more);
    },
    /** A wire from a pin to the nearest rail of that sign. */
    feed(net: string, pin: string, sign: '+' | '-', stage: number, more: Partial<Wire> = {}): void {
      const { hole } = leadOf(pin);
      const match = /^(\d+):(\d+)([a-j])$/.exec(hole)!;
      const rail = railNear(Number(match[1]), `${match[3]! >= 'f' ? 't' : 'b'}${sign}`, Number(match[2]));
      if (!joins.some((join) => join.pin === pin)) joins.push({ net, pin });
      addWire(net, freeBeside(hole), rail, stage, more);
    },
    /** A wire between holes that are given. */
    between(net: string, from: HoleName, to: HoleName, stage: number, more: Partial<Wire> = {}): void {
      taken.add(from);
      taken.add(to);
      addWire(net, from, to, stage, more);
    },
    railNear,
    holeOf: (pin: string): HoleName => leadOf(pin).hole,
    freeBeside,
    done(): { design: Design; layout: Layout } {
      const stages = stageNames.map((name, i) => ({
        number: i + 1,
        name,
        decl: {
          name: { name, span } as never,
          adds: [],
          removes: [],
          replaces: [],
          moves: [],
          temporary: [],
          leads: [],
          programs: [],
          notes: [],
          prove: [],
          span,
        } as never,
      }));
      return {
        design: {
          name: machine,
          stages,
          netlists: Array.from({ length: stageNames.length + 1 }, (_, n) => netlist(n)),
          map: [],
          devices: [],
          leads: [],
          supplies: [],
          clocks: [],
        },
        layout: {
          format: 1,
          machine,
          seed: 1,
          boards,
          parts: pieces.map((piece) => piece.placed),
          wires,
          entries: [],
        },
      };
    },
  };
}
