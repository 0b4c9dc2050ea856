// What the terms of proofs have in common: how a stretch of values is read, which nets belong to the processor, how an answer looks.

import { parseQuantity } from '../base/index.ts';
import { expandRange } from '../parts/index.ts';
import type { Circuit } from './circuit/circuit.ts';
import type { SimNetlist } from './model.ts';

/** What was seen, in words; `pass` is undefined where it cannot be said. */
export interface Shown {
  readonly text: string;
  readonly pass: boolean | undefined;
}

/** A stretch `A to B`, `A within P` or `A` as least and most; undefined where it is none. */
export function stretchOf(
  text: string,
): { readonly least: number; readonly most: number; readonly dimension: string } | undefined {
  const to = /^(.*\S)\s+to\s+(\S.*)$/.exec(text);
  if (to !== null) {
    const [low, high] = [parseQuantity(to[1]!), parseQuantity(to[2]!)];
    return low === undefined || high === undefined
      ? undefined
      : { least: low.value, most: high.value, dimension: low.dimension };
  }
  const within = /^(.*\S)\s+within\s+(\S.*)$/.exec(text);
  const middle = parseQuantity(within?.[1] ?? text);
  const part = within === null ? 0.01 : parseQuantity(within[2]!)?.value;
  if (middle === undefined || part === undefined) return undefined;
  return { least: middle.value * (1 - part), most: middle.value * (1 + part), dimension: middle.dimension };
}

/** The nets at a processor's pins that tell what it does, by name. */
export interface ProcessorNets {
  /** Highest line first. */
  readonly address: readonly string[];
  readonly fetch: string | undefined;
  readonly read: string | undefined;
  readonly watch: readonly string[];
}

/** Names of the nets at a processor's address pins, its fetch output and its read output, where there is one processor. */
export function processorNets(netlist: SimNetlist, circuit: Circuit): ProcessorNets | undefined {
  const index = netlist.parts.findIndex((part) => part.record.category === 'processor');
  const part = netlist.parts[index];
  if (part === undefined) return undefined;
  const netOf = (name: string | undefined): string | undefined => {
    const pin = name === undefined ? undefined : part.record.pins.find((row) => row.name === name);
    const net = pin === undefined ? undefined : circuit.netOfPin.get(index * 256 + pin.number);
    return net === undefined ? undefined : circuit.nets[net];
  };
  const address = (expandRange(part.record.bus?.address ?? '') ?? []).map(netOf).filter((name) => name !== undefined);
  const fetch = netOf('/M1');
  const read = netOf(part.record.bus?.signals?.read ?? '/RD');
  return {
    address,
    fetch,
    read,
    watch: [...address, ...[fetch, read].filter((name) => name !== undefined)],
  };
}
