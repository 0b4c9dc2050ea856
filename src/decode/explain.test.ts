// The reading side against fuses set one by one from the published maps, with no help from the writing side; and the two
// sides' tables against each other.

import { expect, test } from 'vitest';
import { viewsOf } from './devices.ts';
import { explainFuses } from './explain.ts';
import { readMap22V10, readMapV8, terms22V10 } from './explain-map.ts';

const codes = (found: readonly { code: string }[]): string[] => found.map((one) => one.code);

test('both tables of array lines and rows agree', () => {
  for (const device of ['16V8', '20V8', '22V10'] as const)
    for (const view of viewsOf(device)) {
      const map = view.mode === 'cells' ? readMap22V10() : readMapV8(device === '16V8' ? 20 : 24, view.mode);
      const pairs = map.left.flatMap((pin, k) => [pin, map.right[k]!]);
      expect(view.columnPins, `${device} ${view.mode}`).toEqual(pairs);
      expect(view.cells.map((cell) => cell.pin)).toEqual(map.outputs);
      expect(view.width).toBe(2 * pairs.length);
    }
  const [cells] = viewsOf('22V10');
  expect(cells!.cells.map((cell) => cell.combinational!.count)).toEqual(cells!.cells.map((_, k) => terms22V10(k)));
  let row = 1;
  for (const cell of cells!.cells) {
    expect([cell.enableRow, cell.combinational!.first]).toEqual([row, row + 1]);
    row += 1 + cell.combinational!.count;
  }
  expect(row).toBe(cells!.presetRow);
});

/** An erased-to-zero device with `rows` connected: row number to columns that are connected (fuse 0), the rest of the row 1. */
function fusesOf(count: number, width: number, rows: Record<number, number[]>, set: number[]): Uint8Array {
  const fuses = new Uint8Array(count);
  for (const [row, columns] of Object.entries(rows)) {
    fuses.fill(1, Number(row) * width, Number(row) * width + width);
    for (const column of columns) fuses[Number(row) * width + column] = 0;
  }
  for (const fuse of set) fuses[fuse] = 1;
  return fuses;
}
const ptd = (...rows: number[]): number[] => rows.map((row) => 2128 + row);
/** AC1 of pins that are not used. */
const spare16V8 = (...used: number[]): number[] =>
  [0, 1, 2, 3, 4, 5, 6, 7].filter((k) => !used.includes(k)).map((k) => 2120 + k);

test('16V8 simple: pin 19 is 2 and not 3', () => {
  // Columns of the simple map: pair 0 pin 2, pair 2 pin 3; complement lines odd.
  const fuses = fusesOf(2194, 32, { 0: [0, 5] }, [2048, ...spare16V8(0), ...ptd(0), 2192]);
  const { value, findings } = explainFuses(fuses, '16V8');
  expect(value!.mode).toBe('simple');
  expect(value!.outputs).toEqual([
    {
      pin: 19,
      registered: false,
      activeLow: false,
      enable: true,
      terms: [
        [
          { pin: 2, level: 1 },
          { pin: 3, level: 0 },
        ],
      ],
      feedbackFrom: 'none',
    },
  ]);
  expect(findings).toEqual([]);
});

test('16V8 complex: enable row, feedback of pin 18, none of pin 19', () => {
  const set = [...spare16V8(), ...ptd(0, 1, 8, 9), 2192, 2193];
  // Rows 0 and 8 enable; pair 3 is pin 18 in this mode.
  const { value, findings } = explainFuses(fusesOf(2194, 32, { 0: [], 1: [6], 8: [1], 9: [0] }, set), '16V8');
  expect(value!.outputs.map((one) => [one.pin, one.enable, one.terms, one.feedbackFrom])).toEqual([
    [19, true, [[{ pin: 18, level: 1 }]], 'none'],
    [18, [[{ pin: 2, level: 0 }]], [[{ pin: 2, level: 1 }]], 'pin'],
  ]);
  expect(findings).toEqual([]);
});

test('16V8 registered: common enable on pin 11, registers at pin level in both polarities, high after power-up', () => {
  for (const xor of [[], [2048]]) {
    const set = [...xor, ...spare16V8(0), ...ptd(0), 2193];
    const { value } = explainFuses(fusesOf(2194, 32, { 0: [3] }, set), '16V8'); // pair 1 is pin 19, complement
    expect(value!.outputs).toEqual([
      {
        pin: 19,
        registered: true,
        activeLow: xor.length === 0,
        enable: [[{ pin: 11, level: 0 }]],
        terms: [[{ pin: 19, level: 0 }]],
        feedbackFrom: 'register',
        powerUp: 1,
      },
    ]);
    expect(value!.clockPin).toBe(1);
  }
});

test('20V8: fuse counts and lines of its own', () => {
  const spare = [1, 2, 3, 4, 5, 6, 7].map((k) => 2632 + k);
  const fuses = fusesOf(2706, 40, { 0: [6, 39] }, [2560, ...spare, 2640, 2704]); // pair 3 pin 23, pair 19 pin 13
  const { value } = explainFuses(fuses, '20V8');
  expect(value!.outputs.map((one) => [one.pin, one.terms])).toEqual([
    [
      22,
      [
        [
          { pin: 13, level: 0 },
          { pin: 23, level: 1 },
        ],
      ],
    ],
  ]);
});

