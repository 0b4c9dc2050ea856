// Fuse maps of the 16V8, 20V8 and 22V10 as data, for fitting and writing: which pin sits on which array line in which mode,
// which fuses belong to which output. DIP pin numbers. The reading side (explain) has its own table, entered separately.
//
// Sources: 64 x 32 array, eight terms per output: Lattice, Specifications GAL16V8 (1996 data book), p. 3-65; 132 x 44 array
// and the terms of each output: Lattice, GAL22V10, p. 1. Fuse numbers from the devices' logic diagrams, from memory,
// confirmed on fuse files whose equations are known; not reached by any of those: the 20V8 in simple and registered mode,
// AR and SP of the 22V10.

/** The devices that are compiled for. A 16V8 stands for every maker's 16V8. */
export type DeviceName = '16V8' | '20V8' | '22V10';

/** The mode of a whole 16V8 or 20V8; `cells` is the 22V10, where each output is configured by itself. */
export type DeviceMode = 'simple' | 'complex' | 'registered' | 'cells';

/** One output of a device in one mode. Rows are rows of the array, each `width` fuses long. */
export interface OutputCell {
  readonly pin: number;
  /** The row that enables the output, or undefined where it has none in this mode (for combinational use). */
  readonly enableRow: number | undefined;
  /** First row and number of rows of its sum when combinational; undefined where it can't be. */
  readonly combinational: { readonly first: number; readonly count: number } | undefined;
  /** The same when registered. */
  readonly registered: { readonly first: number; readonly count: number } | undefined;
  /** Fuse that chooses polarity: 0 active low, 1 active high. */
  readonly polarityFuse: number;
  /** AC1 of 16V8 and 20V8, S1 of the 22V10. */
  readonly typeFuse: number;
  /** Whether the array sees this output, and so whether the pin can be an input instead. */
  readonly feedback: 'none' | 'input-only' | 'pin-or-register';
}

/** A device in one mode. */
export interface DeviceView {
  readonly device: DeviceName;
  readonly mode: DeviceMode;
  readonly pinCount: number;
  readonly fuseCount: number;
  /** Fuses per row. */
  readonly width: number;
  readonly rowCount: number;
  /** The pin on each pair of columns: 2k is the true line of pair k, 2k + 1 the complement. */
  readonly columnPins: readonly number[];
  /** In the order of the rows. */
  readonly cells: readonly OutputCell[];
  /** Pins of no output, array inputs only, in this mode. */
  readonly inputPins: readonly number[];
  /** Clock of the registers; undefined in a mode without. */
  readonly clockPin: number | undefined;
  /** The pin that enables all registered outputs when low (16V8, 20V8 registered). */
  readonly enablePin: number | undefined;
  readonly resetRow: number | undefined;
  readonly presetRow: number | undefined;
  /** Fuses that are set the same in every file of this mode. */
  readonly modeFuses: readonly (readonly [number, 0 | 1])[];
  /** First fuse of the eight signature bytes. */
  readonly signatureFuse: number;
  /** First of the fuses that put a row in use, one per row; undefined for the 22V10. */
  readonly rowFuses: number | undefined;
  readonly groundPin: number;
  readonly supplyPin: number;
}

interface V8Numbers {
  readonly device: '16V8' | '20V8';
  readonly pinCount: number;
  readonly fuseCount: number;
  readonly width: number;
  readonly outputs: readonly number[];
  readonly polarity: number;
  readonly signature: number;
  readonly type: number;
  readonly rows: number;
  readonly syn: number;
  readonly ac0: number;
  readonly enablePin: number;
  readonly columns: Readonly<Record<'simple' | 'complex' | 'registered', readonly number[]>>;
}

const V8: Readonly<Record<'16V8' | '20V8', V8Numbers>> = {
  '16V8': {
    device: '16V8',
    pinCount: 20,
    fuseCount: 2194,
    width: 32,
    outputs: [19, 18, 17, 16, 15, 14, 13, 12],
    polarity: 2048,
    signature: 2056,
    type: 2120,
    rows: 2128,
    syn: 2192,
    ac0: 2193,
    enablePin: 11,
    columns: {
      simple: [2, 1, 3, 19, 4, 18, 5, 17, 6, 14, 7, 13, 8, 12, 9, 11],
      complex: [2, 1, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 11],
      registered: [2, 19, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 12],
    },
  },
  '20V8': {
    device: '20V8',
    pinCount: 24,
    fuseCount: 2706,
    width: 40,
    outputs: [22, 21, 20, 19, 18, 17, 16, 15],
    polarity: 2560,
    signature: 2568,
    type: 2632,
    rows: 2640,
    syn: 2704,
    ac0: 2705,
    enablePin: 13,
    columns: {
      simple: [2, 1, 3, 23, 4, 22, 5, 21, 6, 20, 7, 17, 8, 16, 9, 15, 10, 14, 11, 13],
      complex: [2, 1, 3, 23, 4, 21, 5, 20, 6, 19, 7, 18, 8, 17, 9, 16, 10, 14, 11, 13],
      registered: [2, 23, 3, 22, 4, 21, 5, 20, 6, 19, 7, 18, 8, 17, 9, 16, 10, 15, 11, 14],
    },
  },
};

