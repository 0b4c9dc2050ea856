// A fixed machine on three boards for the tests of drawings: a harbour's tide clerk with a Z80, memory and a few parts of
// every shape. Pin tables as in the makers' data sheets; places and order of wiring invented.

import { createFixture } from './boards-fixture.ts';

const Z80 =
  'A11 A12 A13 A14 A15 CLK D4 D3 D5 D6 VCC D2 D7 D0 D1 /INT /NMI /HALT /MREQ /IORQ /RD /WR /BUSACK /WAIT /BUSREQ /RESET /M1 /RFSH GND A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 A10';
const MEMORY = 'A14 A12 A7 A6 A5 A4 A3 A2 A1 A0 D0 D1 D2 GND D3 D4 D5 D6 D7 /CE A10 /OE A11 A9 A8 A13 /WE VCC';
const PAL = 'I1 I2 I3 I4 I5 I6 I7 I8 I9 GND I11 O12 O13 O14 O15 O16 O17 O18 O19 VCC';
const UART =
  'D0 D1 D2 D3 D4 D5 D6 D7 RCLK SIN SOUT CS0 CS1 /CS2 /BDO XIN XOUT /WR WR GND /RD RD DDIS /TXR /ADS A2 A1 A0 /RXR INT /OP2 /RTS /DTR /OP1 MR /CTS /DSR /DCD /RI VCC';

export const HARBOUR_STAGES = ['supply and reset', 'clock', 'free run', 'memory', 'terminal', 'panel'];

