// Makers' function tables restated as data; function-tables.test.ts runs the records' behaviour against them. A table whose
// source is `from memory` is no outside check and says so.

/** A function table of one part. */
export interface Table {
  readonly part: string;
  readonly source: string;
  /** Names of inputs, then of outputs. `#` stands for each value of `repeat`. */
  readonly inputs: string;
  readonly outputs: string;
  readonly repeat?: readonly string[];
  /**
   * Levels of the inputs, a bar, levels of the outputs. Inputs: L, H, X either, ^ rising, v falling. Outputs: L, H, Z, the
   * name of an input whose level appears, ~ before it for its complement, = unchanged, ! inverted from before.
   */
  readonly rows: readonly string[];
}

/** Every table restated. */
export const TABLES: readonly Table[] = [
  {
    part: '74x138',
    source: 'TI SN74HC138 data sheet SCLS107G (Oct 2021), table 8-1',
    inputs: 'G1 /G2A /G2B C B A',
    outputs: '/Y0 /Y1 /Y2 /Y3 /Y4 /Y5 /Y6 /Y7',
    rows: [
      'X H X X X X | H H H H H H H H',
      'X X H X X X | H H H H H H H H',
      'L X X X X X | H H H H H H H H',
      'H L L L L L | L H H H H H H H',
      'H L L L L H | H L H H H H H H',
      'H L L L H L | H H L H H H H H',
      'H L L L H H | H H H L H H H H',
      'H L L H L L | H H H H L H H H',
      'H L L H L H | H H H H H L H H',
      'H L L H H L | H H H H H H L H',
      'H L L H H H | H H H H H H H L',
    ],
  },
  {
    part: '74x74',
    source: 'TI SN74HCS74 data sheet, table 8-1',
    inputs: '/#PRE /#CLR #CLK #D',
    outputs: '#Q /#Q',
    repeat: ['1', '2'],
    rows: ['L H X X | H L', 'H L X X | L H', 'L L X X | H H', 'H H ^ H | H L', 'H H ^ L | L H', 'H H L X | = ='],
  },
  {
    part: '74x273',
    source: 'TI SN74HCT273 data sheet SCLS068G (Jul 2022), table 8-1',
    inputs: '/CLR CLK #D',
    outputs: '#Q',
    repeat: ['1', '2', '3', '4', '5', '6', '7', '8'],
    rows: ['L X X | L', 'H ^ H | H', 'H ^ L | L', 'H L X | ='],
  },
  {
    part: '74x245',
    source: 'TI SN74HCT245 data sheet SCLS020H (Dec 2022), function table',
    inputs: '/OE DIR A# B#',
    outputs: 'A# B#',
    repeat: ['1', '2', '3', '4', '5', '6', '7', '8'],
    rows: ['L L X X | B# Z', 'L H X X | Z A#', 'H X X X | Z Z'],
  },
  {
    part: '74x151',
    source: 'TI CD74HC151 data sheet SCHS150D (Nov 2021), function table',
    inputs: 'C B A /G D0 D1 D2 D3 D4 D5 D6 D7',
    outputs: 'Y W',
    rows: [
      'X X X H X X X X X X X X | L H',
      'L L L L X X X X X X X X | D0 ~D0',
      'L L H L X X X X X X X X | D1 ~D1',
      'L H L L X X X X X X X X | D2 ~D2',
      'L H H L X X X X X X X X | D3 ~D3',
      'H L L L X X X X X X X X | D4 ~D4',
      'H L H L X X X X X X X X | D5 ~D5',
      'H H L L X X X X X X X X | D6 ~D6',
      'H H H L X X X X X X X X | D7 ~D7',
    ],
  },
  {
    part: '74x153',
    source: 'TI CD74ACT153 data sheet SCHS339 (Mar 2003), function table',
    inputs: 'B A #C0 #C1 #C2 #C3 /#G',
    outputs: '#Y',
    repeat: ['1', '2'],
    rows: [
      'X X X X X X H | L',
      'L L X X X X L | #C0',
      'L H X X X X L | #C1',
      'H L X X X X L | #C2',
      'H H X X X X L | #C3',
    ],
  },
  {
    part: '74x173',
    source: 'TI CD74HC173 data sheet SCHS158F (Mar 2022), table 7-1, outputs enabled',
    inputs: 'CLR CLK /G1 /G2 #D /M /N',
    outputs: '#Q',
    repeat: ['1', '2', '3', '4'],
    rows: [
      'H X X X X L L | L',
      'L L X X X L L | =',
      'L ^ H X X L L | =',
      'L ^ X H X L L | =',
      'L ^ L L L L L | L',
      'L ^ L L H L L | H',
      'L L X X X H X | Z',
      'L L X X X X H | Z',
    ],
  },
  {
    part: '74x164',
    source: 'TI SN74HCS164 data sheet SCLS827B (Dec 2021), function table',
    inputs: 'A B /CLR CLK',
    outputs: 'QA',
    rows: ['X X L X | L', 'L X H ^ | L', 'X L H ^ | L', 'H H H ^ | H', 'X X H L | ='],
  },
  {
    part: '74x373',
    source: 'TI CD74HCT373 data sheet SCLS453E (Jun 2022), description',
    inputs: '/OE LE #D',
    outputs: '#Q',
    repeat: ['1', '2', '3', '4', '5', '6', '7', '8'],
    rows: ['L H X | #D', 'L L X | =', 'H X X | Z'],
  },
  {
    part: '74x573',
    source: 'TI CD74HCT573 data sheet SCLS455E (Jun 2022), description',
    inputs: '/OE LE #D',
    outputs: '#Q',
    repeat: ['1', '2', '3', '4', '5', '6', '7', '8'],
    rows: ['L H X | #D', 'L L X | =', 'H X X | Z'],
  },
  {
    part: '74x541',
    source: 'TI CD74HC541 data sheet SCHS189E (Oct 2022), overview',
    inputs: '/OE1 /OE2 A#',
    outputs: 'Y#',
    repeat: ['1', '2', '3', '4', '5', '6', '7', '8'],
    rows: ['L L X | A#', 'H X X | Z', 'X H X | Z'],
  },
  {
    part: '74x540',
    source: 'TI CD74HC540 data sheet SCHS189E (Oct 2022), overview',
    inputs: '/OE1 /OE2 A#',
    outputs: 'Y#',
    repeat: ['1', '2', '3', '4', '5', '6', '7', '8'],
    rows: ['L L X | ~A#', 'H X X | Z', 'X H X | Z'],
  },
  {
    part: '74x593',
    source: 'W. Toomey, notes on the 74LS593, bench tests (minnie.tuhs.org, Apr 2019)',
    inputs: 'G /G',
    outputs: 'A/QA H/QH',
    rows: ['L L | Z Z', 'L H | Z Z', 'H L | = =', 'H H | Z Z'],
  },
  {
    part: '74x109',
    source: 'from memory',
    inputs: '/#PRE /#CLR #CLK #J /#K',
    outputs: '#Q /#Q',
    repeat: ['1', '2'],
    rows: [
      'L H X X X | H L',
      'H L X X X | L H',
      'L L X X X | H H',
      'H H ^ L L | L H',
      'H H ^ H L | ! !',
      'H H ^ L H | = =',
      'H H ^ H H | H L',
      'H H L X X | = =',
    ],
  },
  {
    part: '74x107',
    source: 'from memory',
    inputs: '/#CLR #CLK #J #K',
    outputs: '#Q /#Q',
    repeat: ['1', '2'],
    rows: ['L X X X | L H', 'H v L L | = =', 'H v H L | H L', 'H v L H | L H', 'H v H H | ! !', 'H H X X | = ='],
  },
  {
    part: '74x148',
    source: 'from memory',
    inputs: '/EI /I0 /I1 /I2 /I3 /I4 /I5 /I6 /I7',
    outputs: '/A2 /A1 /A0 /GS EO',
    rows: [
      'H X X X X X X X X | H H H H H',
      'L H H H H H H H H | H H H H L',
      'L X X X X X X X L | L L L L H',
      'L X X X X X X L H | L L H L H',
      'L X X X X X L H H | L H L L H',
      'L X X X X L H H H | L H H L H',
      'L X X X L H H H H | H L L L H',
      'L X X L H H H H H | H L H L H',
      'L X L H H H H H H | H H L L H',
      'L L H H H H H H H | H H H L H',
    ],
  },
  {
    part: '74x157',
    source: 'from memory',
    inputs: '/G /A/B #A #B',
    outputs: '#Y',
    repeat: ['1', '2', '3', '4'],
    rows: ['H X X X | L', 'L L X X | #A', 'L H X X | #B'],
  },
  {
    part: '74x158',
    source: 'from memory',
    inputs: '/G /A/B #A #B',
    outputs: '#Y',
    repeat: ['1', '2', '3', '4'],
    rows: ['H X X X | H', 'L L X X | ~#A', 'L H X X | ~#B'],
  },
  {
    part: '74x257',
    source: 'from memory',
    inputs: '/OE /A/B #A #B',
    outputs: '#Y',
    repeat: ['1', '2', '3', '4'],
    rows: ['H X X X | Z', 'L L X X | #A', 'L H X X | #B'],
  },
  ...(['74x125', '74x126'] as const).map(
    (part): Table => ({
      part,
      source: 'from memory',
      inputs: part === '74x125' ? '/#OE #A' : '#OE #A',
      outputs: '#Y',
      repeat: ['1', '2', '3', '4'],
      rows: part === '74x125' ? ['L X | #A', 'H X | Z'] : ['H X | #A', 'L X | Z'],
    }),
  ),
  ...(['74x240', '74x244'] as const).map(
    (part): Table => ({
      part,
      source: 'from memory',
      inputs: '/1OE /2OE 1A# 2A#',
      outputs: '1Y# 2Y#',
      repeat: ['1', '2', '3', '4'],
      rows:
        part === '74x244'
          ? ['L L X X | 1A# 2A#', 'H L X X | Z 2A#', 'L H X X | 1A# Z', 'H H X X | Z Z']
          : ['L L X X | ~1A# ~2A#', 'H L X X | Z ~2A#', 'L H X X | ~1A# Z', 'H H X X | Z Z'],
    }),
  ),
  {
    part: '74x365',
    source: 'from memory',
    inputs: '/G1 /G2 A#',
    outputs: 'Y#',
    repeat: ['1', '2', '3', '4', '5', '6'],
    rows: ['L L X | A#', 'H X X | Z', 'X H X | Z'],
  },
  {
    part: '74x367',
    source: 'from memory',
    inputs: '/1G /2G 1A1 1A2 1A3 1A4 2A1 2A2',
    outputs: '1Y1 1Y2 1Y3 1Y4 2Y1 2Y2',
    rows: [
      'L L X X X X X X | 1A1 1A2 1A3 1A4 2A1 2A2',
      'H L X X X X X X | Z Z Z Z 2A1 2A2',
      'L H X X X X X X | 1A1 1A2 1A3 1A4 Z Z',
    ],
  },
  {
    part: '74x640',
    source: 'from memory',
    inputs: '/OE DIR A# B#',
    outputs: 'A# B#',
    repeat: ['1', '2', '3', '4', '5', '6', '7', '8'],
    rows: ['L L X X | ~B# Z', 'L H X X | Z ~A#', 'H X X X | Z Z'],
  },
  {
    part: '74x174',
    source: 'from memory',
    inputs: '/CLR CLK #D',
    outputs: '#Q',
    repeat: ['1', '2', '3', '4', '5', '6'],
    rows: ['L X X | L', 'H ^ X | #D', 'H L X | =', 'H v X | ='],
  },
  {
    part: '74x175',
    source: 'from memory',
    inputs: '/CLR CLK #D',
    outputs: '#Q /#Q',
    repeat: ['1', '2', '3', '4'],
    rows: ['L X X | L H', 'H ^ X | #D ~#D', 'H L X | = =', 'H v X | = ='],
  },
  {
    part: '74x85',
    source: 'from memory: cascading of equal words',
    inputs: 'A3 B3 A2 B2 A1 B1 A0 B0 IGT ILT IEQ',
    outputs: 'OGT OLT OEQ',
    rows: [
      'H H L L H H L L H L L | H L L',
      'H H L L H H L L L H L | L H L',
      'H H L L H H L L X X H | L L H',
      'H H L L H H L L H H L | L L L',
      'H H L L H H L L L L L | H H L',
      'H L X X X X X X X X X | H L L',
      'L H X X X X X X X X X | L H L',
    ],
  },
];
