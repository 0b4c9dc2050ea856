// Which module stands for a part type, and where its supply pins are. Types that are no chip here carry no current but through
// resistors: lamps, capacitors, switches left open.

import { readFileSync } from 'node:fs';
import { join } from 'node:path';

export interface Chip {
  readonly module: string;
  readonly pins: number;
  readonly plus: number;
  readonly ground: number;
  /** ns, least and most delay drawn for an instance. */
  readonly delay: readonly [number, number];
  /** Pins the part pulls up inside. */
  readonly pulls?: readonly number[];
  readonly holds?: 'rom' | 'fuses';
  readonly special?: 'oscillator' | 'supervisor' | 'serial';
}

const dip = (pins: number): { pins: number; plus: number; ground: number } => ({ pins, plus: pins, ground: pins / 2 });

const CHIPS: Readonly<Record<string, Chip>> = {
  Z80: { module: 'chip_z80', pins: 40, plus: 11, ground: 29, delay: [20, 50] },
  '28C256': { module: 'chip_28C256', ...dip(28), delay: [80, 140], holds: 'rom' },
  '27C256': { module: 'chip_28C256', ...dip(28), delay: [80, 140], holds: 'rom' },
  '28C64': { module: 'chip_28C64', ...dip(28), delay: [80, 140], holds: 'rom' },
  '62256': { module: 'chip_62256', ...dip(28), delay: [40, 70] },
  '6264': { module: 'chip_6264', ...dip(28), delay: [40, 70] },
  '16C550': { module: 'chip_16C550', ...dip(40), delay: [40, 80] },
  '16C450': { module: 'chip_16C450', ...dip(40), delay: [40, 80] },
  '16V8': { module: 'pld', ...dip(20), delay: [6, 15], holds: 'fuses' },
  '22V10': { module: 'pld', ...dip(24), delay: [5, 10], holds: 'fuses' },
  '6850': { module: 'chip_6850', pins: 24, plus: 12, ground: 1, delay: [60, 150] },
  'Z80-CTC': { module: 'chip_Z80_CTC', pins: 28, plus: 24, ground: 5, delay: [40, 90] },
  'Z80-PIO': { module: 'chip_Z80_PIO', pins: 40, plus: 26, ground: 11, delay: [40, 90] },
  ULN2803: { module: 'chip_ULN2803', pins: 18, plus: -1, ground: 9, delay: [50, 200] },
  'lcd-16': {
    module: 'chip_lcd',
    pins: 16,
    plus: 2,
    ground: 1,
    delay: [60, 160],
    pulls: [7, 8, 9, 10, 11, 12, 13, 14],
  },
  'oscillator-can': { module: 'chip_oscillator', ...dip(14), delay: [1, 1], special: 'oscillator' },
  'oscillator-can-8': { module: 'chip_oscillator_8', ...dip(8), delay: [1, 1], special: 'oscillator' },
  'serial-header-6': {
    module: 'chip_serial6',
    pins: 6,
    plus: -1,
    ground: 1,
    delay: [1, 1],
    special: 'serial',
    pulls: [5],
  },
};

/** Three-lead supervisors: 1 /RST, 2 supply, 3 ground (DS1813), or 1 ground, 2 /RST, 3 supply (DS1233). */
const SUPERVISORS: readonly { readonly type: RegExp; readonly chip: Chip }[] = [
  {
    type: /^DS1813-/,
    chip: {
      module: 'chip_supervisor3',
      pins: 3,
      plus: 2,
      ground: 3,
      delay: [20, 90],
      pulls: [1],
      special: 'supervisor',
    },
  },
  {
    type: /^DS1233-/,
    chip: {
      module: 'chip_supervisor_1233',
      pins: 3,
      plus: 3,
      ground: 1,
      delay: [20, 90],
      pulls: [2],
      special: 'supervisor',
    },
  },
];

/** From the clone's own folder, as all benchmarks and tests are run. */
export const VERILOG = join('benchmarks', 'bringup-source', 'verilog');
/** The modules' text, in the order they are given to the compiler. */
export const SOURCES: readonly string[] = ['z80.v', 'logic.v', 'system.v', 'peripherals.v'].map((name) =>
  join(VERILOG, name),
);
let texts: string | undefined;
const text = (): string => {
  texts ??= SOURCES.map((path) => readFileSync(path, 'utf8')).join('\n');
  return texts;
};

/** The chip of a type; undefined for what is no chip. */
export function chipOf(type: string): Chip | undefined {
  if (Object.hasOwn(CHIPS, type)) return CHIPS[type];
  const logic = /^74[A-Z]*(\d+)$/.exec(type);
  if (logic !== null) {
    const head = new RegExp(`module chip_${logic[1]} .*?input \\[(\\d+):1\\]`).exec(text());
    return head === null ? undefined : { module: `chip_${logic[1]}`, ...dip(Number(head[1])), delay: [5, 20] };
  }
  return SUPERVISORS.find((one) => one.type.test(type))?.chip;
}

/** Types without logic of their own, known to be so; a type that is in neither list must not be passed over in silence. */
export function isPassive(type: string): boolean {
  return /^(?:capacitor|electrolytic|resistor|resistor-upright|resistor-network-\d+|led.*|dip-switch-\d+|push-button|digit-.*|pin-header-.*|keypad-.*|buzzer|trimmer)$/.test(
    type,
  );
}

/** Pins a chip can drive: those its module assigns something else than nothing. */
export function outputsOf(chip: Chip): number[] {
  if (chip.module === 'pld')
    return chip.pins === 20 ? [12, 13, 14, 15, 16, 17, 18, 19] : [14, 15, 16, 17, 18, 19, 20, 21, 22, 23];
  const body = (name: string): string => {
    const found = new RegExp(`module ${name} [\\s\\S]*?endmodule`).exec(text())?.[0] ?? '';
    const inner = /^\s*(chip_\w+|memory28|counter4) #\([^)]*\) g\(/m.exec(found);
    return inner === null ? found : body(inner[1]!);
  };
  const pins = new Set<number>();
  for (const line of body(chip.module).split('\n')) {
    if (!line.includes('assign') || /= 8'bz;/.test(line)) continue;
    for (const found of line.matchAll(/\bo\[(\d+)(?::(\d+))?\]/g))
      for (let pin = Number(found[2] ?? found[1]); pin <= Number(found[1]); pin++) pins.add(pin);
  }
  return [...pins].sort((a, b) => a - b);
}
