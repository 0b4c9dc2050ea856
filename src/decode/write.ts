// From a fitted device to its fuses and its file. Every row is written, so nothing rests on a default: rows in use hold their
// literals, all others both levels of every pin, which is never true. Pins without a use are left as inputs or never driven.

import { bug } from '../base/index.ts';
import { writeJesd3 } from '../format/jesd3/index.ts';
import type { Cube } from './cover.ts';
import { UNIVERSE } from './cover.ts';
import type { DeviceView } from './devices.ts';
import type { Fitted } from './fit.ts';

/** Cells for eight characters on all three devices. */
const SIGNATURE_BYTES = 8;

/** The fuses of a fitted device: 1 erased, 0 a connection. Of each byte of the signature the highest bit comes first. */
export function makeFuses(fitted: Fitted, signature = ''): Uint8Array {
  const { view, goals } = fitted;
  const fuses = new Uint8Array(view.fuseCount);
  const putRow = (row: number, cube: Cube): void => {
    const first = row * view.width;
    fuses.fill(1, first, first + view.width);
    for (let bits = cube.care; bits !== 0; bits &= bits - 1) {
      const variable = 31 - Math.clz32(bits & -bits);
      const isHigh = ((cube.value >> variable) & 1) === 1;
      fuses[first + columnOf(fitted, variable, isHigh)] = 0;
    }
    if (view.rowFuses !== undefined) fuses[view.rowFuses + row] = 1;
  };
  for (const cell of view.cells) {
    const output = fitted.outputs.find((one) => one.cell === cell);
    if (output === undefined) {
      // Not driven: AC1 = 1 makes an input in simple mode and hands the pin to its never-true enable row in the others. On
      // the 22V10 both fuses at 0 with a never-true enable leave an idle register; as an input the pin must not be one.
      const isInput = fitted.pins.includes(cell.pin);
      if (view.rowFuses !== undefined || isInput) fuses[cell.typeFuse] = 1;
      continue;
    }
    const { goal } = output;
    const rows =
      (goal.registered ? cell.registered : cell.combinational) ?? bug('a cell without rows', { pin: cell.pin });
    fuses[cell.polarityFuse] = output.activeLow ? 0 : 1;
    fuses[cell.typeFuse] = goal.registered ? 0 : view.mode === 'simple' ? 0 : 1;
    for (const [index, cube] of output.sum.entries()) putRow(rows.first + index, cube);
    const hasOwnEnable = cell.enableRow !== undefined && (view.mode === 'cells' || !goal.registered);
    if (hasOwnEnable && goal.enable !== false) putRow(cell.enableRow!, goal.enable === true ? UNIVERSE : goal.enable);
  }
  if (view.resetRow !== undefined && goals.reset !== undefined) putRow(view.resetRow, goals.reset);
  if (view.presetRow !== undefined && goals.preset !== undefined) putRow(view.presetRow, goals.preset);
  for (const [fuse, state] of view.modeFuses) fuses[fuse] = state;
  for (const [at, character] of [...signature].slice(0, SIGNATURE_BYTES).entries()) {
    const code = /[\x20-\x7e]/.test(character) ? character.charCodeAt(0) : '.'.charCodeAt(0);
    for (let bit = 0; bit < 8; bit++) fuses[view.signatureFuse + at * 8 + bit] = (code >> (7 - bit)) & 1;
  }
  return fuses;
}

/** The column of a variable's level. The register of an active-high 22V10 output is seen inverted. */
function columnOf(fitted: Fitted, variable: number, isHigh: boolean): number {
  const pin = fitted.pins[variable]!;
  const pair = fitted.view.columnPins.indexOf(pin);
  if (pair < 0) bug('a variable on a pin without a line', { pin, mode: fitted.view.mode });
  const output = fitted.outputs.find((one) => one.goal.variable === variable);
  const isInverted = fitted.view.mode === 'cells' && output?.goal.registered === true && !output.activeLow;
  return 2 * pair + (isHigh === isInverted ? 1 : 0);
}

/** The text of the fuse file. */
export function writeFuseFile(fitted: Fitted, fuses: Uint8Array, heading: string, vectors: readonly string[]): string {
  const { view } = fitted;
  return writeJesd3({
    designSpecification: heading,
    fuses,
    pinCount: view.pinCount,
    rows: fileRows(view, fitted),
    vectors,
  });
}

function fileRows(view: DeviceView, fitted: Fitted): { first: number; note?: string }[] {
  const rows: { first: number; note?: string }[] = [];
  const notes = new Map<number, string>();
  for (const cell of view.cells) {
    const output = fitted.outputs.find((one) => one.cell === cell);
    const first = cell.enableRow ?? cell.combinational?.first ?? 0;
    notes.set(first, output === undefined ? `pin ${cell.pin}` : `pin ${cell.pin} ${output.goal.name}`);
  }
  for (let row = 0; row < view.rowCount; row++) {
    const note = notes.get(row);
    rows.push({ first: row * view.width, ...(note === undefined ? {} : { note }) });
  }
  const after = view.rowCount * view.width;
  if (view.rowFuses === undefined) {
    rows.push(
      { first: after, note: 'polarity and kind of each output' },
      { first: view.signatureFuse, note: 'signature' },
    );
    return rows;
  }
  rows.push(
    { first: after, note: 'polarity' },
    { first: view.signatureFuse, note: 'signature' },
    { first: view.cells[0]!.typeFuse, note: 'kind of each output' },
    { first: view.rowFuses, note: 'rows in use' },
    { first: view.modeFuses[0]![0], note: 'mode' },
  );
  return rows;
}
