import { expect, test } from 'vitest';
import { lowestVolts, proposeFeeds, railVolts, type RailWiring, suspectContacts } from './rails.ts';

/** Two rails of 6 inches, fed at the left, three chips along them. */
const wiring: RailWiring = {
  rails: [
    { name: '+', kind: 'plus' },
    { name: '-', kind: 'ground' },
  ],
  jumpers: [],
  feeds: [{ name: 'supply', plus: { rail: '+', inch: 0 }, ground: { rail: '-', inch: 0 }, volts: 5, mm: 0 }],
  chips: [2, 4, 6].map((inch) => ({
    name: `U${inch}`,
    plus: { rail: '+', inch },
    ground: { rail: '-', inch },
    mm: 0,
    mA: 100,
  })),
};

test('the drop along two rails, by hand', () => {
  // Each side: feed contact 9 mohm at 0.3 A, segments of 22 mohm at 0.3, 0.2, 0.1 A, three contacts of 9 mohm at 0.1 A.
  const one = (segments: number): number => 0.3 * 0.009 + 0.022 * segments + 0.1 * 0.027;
  const volts = railVolts(wiring);
  expect(volts[0]!.volts!).toBeCloseTo(5 - 2 * one(0.3), 9);
  expect(volts[1]!.volts!).toBeCloseTo(5 - 2 * one(0.5), 9);
  expect(volts[2]!.volts!).toBeCloseTo(5 - 2 * one(0.6), 9);
  expect(volts[2]!.ground!).toBeCloseTo(one(0.6), 9);
  expect(lowestVolts(volts)!.name).toBe('U6');
});

test('a second feed at the far end helps most, and no more are proposed than needed', () => {
  const places = [2, 4, 6].map((inch) => ({ plus: { rail: '+', inch }, ground: { rail: '-', inch } }));
  const proposed = proposeFeeds(wiring, places, 4.98);
  expect(proposed.feeds).toHaveLength(1);
  expect(proposed.volts!).toBeGreaterThan(4.98);
  expect(proposeFeeds(wiring, places, 4.9).feeds).toHaveLength(0);
});

test('a rail that nothing feeds is not known, not 5 V', () => {
  const cut = { ...wiring, chips: [{ ...wiring.chips[0]!, plus: { rail: 'other', inch: 2 } }] };
  expect(railVolts(cut)[0]!.volts).toBeNull();
  expect(lowestVolts(railVolts(cut))).toBeNull();
});

test('measured voltages lead to the bad contact', () => {
  const bad = { name: 'U4', side: 'ground', ohm: 2 } as const;
  const measured = new Map(railVolts(wiring, bad).map((chip) => [chip.name, chip.volts!] as const));
  const [first] = suspectContacts(wiring, measured);
  expect(first!.name).toBe('U4');
  expect(first!.ohm).toBeCloseTo(2, 1);
  expect(first!.left).toBeLessThan(1e-3);
  const feed = new Map(
    railVolts(wiring, { name: 'supply', side: 'plus', ohm: 1 }).map((chip) => [chip.name, chip.volts!] as const),
  );
  expect(suspectContacts(wiring, feed)[0]!.name).toBe('supply');
});
