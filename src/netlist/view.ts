// A netlist seen from its nets: who drives, who listens, which resistors pull where. Derived once per netlist and shared by
// checks, layout and diagnosis.

import type { PartPinRow } from '../parts/index.ts';
import type { Net, Netlist, NetPart, NetPin } from './model.ts';

/** A way from a net through a resistor (or an element of a network) to another net. */
export interface ResistorLink {
  readonly part: NetPart;
  readonly from: NetPin;
  readonly to: NetPin;
}

export interface NetView {
  readonly net: Net;
  readonly pins: readonly NetPin[];
  /** Outputs that always drive. */
  readonly outputs: readonly NetPin[];
  /** Outputs that can let go. */
  readonly threeState: readonly NetPin[];
  readonly bidirectional: readonly NetPin[];
  readonly openDrain: readonly NetPin[];
  readonly inputs: readonly NetPin[];
  readonly passive: readonly NetPin[];
  readonly links: readonly ResistorLink[];
}

export interface NetlistView {
  readonly netlist: Netlist;
  readonly nets: readonly NetView[];
  part(pin: NetPin): NetPart;
  /** The record's row of a pin. */
  row(pin: NetPin): PartPinRow;
  /** Whether a resistor, or a pull inside a part, holds the net high or low when nobody drives it. */
  pulled(net: NetView): 'high' | 'low' | undefined;
  /** Whether anything outside what is described may drive the net: a connector, a switch, a module. */
  outside(net: NetView): boolean;
}

/** The pairs of pins of a part that a resistor joins. */
function resistorPairs(part: NetPart, pins: readonly NetPin[]): (readonly [NetPin, NetPin])[] {
  const own = part.pins.map((id) => pins[id]!);
  if (part.record.symbol === 'resistor' && own.length >= 2) return [[own[0]!, own[1]!]];
  if (part.record.symbol !== 'network') return [];
  const pairs: (readonly [NetPin, NetPin])[] = [];
  for (const unit of part.record.units ?? []) {
    const ends = Object.values(unit.pins).map((name) => own.find((pin) => pin.name === name));
    if (ends[0] !== undefined && ends[1] !== undefined) pairs.push([ends[0], ends[1]]);
  }
  return pairs;
}

const views = new WeakMap<Netlist, NetlistView>();

/** The view of a netlist, made once. O(pins). */
export function viewOf(netlist: Netlist): NetlistView {
  const known = views.get(netlist);
  if (known !== undefined) return known;
  const rows = new Map<NetPin, PartPinRow>();
  const links = new Map<number, ResistorLink[]>();
  for (const part of netlist.parts) {
    part.pins.forEach((id) => {
      const pin = netlist.pins[id]!;
      const row = part.record.pins.find((candidate) => candidate.number === pin.number);
      if (row !== undefined) rows.set(pin, row);
    });
    for (const [a, b] of resistorPairs(part, netlist.pins)) {
      for (const [from, to] of [
        [a, b],
        [b, a],
      ] as const) {
        if (from.net < 0 || to.net < 0) continue;
        const list = links.get(from.net);
        if (list === undefined) links.set(from.net, [{ part, from, to }]);
        else list.push({ part, from, to });
      }
    }
  }
  const nets = netlist.nets.map((net): NetView => {
    const pins = net.pins.map((id) => netlist.pins[id]!);
    const of = (kind: NetPin['kind']): NetPin[] => pins.filter((pin) => pin.kind === kind);
    return {
      net,
      pins,
      outputs: of('output'),
      threeState: of('three-state'),
      bidirectional: of('bidirectional'),
      openDrain: of('open-drain'),
      inputs: of('input'),
      passive: of('passive'),
      links: links.get(net.id) ?? [],
    };
  });
  const view: NetlistView = {
    netlist,
    nets,
    part: (pin) => netlist.parts[pin.part]!,
    row: (pin) => rows.get(pin)!,
    pulled: (net) => {
      for (const pin of net.pins) {
        const pull = rows.get(pin)?.pull;
        if (pull !== undefined) return pull === 'up' ? 'high' : 'low';
      }
      for (const link of net.links) {
        const kind = netlist.nets[link.to.net]!.kind;
        if (kind === 'supply') return 'high';
        if (kind === 'ground') return 'low';
      }
      return undefined;
    },
    outside: (net) =>
      net.passive.some((pin) => {
        const symbol = netlist.parts[pin.part]!.record.symbol;
        return symbol === 'header' || symbol === 'module' || symbol === 'crystal' || symbol === 'transistor';
      }),
  };
  views.set(netlist, view);
  return view;
}
