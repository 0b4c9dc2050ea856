// Every plausible single slip of a stage, as an edit of holes, wires and legs, with its prior and the place to mend. Made from
// the layout alone; the engine that runs them never sees how they came about.

import type { HoleName } from '../../board/index.ts';
import type { NetPart } from '../../netlist/index.ts';
import type { Bench } from './bench.ts';
import type { Edit } from './edit.ts';
import { classShares, type FaultClass, type FaultHistory } from './priors.ts';

/** One thing to look at and mend. `key` is the same for all faults that are mended there. */
export interface Place {
  readonly kind: 'wire' | 'leg' | 'part' | 'strips';
  readonly key: string;
  /** `wire A5 from 1:20a to 2:34e`. */
  readonly text: string;
  readonly holes: readonly HoleName[];
  /** Id of the wire. */
  readonly wire?: string;
  readonly part?: string;
  /** Reference of the pin. */
  readonly pin?: string;
}

export interface Fault {
  readonly id: string;
  readonly kind: FaultClass;
  /** Probability before anything is measured; all faults of a universe sum to 1. */
  readonly prior: number;
  readonly places: readonly Place[];
  /** A sentence: what is wrong. */
  readonly text: string;
  readonly edit: Edit;
}

export interface UniverseOptions {
  /** Names of images that memories could have been programmed with by mistake, by part name. */
  readonly otherImages?: ReadonlyMap<string, readonly string[]>;
  readonly history?: FaultHistory;
  /** Ids of wires and straps of earlier stages that should be out by now. */
  readonly leftIn?: readonly {
    readonly text: string;
    readonly key: string;
    readonly edit: Edit;
    readonly holes: readonly HoleName[];
  }[];
}

interface Raw {
  readonly kind: FaultClass;
  readonly weight: number;
  readonly id: string;
  readonly places: readonly Place[];
  readonly text: string;
  readonly edit: Edit;
}

const DRIVES = new Set(['output', 'three-state', 'bidirectional', 'open-drain']);

/** Column and row text of a hole: `2:34e` is 34 and `2 e`; rails too. */
function spot(hole: HoleName): { readonly row: string; readonly column: number } {
  const match = /^(\d+):([tb][+-])?(\d+)([a-j])?$/.exec(hole);
  if (match === null) return { row: '', column: 0 };
  const half = match[4] === undefined ? match[2]! : match[4] <= 'e' ? 'lower' : 'upper';
  return { row: `${match[1]} ${half}`, column: Number(match[3]) };
}

export const isRail = (hole: HoleName): boolean => /:[tb][+-]/.test(hole);

/** Whether a part is seated as a chip: two rows of legs. */
const isChip = (part: NetPart): boolean => part.record.pins.length >= 8 && part.record.package.kind === 'dip';

