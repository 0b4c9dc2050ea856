// The order of an expert: what belongs to which group of a stage, and the place of a piece within its group. Supply and
// bypass, straps, clock, reset, each bus bit in order, selects, control, the rest, then leads; shortest first within a group.

import { foldName } from '../base/index.ts';
import type { Wire } from '../board/index.ts';
import type { Design, Net, Netlist, NetPart } from '../netlist/index.ts';

/** Groups in the order in which they are done. */
export const GROUPS = [
  'take out',
  'rework',
  'rails',
  'rails check',
  'programming',
  'parts',
  'small parts',
  'supply',
  'straps',
  'clock',
  'reset',
  'address',
  'other buses',
  'data',
  'selects',
  'control',
  'signals',
  'fitting',
  'leads',
  'meter check',
  'proofs',
] as const;
export type Group = (typeof GROUPS)[number];

/** Where a piece stands: sorted by group, then `first` (bus and bit), then length, then name. */
export interface Place {
  readonly group: Group;
  readonly first: number;
}

const RANK = new Map<Group, number>(GROUPS.map((group, index) => [group, index]));

/** The position of a group among all groups, from 0. */
export function groupRank(group: Group): number {
  return RANK.get(group) ?? GROUPS.length;
}

/** Parts that plug in by leads and are neither bypass, strap nor pull: done as `parts`. */
function isSmall(part: NetPart): boolean {
  return part.record.category === 'discrete';
}

/** The group of a part. */
export function partPlace(part: NetPart | undefined): Place {
  if (part === undefined) return { group: 'parts', first: 0 };
  if (part.temporary || part.implied?.kind === 'strap') return { group: 'straps', first: 0 };
  if (part.implied?.kind === 'bulk') return { group: 'rails', first: 0 };
  if (part.implied?.kind === 'bypass') return { group: 'supply', first: 0 };
  return { group: isSmall(part) ? 'small parts' : 'parts', first: 0 };
}

/** The group of each net of a design as of a stage, worked out once for all its wires. */
export function createWireOrder(
  design: Design,
  netlist: Netlist,
  onRail: (hole: string) => boolean,
): (wire: Wire) => Place {
  const nets = new Map<string, Net>(netlist.nets.map((net) => [foldName(net.name), net]));
  const clocks = new Set(design.clocks.flatMap((clock) => (clock.net === undefined ? [] : [foldName(clock.net)])));
  const selects = new Set(
    design.devices.flatMap((device) =>
      device.outputs.flatMap((output) => (output.select === undefined ? [] : [foldName(output.net)])),
    ),
  );
  const supplies = new Set(['gnd', ...design.supplies.map((supply) => foldName(supply.name))]);
  return (wire) => {
    const key = foldName(wire.net);
    const net = nets.get(key);
    if (wire.temporary) return { group: 'straps', first: 0 };
    if (wire.lead !== undefined || wire.style === 'crimped') return { group: 'leads', first: 0 };
    if (supplies.has(key) || net?.kind === 'supply' || net?.kind === 'ground')
      return onRail(wire.from) && onRail(wire.to) ? { group: 'rails', first: 1 } : { group: 'supply', first: 1 };
    const kind = foldName(net?.netClass?.name ?? '');
    if (clocks.has(key) || kind.startsWith('clock')) return { group: 'clock', first: 0 };
    if (kind.startsWith('reset') || /^[/~]?re?se?t/.test(key)) return { group: 'reset', first: 0 };
    if (net?.bus !== undefined) {
      // The second and later buses bear their processor's name first: `IOP-A`.
      const name = foldName(net.bus.name).replace(/^.*-/, '');
      const group = name.startsWith('d')
        ? 'data'
        : name.startsWith('a') && !name.startsWith('ad')
          ? 'address'
          : 'other buses';
      return { group, first: net.bus.bit };
    }
    if (selects.has(key) || kind.startsWith('select')) return { group: 'selects', first: 0 };
    if (kind.startsWith('strobe') || kind.startsWith('control')) return { group: 'control', first: 0 };
    return { group: 'signals', first: 0 };
  };
}
