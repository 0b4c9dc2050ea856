import { expect, test } from 'vitest';
import { Build } from './index.ts';
import { lines, projectOf } from '../../tests/support/library.ts';
import { shoppingVerb } from './index.ts';

const machine = `machine: Two gates
supplies: { main: { volts: 5 V } }
parts:
  G: { type: 74HCT00, pins: { 1A: in, 1B: in, 1Y: out } }
  H: { type: 74HCT00, pins: { 1A: out, 1B: out, 1Y: lamp } }
  L: { type: led, through: 470 ohm, pins: { A: lamp, K: GND } }
ties: [{ high: [G.1A], through: 10 kohm }]
stages: [{ stage: one, adds: [G] }, { stage: two, adds: [H, L] }]
`;

interface Row {
  type: string;
  needed: number;
  have: number;
  coming: number;
  buy: number;
  substitutes: { type: string; inStock: boolean }[];
}

test('needs count kinds, stock is used once, substitutes check clean and the drawer comes first', () => {
  const stock = `stock:
  - { type: 74HCT00, have: 1 }
  - { type: 74HC00, have: 4 }
  - { type: resistor, value: 10k, have: 5 }
  - { type: 74HTC00, have: 1 }
`;
  const project = projectOf(machine, { 'builds/first/stock.yaml': stock });
  const shopping = shoppingVerb(new Build(project, 'first'), { stage: 2 });
  expect(lines(shopping.findings)).toEqual([
    'warning stock/unknown-type No part record is named 74HTC00; did you mean 74HC00?',
  ]);
  const rows = (shopping.value as { needs: Row[] }).needs;
  expect(rows.find((row) => row.type === '74HCT00')).toMatchObject({ needed: 2, have: 1, coming: 0, buy: 1 });
  expect(rows.find((row) => row.type === '74HCT00')?.substitutes[0]).toMatchObject({ type: '74HC00', inStock: true });
  expect(rows.filter((row) => row.type === 'resistor').map((row) => row.buy)).toEqual([0, 1]);
});

test('damaged stock files give findings', () => {
  for (const text of ['stock: 3', 'stock:\n  - { have: 2 }', 'stock:\n  - { type: 74HCT00, have: -1 }', '[', '']) {
    const project = projectOf(machine, { 'builds/first/stock.yaml': text });
    expect(shoppingVerb(new Build(project, 'first'), { stage: 2 }).findings.length, text).toBeGreaterThan(0);
  }
});