/** All single faults of the boards of a stage, heaviest class first within the order of the layout. */
export function makeFaults(bench: Bench, options: UniverseOptions = {}): Fault[] {
  const { netlist } = bench;
  const raws: Raw[] = [];
  const add = (
    kind: FaultClass,
    weight: number,
    id: string,
    places: readonly Place[],
    text: string,
    edit: Edit,
  ): void => {
    raws.push({ kind, weight, id: `${kind}:${id}`, places, text, edit });
  };
  const wirePlace = (index: number): Place => {
    const { wire } = bench.wires[index]!;
    return {
      kind: 'wire',
      key: `wire ${wire.id}`,
      text: `wire ${wire.net} from ${wire.from} to ${wire.to}`,
      holes: [wire.from, wire.to],
      wire: wire.id,
    };
  };
  const legPlace = (index: number): Place => {
    const pin = bench.pins[index]!;
    return {
      kind: 'leg',
      key: `leg ${pin.ref}`,
      text: `leg ${pin.ref} in ${pin.hole}`,
      holes: [pin.hole],
      part: netlist.parts[pin.part]!.name,
      pin: pin.ref,
    };
  };
  const partPlace = (part: number): Place => {
    const { name, type } = netlist.parts[part]!;
    const holes = bench.pinsOf[part]!.map((pin) => bench.pins[pin]!.hole);
    return { kind: 'part', key: `part ${name}`, text: `${name} (${type})`, holes, part: name };
  };
  // Which strips have something in them, and the nets meant there.
  const netAt = new Map<number, string>();
  for (const pin of bench.pins) netAt.set(pin.strip, netlist.nets[pin.net]?.name ?? `.${pin.ref}`);
  for (const { wire, a, b } of bench.wires) {
    netAt.set(a, wire.net);
    netAt.set(b, wire.net);
  }
  const isSupply = new Set(netlist.nets.filter((net) => net.kind !== 'signal').map((net) => net.name));

  // Wires.
  bench.wires.forEach(({ wire, a, b }, index) => {
    const place = [wirePlace(index)];
    const say = `${wire.net} from ${wire.from} to ${wire.to}`;
    // Three of five missing wires in the reports were a ground.
    const weight = isSupply.has(wire.net) ? 2 : 1;
    const isRails = isRail(wire.from) && isRail(wire.to);
    add(isRails ? 'rail-dead' : 'wire-absent', weight, wire.id, place, `The wire ${say} is missing.`, {
      wires: [[index, -1, -1]],
    });
    for (const [end, hole, other] of [
      ['from', wire.from, b],
      ['to', wire.to, a],
    ] as const) {
      add('end-open', 0.5, `${wire.id}:${end}`, place, `The wire ${say} makes no contact in ${hole}.`, {
        wires: [[index, end === 'from' ? -1 : a, end === 'from' ? b : -1]],
      });
      const moved = (to: number): Edit => ({
        wires: [[index, end === 'from' ? to : other, end === 'from' ? other : to]],
      });
      if (isRail(hole)) {
        const rail = bench.otherRail(hole);
        if (rail !== undefined)
          add(
            'tie-wrong-rail',
            bench.isFree(rail) ? 1 : 0.5,
            `${wire.id}:${end}`,
            place,
            `The wire ${say} stands in ${rail}, the other rail, and not in ${hole}.`,
            moved(bench.strip(rail)),
          );
      }
      const at = bench.strip(hole);
      for (const step of [-1, 1]) {
        const aside = bench.beside(hole, step);
        if (aside === undefined) continue;
        const strip = bench.strip(aside);
        if (strip === at || strip === other) continue;
        const isOpen = bench.isFree(aside);
        add(
          'end-aside',
          isOpen ? 1 : 0.3,
          `${wire.id}:${end}:${step}`,
          place,
          `The wire ${say} stands in ${aside}${isOpen ? '' : ' or another hole of that strip'}, one aside of ${hole}.`,
          moved(strip),
        );
      }
    }
  });

  // Ends of wires that stand near each other.
  const ends = bench.wires.flatMap(({ wire, a, b }, index) => [
    { index, end: 0, hole: wire.from, strip: a, net: wire.net, lead: wire.lead, ...spot(wire.from) },
    { index, end: 1, hole: wire.to, strip: b, net: wire.net, lead: wire.lead, ...spot(wire.to) },
  ]);
  for (let i = 0; i < ends.length; i++)
    for (let j = i + 1; j < ends.length; j++) {
      const [x, y] = [ends[i]!, ends[j]!];
      if (x.row !== y.row || x.index === y.index || x.strip === y.strip || isRail(x.hole)) continue;
      const distance = Math.abs(x.column - y.column);
      if (distance > 3) continue;
      if (netAt.get(x.strip) === netAt.get(y.strip)) continue;
      const [p, q] = [bench.wires[x.index]!, bench.wires[y.index]!];
      if (isSupply.has(p.wire.net) !== isSupply.has(q.wire.net)) continue;
      const isHoused = x.lead !== undefined && x.lead === y.lead;
      // A bundle: the other ends are neighbours too.
      const [u, v] = [ends[x.index * 2 + 1 - x.end]!, ends[y.index * 2 + 1 - y.end]!];
      const isBundle = u.row === v.row && Math.abs(u.column - v.column) <= 3;
      if (isBundle && (u.strip === v.strip || x.end === 1)) continue;
      const near = distance <= 1 ? 1 : distance === 2 ? 0.3 : 0.1;
      const swap = (wire: typeof p, end: number, to: number): [number, number] => [
        end === 0 ? to : wire.a,
        end === 1 ? to : wire.b,
      ];
      add(
        'ends-exchanged',
        near * (isHoused ? 2 : isBundle ? 1 : 0.3),
        `${p.wire.id}:${q.wire.id}:${x.end}${y.end}`,
        [wirePlace(x.index), wirePlace(y.index)],
        `The ends of ${p.wire.net} in ${x.hole} and ${q.wire.net} in ${y.hole} are exchanged.`,
        {
          wires: [
            [x.index, ...swap(p, x.end, y.strip)],
            [y.index, ...swap(q, y.end, x.strip)],
          ],
        },
      );
    }

  // Buses laid as bundles, plugged the wrong way round.
  const bundles = new Map<string, { index: number; bit: number }[]>();
  bench.wires.forEach(({ wire }, index) => {
    const match = /^(.*?)(\d+)$/.exec(wire.net);
    if (match === null) return;
    const key = `${match[1]} ${wire.lead ?? `${spot(wire.from).row} ${spot(wire.to).row}`}`;
    bundles.set(key, [...(bundles.get(key) ?? []), { index, bit: Number(match[2]) }]);
  });
  for (const [, list] of bundles) {
    const sorted = [...list].sort((x, y) => x.bit - y.bit || x.index - y.index);
    const isRow = (end: 'from' | 'to'): boolean => {
      const columns = sorted.map(({ index }) => spot(bench.wires[index]!.wire[end]).column);
      return (
        new Set(columns).size === columns.length && Math.max(...columns) - Math.min(...columns) <= columns.length + 3
      );
    };
    if (
      sorted.length < 3 ||
      new Set(sorted.map(({ bit }) => bit)).size < sorted.length ||
      !isRow('from') ||
      !isRow('to')
    )
      continue;
    const wires = sorted.map(({ index }, k): [number, number, number] => [
      index,
      bench.wires[index]!.a,
      bench.wires[sorted[sorted.length - 1 - k]!.index]!.b,
    ]);
    const names = sorted.map(({ index }) => bench.wires[index]!.wire);
    add(
      'bus-reversed',
      1,
      names.map(({ id }) => id).join('.'),
      sorted.map(({ index }) => wirePlace(index)),
      `${names[0]!.net} to ${names.at(-1)!.net} between ${names[0]!.from} and ${names[0]!.to} are the wrong way round.`,
      { wires },
    );
  }

  // Neighbouring strips with something in both.
  for (const [strip, net] of netAt) {
    const name = bench.stripNames[strip]!;
    const hole = name.replace(/-[ej]$/, '');
    if (isRail(hole) || !/[af]$/.test(hole)) continue;
    const aside = bench.beside(hole, 1);
    if (aside === undefined) continue;
    const other = bench.strip(aside);
    const otherNet = netAt.get(other);
    if (otherNet === undefined || otherNet === net || (isSupply.has(net) && isSupply.has(otherNet))) continue;
    const place: Place = {
      kind: 'strips',
      key: `strips ${name} ${bench.stripNames[other]}`,
      text: `strips ${name} and ${bench.stripNames[other]}`,
      holes: [hole, aside],
    };
    add(
      'strips-bridged',
      1,
      `${name}:${bench.stripNames[other]}`,
      [place],
      `${name} (${net}) touches ${bench.stripNames[other]} (${otherNet}).`,
      { bridges: [[strip, other]] },
    );
  }

  // Parts.
  netlist.parts.forEach((part, id) => {
    const pins = bench.pinsOf[id]!;
    if (pins.length === 0) return;
    const place = [partPlace(id)];
    const { record } = part;
    if (isChip(part)) {
      for (const step of [-1, 1]) {
        const edit = pins.map((pin): [number, number] => {
          const hole = bench.beside(bench.pins[pin]!.hole, step);
          return [pin, hole === undefined ? -1 : bench.strip(hole)];
        });
        if (edit.some(([, strip]) => strip < 0)) continue;
        add(
          'chip-aside',
          1,
          `${part.name}:${step}`,
          place,
          `${part.name} stands one hole ${step < 0 ? 'to the left' : 'to the right'}.`,
          { pins: edit },
        );
      }
      const byNumber = new Map(pins.map((pin) => [bench.pins[pin]!.number, bench.pins[pin]!.strip]));
      const count = record.pins.length;
      const turned = pins.map((pin): [number, number] => {
        const number = bench.pins[pin]!.number;
        const to = number > count / 2 ? number - count / 2 : number + count / 2;
        return [pin, byNumber.get(to) ?? -1];
      });
      add('chip-turned', 1, part.name, place, `${part.name} is turned round.`, { pins: turned });
      add('part-dead', 1, part.name, place, `${part.name} does nothing.`, { devices: [{ kind: 'dead', part: id }] });
    } else if (record.behaviour?.model === 'oscillator' || record.behaviour?.model === 'supervisor')
      add('part-dead', 1, part.name, place, `${part.name} does nothing.`, { devices: [{ kind: 'dead', part: id }] });
    const isPassive = record.symbol === 'resistor' || (record.units ?? []).some((unit) => unit.kind === 'resistor');
    if (isPassive) {
      add('pull-up-missing', 1, part.name, place, `${part.name} is missing.`, {
        pins: pins.map((pin): [number, number] => [pin, -1]),
      });
      for (const pin of pins) {
        const { hole } = bench.pins[pin]!;
        const rail = isRail(hole) ? bench.otherRail(hole) : undefined;
        if (rail !== undefined)
          add(
            'tie-wrong-rail',
            1,
            `${part.name}:${bench.pins[pin]!.number}`,
            place,
            `${part.name} stands in ${rail}, the other rail, and not in ${hole}.`,
            { pins: [[pin, bench.strip(rail)]] },
          );
      }
    }
    const isQuiet = record.symbol === 'capacitor' || record.category === 'supply';
    for (const pin of pins) {
      const row = record.pins.find((one) => one.number === bench.pins[pin]!.number);
      if (row === undefined || isQuiet || row.kind === 'unconnected') continue;
      add(
        'leg-bent',
        1,
        bench.pins[pin]!.ref,
        [legPlace(pin)],
        `Leg ${bench.pins[pin]!.ref} is in no contact with ${bench.pins[pin]!.hole}.`,
        { pins: [[pin, -1]] },
      );
      if (DRIVES.has(row.kind) && (isChip(part) || record.behaviour?.model !== undefined))
        for (const level of [0, 1] as const)
          add(
            'output-stuck',
            1,
            `${bench.pins[pin]!.ref}:${level}`,
            place,
            `The output ${bench.pins[pin]!.ref} stands ${level === 1 ? 'high' : 'low'}.`,
            { devices: [{ kind: 'stuck', pin, level }] },
          );
    }
    if (part.holds !== undefined || record.category === 'logic-device')
      add('device-blank', 1, part.name, place, `${part.name} is not programmed.`, {
        devices: [{ kind: 'blank', part: id }],
      });
    // Anything else that it may hold: what it reads is then taken from the capture.
    if (part.holds !== undefined)
      add('device-other-image', 1, `${part.name}:`, place, `${part.name} holds something else.`, {
        devices: [{ kind: 'image', part: id, image: '' }],
      });
    for (const image of options.otherImages?.get(part.name) ?? [])
      add('device-other-image', 1, `${part.name}:${image}`, place, `${part.name} holds ${image}.`, {
        devices: [{ kind: 'image', part: id, image }],
      });
  });
  for (const left of options.leftIn ?? [])
    add(
      'strap-left-in',
      1,
      left.key,
      [{ kind: 'part', key: left.key, text: left.text, holes: left.holes }],
      `${left.text} is still in.`,
      left.edit,
    );

  const shares = classShares(options.history);
  const weights = new Map<FaultClass, number>();
  for (const raw of raws) weights.set(raw.kind, (weights.get(raw.kind) ?? 0) + raw.weight);
  let sum = 0;
  for (const kind of weights.keys()) sum += shares[kind];
  return raws.map(({ weight, ...raw }) => ({
    ...raw,
    prior: (shares[raw.kind] / sum) * (weight / weights.get(raw.kind)!),
  }));
}
