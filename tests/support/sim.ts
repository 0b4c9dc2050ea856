// Small machines for tests of the simulator: parts by name and type, nets by name and pins, straight from the library.

import { foldName } from '../../src/base/index.ts';
import { createLibrary, type Library, pinsNamed } from '../../src/parts/index.ts';
import { buildCircuit, type Circuit, type SimContents, type SimNetlist, type SimPart } from '../../src/sim/index.ts';
import { shipped } from './library.ts';

let library: Library | undefined;

/** The shipped library, read once. */
export function simLibrary(): Library {
  library ??= createLibrary(shipped().parts, shipped().families);
  return library;
}

export interface PartText {
  readonly type: string;
  readonly value?: string;
  readonly rateHz?: number;
  readonly grade?: string;
}

/**
 * A netlist: `parts` by name, a type or more; `nets` by name, pins as `PART.PIN`. The nets `VCC` and `GND` are fed, and all
 * supply and ground pins are on them unless `bare`.
 */
export function simNetlist(
  parts: Readonly<Record<string, string | PartText>>,
  nets: Readonly<Record<string, string>>,
  options: { readonly bare?: boolean } = {},
): SimNetlist {
  const list = Object.entries(parts).map(([name, given]): SimPart => {
    const text = typeof given === 'string' ? { type: given } : given;
    const found = simLibrary().find(text.type);
    if (found === undefined) throw new Error(`no type ${text.type}`);
    return { name, record: found.record, ...text };
  });
  const made = new Map<string, { part: number; number: number }[]>();
  const add = (net: string, part: number, number: number): void => {
    made.set(net, [...(made.get(net) ?? []), { part, number }]);
  };
  for (const [net, pins] of Object.entries(nets))
    for (const ref of pins.split(/\s+/).filter((text) => text !== '')) {
      const dot = ref.indexOf('.');
      const part = list.findIndex((one) => foldName(one.name) === foldName(ref.slice(0, dot)));
      const rows = part < 0 ? [] : pinsNamed(list[part]!.record, ref.slice(dot + 1));
      if (rows.length === 0) throw new Error(`no pin ${ref}`);
      for (const row of rows) add(net, part, row.number);
    }
  if (options.bare !== true)
    list.forEach((part, index) => {
      if (part.record.category === 'connector') return;
      for (const pin of part.record.pins)
        if (pin.kind === 'supply') add('VCC', index, pin.number);
        else if (pin.kind === 'ground') add('GND', index, pin.number);
    });
  return {
    parts: list,
    nets: [...made].map(([name, pins]) => ({
      name,
      pins,
      ...(name === 'VCC' ? { fed: 1 as const } : name === 'GND' ? { fed: 0 as const } : {}),
    })),
  };
}

/** The circuit of such a netlist. */
export function simCircuit(
  parts: Readonly<Record<string, string | PartText>>,
  nets: Readonly<Record<string, string>>,
  contents: SimContents = {},
): Circuit {
  return buildCircuit(simNetlist(parts, nets), contents).value;
}
