// A small machine on two half boards for the golden drawings: a weir keeper's lamp latch, with a part of most shapes, wires in
// every state, a strap that the second stage takes out and a chip of the third.

import { createFixture } from './boards-fixture.ts';

export function createWeir() {
  const f = createFixture(
    'Weir keeper',
    ['supply', 'latch', 'alarm'],
    [
      { board: 1, kind: 'half', x: 0, y: 0 },
      { board: 2, kind: 'half', x: 0, y: 60.96 },
    ],
  );
  f.leads('BULK', 'electrolytic', '+ -', {
    symbol: 'electrolytic',
    holes: ['1:t+4', '1:t-4'],
    value: '47 uF',
    body: { length: 5, width: 5 },
    stage: 1,
  });
  f.leads('IN', 'screw-terminal', '1 2', { symbol: 'header', kind: 'sip', holes: ['1:2j', '1:3j'], stage: 1 });
  f.leads('TEST', 'push-button', 'A B A2 B2', {
    symbol: 'button',
    holes: ['1:3f', '1:3e', '1:5f', '1:5e'],
    body: { length: 6, width: 6 },
    stage: 1,
  });
  f.chip(
    'LATCH',
    '74HC573',
    '/OE 1D 2D 3D 4D 5D 6D 7D 8D GND LE 8Q 7Q 6Q 5Q 4Q 3Q 2Q 1Q VCC',
    { rows: 'ef', board: 1, column: 8, stage: 2 },
    ['1Q', '2Q'],
  );
  f.leads('C1', 'ceramic', '1 2', { symbol: 'capacitor', holes: ['1:t+10', '1:t-10'], value: '100 nF', stage: 2 });
  f.leads('R1', 'resistor', '1 2', { symbol: 'resistor', holes: ['1:21h', '1:26h'], value: '680 ohm', stage: 2 });
  f.leads('LAMP', 'led', 'A K', { symbol: 'led', holes: ['1:26g', '1:28g'], stage: 2 });
  f.leads('D1', 'diode', 'A K', { symbol: 'diode', holes: ['1:24b', '1:27b'], stage: 2 });
  f.leads('REF', 'reference', 'OUT GND IN', {
    symbol: 'transistor',
    kind: 'to-92',
    holes: ['2:2h', '2:3h', '2:4h'],
    stage: 1,
  });
  f.chip('GATE', '74HC00', '1A 1B 1Y 2A 2B 2Y GND 3Y 3A 3B 4Y 4A 4B VCC', {
    rows: 'ef',
    board: 2,
    column: 8,
    stage: 2,
    turned: true,
  });
  f.chip('ALARM', '74HC4060', 'Q12 Q13 Q14 Q6 Q5 Q7 Q4 GND CTC RTC RS MR Q9 Q8 Q10 VCC', {
    rows: 'ef',
    board: 2,
    column: 19,
    stage: 3,
  });
  f.between('+5V', '1:t+2', '1:b+2', 1);
  f.between('GND', '1:t-3', '1:b-3', 1);
  f.between('+5V', '1:b+28', '2:t+28', 1);
  f.between('GND', '1:b-29', '2:t-29', 1);
  f.net('+5V', ['IN.1']);
  f.net('GND', ['IN.2', 'LAMP.K']);
  f.feed('+5V', 'LATCH.VCC', '+', 2);
  f.feed('GND', 'LATCH.GND', '-', 2);
  f.feed('GND', 'LATCH./OE', '-', 2);
  f.feed('+5V', 'GATE.VCC', '+', 2);
  f.feed('GND', 'GATE.GND', '-', 2);
  f.net('level-0', ['GATE.1Y', 'LATCH.1D'], 'BU', 'level', 0);
  f.net('level-1', ['GATE.2Y', 'LATCH.2D'], 'BU', 'level', 1);
  f.net('level-2', ['GATE.3Y', 'LATCH.3D'], 'BU', 'level', 2);
  f.net('lamp', ['LATCH.1Q', 'R1.1'], 'OG');
  f.net('/hold', ['TEST.A', 'LATCH.LE', 'GATE.1A'], 'VT');
  f.feed('/hold', 'TEST.A', '+', 1, { until: 2, temporary: true, colour: 'YE' });
  f.wire('/hold', 'TEST.A2', 'LATCH.LE', 2);
  f.wire('/hold', 'LATCH.LE', 'GATE.1A', 2);
  f.wire('lamp', 'LATCH.1Q', 'R1.1', 2);
  for (const k of [0, 1, 2]) f.wire(`level-${k}`, `GATE.${k + 1}Y`, `LATCH.${k + 1}D`, 2);
  const { design, layout } = f.done();
  const ids = layout.wires.filter((wire) => wire.stage === 1).map((wire) => wire.id);
  const now = layout.wires.filter((wire) => wire.stage === 2).map((wire) => wire.id);
  const built = {
    parts: new Set(['BULK', 'IN', 'TEST', 'REF', 'LATCH', 'C1', 'R1', 'LAMP']),
    wires: new Set([...ids, ...now.slice(0, 7)]),
  };
  return { design, layout, built };
}