function viewV8(numbers: V8Numbers, mode: 'simple' | 'complex' | 'registered'): DeviceView {
  const columnPins = numbers.columns[mode];
  const cells = numbers.outputs.map((pin, index): OutputCell => {
    const first = index * 8;
    const seven = { first: first + 1, count: 7 };
    return {
      pin,
      enableRow: mode === 'simple' ? undefined : first,
      combinational: mode === 'simple' ? { first, count: 8 } : seven,
      registered: mode === 'registered' ? { first, count: 8 } : undefined,
      polarityFuse: numbers.polarity + index,
      typeFuse: numbers.type + index,
      // Whether a simple-mode output can be read back differs between descriptions of the part: it is never relied on.
      feedback: !columnPins.includes(pin) ? 'none' : mode === 'simple' ? 'input-only' : 'pin-or-register',
    };
  });
  const syn = mode === 'registered' ? 0 : 1;
  const ac0 = mode === 'simple' ? 0 : 1;
  return {
    device: numbers.device,
    mode,
    pinCount: numbers.pinCount,
    fuseCount: numbers.fuseCount,
    width: numbers.width,
    rowCount: 64,
    columnPins,
    cells,
    inputPins: [...columnPins].filter((pin) => !numbers.outputs.includes(pin)).sort((a, b) => a - b),
    clockPin: mode === 'registered' ? 1 : undefined,
    enablePin: mode === 'registered' ? numbers.enablePin : undefined,
    resetRow: undefined,
    presetRow: undefined,
    modeFuses: [
      [numbers.syn, syn],
      [numbers.ac0, ac0],
    ],
    signatureFuse: numbers.signature,
    rowFuses: numbers.rows,
    groundPin: numbers.pinCount / 2,
    supplyPin: numbers.pinCount,
  };
}

/** Pin, enable row, first and number of its terms' rows, S0 and S1. */
const CELLS_22V10: readonly (readonly [number, number, number, number, number, number])[] = [
  [23, 1, 2, 8, 5808, 5809],
  [22, 10, 11, 10, 5810, 5811],
  [21, 21, 22, 12, 5812, 5813],
  [20, 34, 35, 14, 5814, 5815],
  [19, 49, 50, 16, 5816, 5817],
  [18, 66, 67, 16, 5818, 5819],
  [17, 83, 84, 14, 5820, 5821],
  [16, 98, 99, 12, 5822, 5823],
  [15, 111, 112, 10, 5824, 5825],
  [14, 122, 123, 8, 5826, 5827],
];

const VIEW_22V10: DeviceView = {
  device: '22V10',
  mode: 'cells',
  pinCount: 24,
  fuseCount: 5892,
  width: 44,
  rowCount: 132,
  columnPins: [1, 23, 2, 22, 3, 21, 4, 20, 5, 19, 6, 18, 7, 17, 8, 16, 9, 15, 10, 14, 11, 13],
  cells: CELLS_22V10.map(([pin, enableRow, first, count, polarityFuse, typeFuse]) => ({
    pin,
    enableRow,
    combinational: { first, count },
    registered: { first, count },
    polarityFuse,
    typeFuse,
    feedback: 'pin-or-register',
  })),
  inputPins: [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13],
  clockPin: 1,
  enablePin: undefined,
  resetRow: 0,
  presetRow: 131,
  modeFuses: [],
  signatureFuse: 5828,
  rowFuses: undefined,
  groundPin: 12,
  supplyPin: 24,
};

const VIEWS: readonly DeviceView[] = [
  viewV8(V8['16V8'], 'simple'),
  viewV8(V8['16V8'], 'complex'),
  viewV8(V8['16V8'], 'registered'),
  viewV8(V8['20V8'], 'simple'),
  viewV8(V8['20V8'], 'complex'),
  viewV8(V8['20V8'], 'registered'),
  VIEW_22V10,
];

/** The modes of a device, the one that gives most to combinational outputs first. */
export function viewsOf(device: DeviceName): readonly DeviceView[] {
  return VIEWS.filter((view) => view.device === device);
}

/** The device that a type's name means (`16V8`, `GAL16V8D`, `ATF22V10C`), or undefined. */
export function findDevice(name: string): DeviceName | undefined {
  const match = /(?:^|[^0-9])(16V8|20V8|22V10)/i.exec(name);
  return match === null ? undefined : (match[1]!.toUpperCase() as DeviceName);
}

/** Devices in order of size: where something does not fit, the ones after it are tried for the advice. */
export const DEVICES: readonly DeviceName[] = ['16V8', '20V8', '22V10'];
