// The colours and type of every drawing, as data: two grounds, paper by day and slate by night. Style.ts makes the CSS of it.
// Text is ink or ink2 only (7:1 or better on both grounds); hue belongs to wires and to the three verdicts.

export type Ground = 'paper' | 'slate';

/** IEC 60757 codes of the twelve insulation colours. */
export const WIRE_CODES = ['BK', 'BN', 'RD', 'OG', 'YE', 'GN', 'TQ', 'BU', 'VT', 'GY', 'WH', 'PK'] as const;
export type WireCode = (typeof WIRE_CODES)[number];

/** The English names of the codes, for titles and for speech. */
export const WIRE_NAMES: Readonly<Record<WireCode, string>> = {
  BK: 'black',
  BN: 'brown',
  RD: 'red',
  OG: 'orange',
  YE: 'yellow',
  GN: 'green',
  TQ: 'turquoise',
  BU: 'blue',
  VT: 'violet',
  GY: 'grey',
  WH: 'white',
  PK: 'pink',
};

/** The colours of one ground. Lower-case hexadecimal values as CSS takes them. */
export interface GroundColours {
  readonly scheme: 'light' | 'dark';
  /** By name: `ground` is the table, `sheet` the drawing sheet, `ink` and `ink-2` text and lines, `mark` the highlighter. */
  readonly plain: Readonly<Record<string, string>>;
  /** Wire core, its casing where the core is under 3:1 on the sheet, and the colour of a thin planned line. */
  readonly wire: Readonly<Record<WireCode, readonly [core: string, casing: string, planned: string]>>;
}

const NONE = 'transparent';

export const COLOURS: Readonly<Record<Ground, GroundColours>> = {
  paper: {
    scheme: 'light',
    plain: {
      ground: '#F3F2EC',
      sheet: '#FAF9F5',
      ink: '#14202B',
      'ink-2': '#414D59',
      line: '#8A9299',
      hair: '#CCCAC0',
      hole: '#A9A79C',
      strip: '#E6E3D8',
      mark: '#FFE45C',
      'mark-2': '#FFF1A8',
      'halo-c': '#FFE45C',
      'halo-e': '#FFE45C',
      'mark-edge': '#A98400',
      fault: '#9E1B12',
      doubt: '#6F4700',
      proved: '#00553F',
      'fault-wash': '#F6DDD6',
      'doubt-wash': '#F6E7C8',
      'proved-wash': '#D8EBE1',
    },
    wire: {
      BK: ['#1B1817', NONE, '#1B1817'],
      BN: ['#612F00', NONE, '#612F00'],
      RD: ['#E1101F', NONE, '#E1101F'],
      OG: ['#F57A05', '#A34B00', '#C45C00'],
      YE: ['#FADB3B', '#6E5900', '#8A7100'],
      GN: ['#157E49', NONE, '#157E49'],
      TQ: ['#27CFDE', '#0B6F7A', '#0A8390'],
      BU: ['#1F469E', NONE, '#1F469E'],
      VT: ['#9858B9', NONE, '#9858B9'],
      GY: ['#7D868F', NONE, '#6F7880'],
      WH: ['#FCFCFB', '#5A6067', '#5A6067'],
      PK: ['#FC93A8', '#A84A5E', '#C2556F'],
    },
  },
  slate: {
    scheme: 'dark',
    plain: {
      ground: '#12191E',
      sheet: '#182026',
      ink: '#EDF1EC',
      'ink-2': '#A9B6BA',
      line: '#66757E',
      hair: '#303C44',
      hole: '#47545C',
      strip: '#26323A',
      mark: '#5B4B00',
      'mark-2': '#33300F',
      'halo-c': '#4A3E00',
      'halo-e': '#E0B500',
      'mark-edge': '#FFD93B',
      fault: '#FF9E92',
      doubt: '#F7C266',
      proved: '#6FDDB5',
      'fault-wash': '#43201C',
      'doubt-wash': '#3A2D12',
      'proved-wash': '#12352B',
    },
    wire: {
      BK: ['#010101', '#A9B6BA', '#A9B6BA'],
      BN: ['#874317', '#D39B72', '#C07C49'],
      RD: ['#DD484A', NONE, '#F06A68'],
      OG: ['#F88D20', NONE, '#F88D20'],
      YE: ['#FAE750', NONE, '#FAE750'],
      GN: ['#26C474', NONE, '#26C474'],
      TQ: ['#5FE9F7', NONE, '#5FE9F7'],
      BU: ['#4B89F8', NONE, '#6BA0FF'],
      VT: ['#895EB1', NONE, '#A17CC6'],
      GY: ['#868E94', NONE, '#868E94'],
      WH: ['#FDFEFB', NONE, '#FDFEFB'],
      PK: ['#FDA1B2', NONE, '#FDA1B2'],
    },
  },
};

/** Font stacks: words, and names of pins, nets and holes. */
export const FONTS = {
  sans: '"Atkinson Hyperlegible Next", system-ui, sans-serif',
  mono: '"Atkinson Hyperlegible Mono", ui-monospace, monospace',
} as const;

/** Whether `code` is one of the twelve. Anything else is drawn in ink. */
export function isWireCode(code: string): code is WireCode {
  return (WIRE_CODES as readonly string[]).includes(code);
}

/** "violet" for VT; the code itself where it is none of the twelve. */
export function wireName(code: string): string {
  return isWireCode(code) ? WIRE_NAMES[code] : code;
}