test('22V10: an active-high register is seen inverted, an active-low one at pin level', () => {
  // Pin 23: enable row 1, terms from row 2; true line of pin 23 is column 2.
  const high = explainFuses(fusesOf(5892, 44, { 1: [], 2: [2] }, [5808]), '22V10').value!;
  expect(high.outputs[0]).toMatchObject({ activeLow: false, registered: true, powerUp: 0 });
  expect(high.outputs[0]!.terms).toEqual([[{ pin: 23, level: 0 }]]);
  const low = explainFuses(fusesOf(5892, 44, { 1: [], 2: [2] }, []), '22V10').value!;
  expect(low.outputs[0]).toMatchObject({ activeLow: true, registered: true, powerUp: 1 });
  expect(low.outputs[0]!.terms).toEqual([[{ pin: 23, level: 1 }]]);
});

test('22V10: reset, preset, and feedback that the pin need not show', () => {
  const { value } = explainFuses(fusesOf(5892, 44, { 0: [4], 1: [0], 2: [2], 131: [9] }, []), '22V10');
  expect(value!.reset).toEqual([[{ pin: 2, level: 1 }]]);
  expect(value!.preset).toEqual([[{ pin: 3, level: 0 }]]);
  expect(value!.outputs[0]!.enable).toEqual([[{ pin: 1, level: 1 }]]);
  expect(value!.outputs[0]!.terms).toEqual([[{ pin: 23, level: 1, feedback: true }]]);
});

test('22V10: a combinational pin, and files without signature or with a power-down fuse', () => {
  const rows = { 1: [], 2: [0] };
  for (const [count, expected] of [
    [5892, []],
    [5828, []],
    [5893, ['decode/power-down-fuse']],
  ] as const) {
    const { value, findings } = explainFuses(fusesOf(count, 44, rows, [5808, 5809]), '22V10');
    expect(value!.outputs).toMatchObject([{ pin: 23, registered: false, activeLow: false, enable: true }]);
    expect(codes(findings)).toEqual(expected);
  }
});

test('22V10: a register inside a pin that is never driven is told apart', () => {
  const { value, findings } = explainFuses(fusesOf(5892, 44, { 2: [2], 10: [], 11: [2] }, [5811]), '22V10');
  expect(value!.buried.map((one) => one.pin)).toEqual([23]);
  expect(value!.outputs.map((one) => one.pin)).toEqual([22]);
  expect(value!.outputs[0]!.terms).toEqual([[{ pin: 23, level: 1, feedback: true }]]);
  expect(codes(findings)).toEqual(['decode/never-enabled']);
});

test('traps are told', () => {
  const told = (fuses: Uint8Array, device: '16V8' | '22V10' = '16V8'): string[] =>
    codes(explainFuses(fuses, device).findings);
  // A row without its row fuse counts for nothing.
  expect(told(fusesOf(2194, 32, { 0: [0] }, [...spare16V8(0), 2192]))).toEqual([
    'decode/terms-disabled',
    'decode/constant-output',
  ]);
  // No term in simple mode: driven all the same.
  expect(told(fusesOf(2194, 32, {}, [...spare16V8(3), 2192]))).toEqual(['decode/constant-output']);
  // No mode.
  expect(told(fusesOf(2194, 32, {}, []))).toEqual(['decode/illegal-mode']);
  // Complex mode with terms but no enable row.
  expect(told(fusesOf(2194, 32, { 1: [0] }, [...spare16V8(), ...ptd(1), 2192, 2193]))).toEqual([
    'decode/never-enabled',
  ]);
  // Simple mode: pin 18 reads pin 19, an output.
  const readBack = fusesOf(2194, 32, { 0: [0], 8: [6] }, [...spare16V8(0, 1), ...ptd(0, 8), 2192]);
  expect(told(readBack)).toEqual(['decode/output-read-back']);
  // A reset row of all ones.
  expect(told(fusesOf(5892, 44, { 0: [], 1: [], 2: [0] }, []), '22V10')).toEqual(['decode/always-reset']);
  // One fuse more than the plain device has.
  expect(told(fusesOf(2195, 32, {}, [...spare16V8(), 2192]))).toEqual(['decode/power-down-fuse']);
  // Another device.
  expect(told(new Uint8Array(5892))).toEqual(['decode/wrong-device']);
  expect(explainFuses(new Uint8Array(5892), '16V8').findings[0]!.help).toContain('22V10');
});

test('signature bytes, first fuse of each the highest bit', () => {
  const text = 'TIDE-01 ';
  const set = [...text].flatMap((c, byte) =>
    [7, 6, 5, 4, 3, 2, 1, 0].flatMap((bit, k) => ((c.charCodeAt(0) >> bit) & 1 ? [2056 + 8 * byte + k] : [])),
  );
  expect(explainFuses(fusesOf(2194, 32, {}, [...spare16V8(), ...set, 2192]), '16V8').value!.signature).toBe(text);
});
