// Resistors and lamps inside parts, as pairs of pins: what a record's units and symbols say. No nets yet.

import { parseValue } from '../../base/index.ts';
import { pinsNamed } from '../../parts/index.ts';
import type { SimPart } from '../model.ts';

/** Two terminals of an element: pin numbers. */
export type Pair = readonly [number, number];

/** Resistors within a part, as pairs of pins and their resistance; undefined where the value cannot be read. */
export function resistorsOf(part: SimPart): { readonly pair: Pair; readonly ohms: number | undefined }[] {
  const { record } = part;
  const ohms = part.value === undefined ? undefined : parseValue(part.value, 'resistance');
  const number = (name: string): number => pinsNamed(record, name)[0]?.number ?? 0;
  const units = (record.units ?? []).filter((unit) => unit.kind === 'resistor');
  if (units.length > 0)
    return units.map((unit) => ({ pair: [number(unit.pins.A ?? ''), number(unit.pins.B ?? '')], ohms }));
  if (record.symbol !== 'resistor') return [];
  if (record.pins.length === 2) return [{ pair: [record.pins[0]!.number, record.pins[1]!.number], ohms }];
  // A trimmer stands in the middle.
  if (record.pins.length === 3) {
    const half = ohms === undefined ? undefined : ohms / 2;
    return [
      { pair: [record.pins[0]!.number, record.pins[1]!.number], ohms: half },
      { pair: [record.pins[1]!.number, record.pins[2]!.number], ohms: half },
    ];
  }
  return [];
}

/** Lamps within a part: name, anode, cathode. */
export function lampsOf(part: SimPart): { readonly name: string; readonly pair: Pair }[] {
  const { record } = part;
  const number = (name: string): number => pinsNamed(record, name)[0]?.number ?? 0;
  const units = (record.units ?? []).filter((unit) => unit.kind === 'led');
  if (units.length > 0)
    return units.map((unit) => ({
      name: `${part.name}.${unit.name}`,
      pair: [number(unit.pins.A ?? ''), number(unit.pins.K ?? '')],
    }));
  // A buzzer sounds where a lamp would be lit.
  const [plus, minus] = [number('PLUS'), number('MINUS')];
  if (record.category === 'discrete' && record.pins.length === 2 && plus > 0 && minus > 0 && record.symbol === 'module')
    return [{ name: part.name, pair: [plus, minus] }];
  if (record.symbol === 'led') return [{ name: part.name, pair: [number('A'), number('K')] }];
  if (record.symbol === 'digit') {
    const common = number('COM');
    const isAnode = pinsNamed(record, 'CA').length > 0;
    return record.pins
      .filter((pin) => pin.group === 'segments')
      .map((pin) => ({
        name: `${part.name}.${pin.name}`,
        pair: isAnode ? [common, pin.number] : [pin.number, common],
      }));
  }
  return [];
}
