// What one sees at a running machine: lamps and segments lit, digits as characters, the text of displays. Lamps and digits that are
// lit in turn are looked at for a while, as an eye does.

import type { CircuitLamp } from './circuit/circuit.ts';
import type { SimNetlist } from './model.ts';
import { displayText } from './models/character-display.ts';
import type { Session } from './session.ts';
import { HIGH, LOW } from './values.ts';

/** Whether a lamp is lit now. */
export function isLit(session: Session, lamp: CircuitLamp): boolean {
  return session.kernel.value(lamp.anode) === HIGH && session.kernel.value(lamp.cathode) === LOW;
}

/** The part of the time that each lamp is lit, in the order of the circuit's lamps, while the machine runs on for `ns`. */
export function lightOver(session: Session, ns: number, looks: number): number[] {
  const { lamps } = session.circuit;
  const lit = lamps.map(() => 0);
  const start = session.now;
  for (let k = 0; k < looks; k++) {
    // Not in step with anything that is a whole part of the window.
    session.runTo(start + (ns * (k + ((k * 0.618034) % 1))) / looks);
    lamps.forEach((lamp, place) => {
      if (isLit(session, lamp)) lit[place]!++;
    });
  }
  session.runTo(start + ns);
  return lit.map((count) => count / looks);
}

/** Characters by segments a (bit 0) to g; both common forms of 6, 7 and 9. */
const SHAPES: ReadonlyMap<number, string> = new Map([
  [0x3f, '0'],
  [0x06, '1'],
  [0x5b, '2'],
  [0x4f, '3'],
  [0x66, '4'],
  [0x6d, '5'],
  [0x7d, '6'],
  [0x7c, '6'],
  [0x07, '7'],
  [0x27, '7'],
  [0x7f, '8'],
  [0x6f, '9'],
  [0x67, '9'],
  [0x77, 'A'],
  [0x39, 'C'],
  [0x5e, 'd'],
  [0x79, 'E'],
  [0x71, 'F'],
  [0x76, 'H'],
  [0x38, 'L'],
  [0x73, 'P'],
  [0x40, '-'],
  [0x00, ' '],
]);

/**
 * The digits in the order of the netlist's parts, one character each, `?` for a shape that is none. `light` gives the part of the
 * time that each lamp is lit; segments count as lit from a fiftieth on.
 */
export function digitsText(session: Session, netlist: SimNetlist, light: readonly number[]): string {
  const byName = new Map(session.circuit.lamps.map((lamp, place) => [lamp.name, light[place]!]));
  return netlist.parts
    .filter((part) => part.record.symbol === 'digit')
    .map((part) => {
      const segments = [...'ABCDEFG'].reduce(
        (sum, letter, bit) => sum | ((byName.get(`${part.name}.${letter}`) ?? 0) > 0.02 ? 1 << bit : 0),
        0,
      );
      return SHAPES.get(segments) ?? '?';
    })
    .join('');
}

/** What stands on each character display, line by line. */
export function displays(
  session: Session,
  netlist: SimNetlist,
): { readonly part: string; readonly lines: readonly string[] }[] {
  return session.circuit.parts.flatMap((part, place) => {
    const record = netlist.parts[part.part]?.record;
    if (part.kind !== 'model' || record?.behaviour?.model !== 'character-display') return [];
    const number = (name: string, or: number): number => {
      const value = record.facts?.[name];
      return typeof value === 'number' ? value : or;
    };
    const lines = displayText(session.kernel.stateOf(place), 0, number('rows', 2), number('columns', 16));
    return [{ part: part.name, lines }];
  });
}
