// Quantities as builders write them: "3.6864 MHz", "10 kohm", "32 KiB", "4.75 V", "0.1 %". Values are held in the plain
// SI unit (V, A, ohm, F, H, Hz, s, m, m2 never) or in bytes; IEC 60062 marks (4k7, 100n, 2R2) are read where a part value stands.

/** What a quantity measures. `plain` is a bare number. */
export type Dimension =
  | 'voltage'
  | 'current'
  | 'resistance'
  | 'capacitance'
  | 'inductance'
  | 'frequency'
  | 'time'
  | 'length'
  | 'size'
  | 'ratio'
  | 'plain';

export interface Quantity {
  readonly dimension: Dimension;
  /** In the SI unit of the dimension; size in bytes; ratio as a fraction (5 % is 0.05). */
  readonly value: number;
}

const PREFIX: Readonly<Record<string, number>> = {
  p: 1e-12,
  n: 1e-9,
  u: 1e-6,
  µ: 1e-6,
  μ: 1e-6,
  m: 1e-3,
  '': 1,
  k: 1e3,
  K: 1e3,
  M: 1e6,
  G: 1e9,
};

const UNITS: readonly (readonly [string, Dimension])[] = [
  ['ohms', 'resistance'],
  ['ohm', 'resistance'],
  ['Ω', 'resistance'],
  ['Ω', 'resistance'],
  ['Hz', 'frequency'],
  ['hz', 'frequency'],
  ['V', 'voltage'],
  ['A', 'current'],
  ['F', 'capacitance'],
  ['H', 'inductance'],
  ['s', 'time'],
  ['m', 'length'],
];

const BYTES: Readonly<Record<string, number>> = {
  B: 1,
  byte: 1,
  bytes: 1,
  KiB: 1024,
  kB: 1000,
  K: 1024,
  MiB: 1048576,
  MB: 1000000,
};

const NUMBER = /^[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?/;

/** Multiplies without the dust of binary fractions: 3.3 k is 3300, 0.1 u is 1e-7. */
function scaled(number: number, factor: number): number {
  const product = number * factor;
  return Number(product.toPrecision(12));
}

/** Reads a quantity, or undefined when the text is none. Prefixes are case-sensitive but for k/K. */
export function parseQuantity(text: string): Quantity | undefined {
  const trimmed = text.trim();
  const hex = /^0x[0-9a-f]+$/i.exec(trimmed);
  if (hex !== null) return { dimension: 'plain', value: Number.parseInt(trimmed.slice(2), 16) };
  const match = NUMBER.exec(trimmed);
  if (match === null) return undefined;
  const number = Number(match[0]);
  if (!Number.isFinite(number)) return undefined;
  const unit = trimmed.slice(match[0].length).trim();
  if (unit === '') return { dimension: 'plain', value: number };
  if (unit === '%') return { dimension: 'ratio', value: scaled(number, 0.01) };
  if (unit === 'ppm') return { dimension: 'ratio', value: scaled(number, 1e-6) };
  const bytes = Object.hasOwn(BYTES, unit) ? BYTES[unit] : undefined;
  if (bytes !== undefined) return { dimension: 'size', value: number * bytes };
  for (const [name, dimension] of UNITS) {
    if (!unit.endsWith(name)) continue;
    const prefix = unit.slice(0, unit.length - name.length).trim();
    const factor = Object.hasOwn(PREFIX, prefix) ? PREFIX[prefix] : undefined;
    if (factor !== undefined) return { dimension, value: scaled(number, factor) };
  }
  return undefined;
}

/**
 * Reads a part value of a known dimension: a quantity with its unit ("10 kohm", "100 nF"), the unit left out ("10 k",
 * "100 n"), or an IEC 60062 mark with the prefix as the decimal point ("4k7", "2R2", "100n", "3p3").
 */
export function parseValue(text: string, dimension: Dimension): number | undefined {
  const quantity = parseQuantity(text);
  if (quantity !== undefined && quantity.dimension === dimension) return quantity.value;
  const mark = /^(\d+)(p|n|u|µ|μ|m|R|r|k|K|M|G)(\d*)$/.exec(text.replace(/\s+/g, ''));
  if (mark !== null) {
    const factor = mark[2] === 'R' || mark[2] === 'r' ? 1 : PREFIX[mark[2]!];
    if (factor !== undefined) return scaled(Number(`${mark[1]}.${mark[3] === '' ? '0' : mark[3]}`), factor);
  }
  if (quantity !== undefined && quantity.dimension === 'plain') return quantity.value;
  return undefined;
}

const SYMBOL: Readonly<Record<Dimension, string>> = {
  voltage: 'V',
  current: 'A',
  resistance: 'ohm',
  capacitance: 'F',
  inductance: 'H',
  frequency: 'Hz',
  time: 's',
  length: 'm',
  size: 'B',
  ratio: '%',
  plain: '',
};

/** Writes a value with at most `digits` significant digits and the prefix that leaves 1 to 999 before the point. */
export function formatQuantity(value: number, dimension: Dimension, digits = 5): string {
  const unit = SYMBOL[dimension];
  if (dimension === 'ratio') return `${Number((value * 100).toPrecision(digits))} %`;
  if (dimension === 'plain') return String(Number(value.toPrecision(digits)));
  if (dimension === 'size') {
    if (value >= 1048576 && value % 1048576 === 0) return `${value / 1048576} MiB`;
    if (value >= 1024 && value % 1024 === 0) return `${value / 1024} KiB`;
    return `${value} B`;
  }
  if (value === 0) return `0 ${unit}`;
  const steps: readonly (readonly [number, string])[] = [
    [1e9, 'G'],
    [1e6, 'M'],
    [1e3, 'k'],
    [1, ''],
    [1e-3, 'm'],
    [1e-6, 'u'],
    [1e-9, 'n'],
    [1e-12, 'p'],
  ];
  const size = Math.abs(value);
  const step = steps.find(([factor]) => size >= factor * (1 - 1e-9)) ?? [1e-12, 'p'];
  return `${Number((value / step[0]).toPrecision(digits))} ${step[1]}${unit}`;
}

/** An address or port as `0x` and at least `digits` upper-case hexadecimal digits. */
export function formatHex(value: number, digits = 4): string {
  return `0x${value.toString(16).toUpperCase().padStart(digits, '0')}`;
}