/** The whole machine; the same on every call. */
export function createHarbour() {
  const f = createFixture('Tide clerk', HARBOUR_STAGES, [
    { board: 1, kind: 'full', x: 0, y: 0 },
    { board: 2, kind: 'full', x: 0, y: 60.96 },
    { board: 3, kind: 'full', x: 0, y: 121.92 },
  ]);
  // Parts
  f.leads('SUP', 'DS1233-10', '/RST VCC GND', {
    symbol: 'transistor',
    kind: 'to-92',
    holes: ['2:4h', '2:5h', '2:6h'],
    stage: 1,
  });
  f.leads('RESET', 'push-button', 'A B A2 B2', {
    symbol: 'button',
    holes: ['2:8f', '2:8e', '2:10f', '2:10e'],
    body: { length: 6, width: 6 },
    stage: 1,
  });
  for (const b of [1, 2, 3])
    f.leads(`C${b}`, 'electrolytic', '+ -', {
      symbol: 'electrolytic',
      holes: [`${b}:t+${b === 2 ? 11 : 9}`, `${b}:t-${b === 2 ? 11 : 9}`],
      value: '47 uF',
      body: { length: 5, width: 5 },
      stage: 1,
    });
  f.chip('OSC', 'oscillator-can', 'NC - - - - - GND OUT - - - - - VCC', {
    rows: 'ef',
    board: 3,
    column: 3,
    stage: 2,
    only: [1, 7, 8, 14],
    symbol: 'can',
    body: { length: 20.4, width: 12.7 },
  });
  f.chip('DIV', '74HC74', '/CL1 D1 CK1 /PR1 Q1 /Q1 GND /Q2 Q2 /PR2 CK2 D2 /CL2 VCC', {
    rows: 'ef',
    board: 3,
    column: 13,
    stage: 2,
  });
  f.chip('CPU', 'Z80', Z80, { rows: 'cg', board: 2, column: 14, stage: 3 }, ['/RD', '/WR', '/MREQ', '/IORQ']);
  f.chip('ROM', '28C256', MEMORY, { rows: 'cg', board: 1, column: 15, stage: 4 });
  f.chip('RAM', '62256', MEMORY, { rows: 'cg', board: 1, column: 38, stage: 4 });
  f.chip('SEL', '16V8', PAL, { rows: 'ef', board: 2, column: 42, stage: 4 });
  f.chip('GLU', '74HC32', '1A 1B 1Y 2A 2B 2Y GND 3Y 3A 3B 4Y 4A 4B VCC', {
    rows: 'ef',
    board: 3,
    column: 22,
    stage: 4,
    turned: true,
  });
  f.chip('UART', '16C550', UART, { rows: 'cg', board: 3, column: 31, stage: 5 });
  f.leads('LINE', 'serial-header-6', 'GND CTS VCC TXD RXD RTS', {
    symbol: 'header',
    kind: 'sip',
    holes: ['3:55j', '3:56j', '3:57j', '3:58j', '3:59j', '3:60j'],
    stage: 5,
  });
  f.leads('LAMP', 'led', 'A K', { symbol: 'led', holes: ['1:58h', '1:60h'], stage: 4 });
  f.leads('R-LAMP', 'resistor', '1 2', {
    symbol: 'resistor',
    holes: ['1:60f', '1:60e'],
    value: '680 ohm',
    stage: 4,
  });
  f.leads('DIGIT', 'seven-segment', 'e d CC c dp b a CC2 f g', {
    symbol: 'digit',
    holes: ['2:55e', '2:56e', '2:57e', '2:58e', '2:59e', '2:59f', '2:58f', '2:57f', '2:56f', '2:55f'],
    body: { length: 12.6, width: 19 },
    stage: 6,
  });
  f.leads('D1', 'diode', 'A K', { symbol: 'diode', holes: ['2:6b', '2:9b'], stage: 1 });
  f.leads('X1', 'crystal', '1 2', { symbol: 'crystal', holes: ['3:55d', '3:57d'], stage: 5 });

  // Supply
  for (const b of [1, 2, 3])
    for (const row of ['t+', 't-', 'b+', 'b-'])
      f.between(row.endsWith('+') ? '+5V' : 'GND', `${b}:${row}31`, `${b}:${row}33`, 1);
  for (const b of [1, 2, 3]) {
    f.between('+5V', `${b}:t+3`, `${b}:b+3`, 1);
    f.between('GND', `${b}:t-4`, `${b}:b-4`, 1);
  }
  for (const b of [1, 2])
    for (const c of [5, 60]) {
      f.between('+5V', `${b}:b+${c}`, `${b + 1}:t+${c}`, 1);
      f.between('GND', `${b}:b-${c + 1}`, `${b + 1}:t-${c + 1}`, 1);
    }
  const supply = (stage: number, name: string, vcc = 'VCC', gnd = 'GND'): void => {
    f.feed('+5V', `${name}.${vcc}`, '+', stage);
    f.feed('GND', `${name}.${gnd}`, '-', stage);
  };
  supply(1, 'SUP');
  supply(2, 'OSC');
  supply(2, 'DIV');
  supply(3, 'CPU');
  for (const name of ['ROM', 'SEL', 'GLU', 'RAM']) supply(4, name);
  supply(5, 'UART');
  let c = 4;
  for (const [stage, board, column] of [
    [2, 3, 10],
    [3, 2, 24],
    [4, 1, 19],
    [4, 2, 49],
    [4, 1, 41],
    [5, 3, 50],
  ] as const)
    f.leads(`C${c++}`, 'ceramic', '1 2', {
      symbol: 'capacitor',
      holes: [f.railNear(board, 't+', column), f.railNear(board, 't-', column)],
      value: '100 nF',
      stage,
    });
  // Clock and reset
  f.net('clock-2', ['OSC.OUT', 'DIV.CK1'], 'WH');
  f.net('clock', ['DIV.Q1', 'CPU.CLK', 'UART.XIN'], 'WH');
  f.net('half', ['DIV./Q1', 'DIV.D1'], 'WH');
  f.net('/reset', ['SUP./RST', 'RESET.A', 'RESET.A2', 'CPU./RESET'], 'GY');
  f.net('GND', ['RESET.B']);
  f.wire('clock-2', 'OSC.OUT', 'DIV.CK1', 2);
  f.wire('half', 'DIV./Q1', 'DIV.D1', 2);
  for (const pin of ['/PR1', '/CL1', '/PR2', '/CL2']) f.feed('+5V', `DIV.${pin}`, '+', 2);
  for (const pin of ['D2', 'CK2']) f.feed('GND', `DIV.${pin}`, '-', 2);
  f.wire('clock', 'DIV.Q1', 'CPU.CLK', 3);
  f.wire('/reset', 'SUP./RST', 'RESET.A', 1);
  f.wire('/reset', 'RESET.A2', 'CPU./RESET', 3);
  f.feed('GND', 'RESET.B', '-', 1);
  // Pull-ups, and straps that memory takes out again
  let r = 1;
  for (const pin of ['/WAIT', '/BUSREQ', '/INT', '/NMI']) {
    const hole = f.holeOf(`CPU.${pin}`);
    const column = Number(/:(\d+)/.exec(hole)![1]);
    const upper = hole.endsWith('g');
    f.net(`pull ${pin}`, [`CPU.${pin}`], 'VT');
    f.leads(`R${r++}`, 'resistor', '1 2', {
      symbol: 'resistor',
      holes: [f.freeBeside(hole), f.railNear(2, upper ? 't+' : 'b+', column)],
      value: '10 kohm',
      stage: 3,
    });
  }
  for (let k = 0; k < 8; k++) {
    f.net(`D${k}`, [`CPU.D${k}`, `ROM.D${k}`, `RAM.D${k}`, `UART.D${k}`], 'OG', 'D', k);
    f.feed(`D${k}`, `CPU.D${k}`, '-', 3, { until: 4, temporary: true, colour: 'BK' });
  }
  // Memory
  for (let k = 0; k < 15; k++) {
    f.net(`A${k}`, [`CPU.A${k}`, `ROM.A${k}`, `RAM.A${k}`], 'BU', 'A', k);
    f.wire(`A${k}`, `CPU.A${k}`, `ROM.A${k}`, 4);
  }
  for (const [i, [pin, net]] of [
    ['I1', 'A15'],
    ['I2', 'A7'],
    ['I3', 'A6'],
    ['I4', 'A5'],
    ['I5', 'A4'],
    ['I6', 'A3'],
  ].entries()) {
    f.net(net!, [`CPU.${net}`, `SEL.${pin}`], 'BU', 'A', i === 0 ? 15 : 8 - i);
    f.wire(net!, `CPU.${net}`, `SEL.${pin}`, 4);
  }
  for (const [pin, net] of [
    ['I7', '/MREQ'],
    ['I8', '/IORQ'],
    ['I9', '/M1'],
    ['I11', '/RFSH'],
  ]) {
    f.net(net!, [`CPU.${net}`, `SEL.${pin}`], 'VT');
    f.wire(net!, `CPU.${net}`, `SEL.${pin}`, 4);
  }
  f.net('/ROM', ['SEL.O19', 'ROM./CE'], 'GN');
  f.net('/RAM', ['SEL.O18', 'RAM./CE'], 'GN');
  f.net('/RD', ['CPU./RD', 'ROM./OE', 'RAM./OE', 'GLU.2B'], 'VT');
  f.net('/WR', ['CPU./WR', 'GLU.1B'], 'VT');
  f.net('/MEMW', ['GLU.1Y', 'RAM./WE'], 'VT');
  f.net('/MREQ', ['GLU.1A'], 'VT');
  f.net('/IORQ', ['GLU.2A'], 'VT');
  f.wire('/ROM', 'SEL.O19', 'ROM./CE', 4);
  f.wire('/RD', 'CPU./RD', 'ROM./OE', 4);
  f.wire('/RD', 'CPU./RD', 'GLU.2B', 4);
  f.wire('/WR', 'CPU./WR', 'GLU.1B', 4);
  f.wire('/MREQ', 'CPU./MREQ', 'GLU.1A', 4);
  f.wire('/IORQ', 'CPU./IORQ', 'GLU.2A', 4);
  for (let k = 0; k < 8; k++) f.wire(`D${k}`, `CPU.D${k}`, `ROM.D${k}`, 4);
  for (let k = 0; k < 15; k++) f.wire(`A${k}`, `ROM.A${k}`, `RAM.A${k}`, 4);
  for (let k = 0; k < 8; k++) f.wire(`D${k}`, `ROM.D${k}`, `RAM.D${k}`, 4);
  f.wire('/RD', 'ROM./OE', 'RAM./OE', 4);
  f.wire('/MEMW', 'GLU.1Y', 'RAM./WE', 4);
  f.wire('/RAM', 'SEL.O18', 'RAM./CE', 4);
  f.feed('+5V', 'ROM./WE', '+', 4);
  return f.done();
}

/** What stands on the boards part way through stage 4: the first `count` wires of the stage, and all parts but the RAM. */
export function harbourBuilt(count: number) {
  const { layout } = createHarbour();
  const early = layout.wires.filter((wire) => wire.stage < 4);
  const now = layout.wires.filter((wire) => wire.stage === 4).slice(0, count);
  return {
    parts: new Set(layout.parts.filter((p) => p.stage <= 4 && p.part !== 'RAM').map((p) => p.part)),
    wires: new Set([...early, ...now].map((wire) => wire.id)),
  };
}
