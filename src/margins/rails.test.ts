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

test('what a proposal promises is what the whole network gives with it', () => {
  const places = [1, 2, 3, 4, 5, 6].map((inch) => ({ plus: { rail: '+', inch }, ground: { rail: '-', inch } }));
  for (const wanted of [4.96, 4.98, 4.985]) {
    const proposed = proposeFeeds(wiring, places, wanted);
    const feeds = [
      ...wiring.feeds,
      ...proposed.feeds.map((place, k) => ({ ...wiring.feeds[0]!, ...place, name: `more ${k}` })),
    ];
    expect(lowestVolts(railVolts({ ...wiring, feeds }))!.volts!).toBeCloseTo(proposed.volts!, 9);
    // The first one is the best single one there is.
    if (proposed.feeds.length === 1)
      for (const place of places)
        expect(
          lowestVolts(railVolts({ ...wiring, feeds: [...wiring.feeds, { ...wiring.feeds[0]!, ...place, name: 'x' }] }))!
            .volts!,
        ).toBeLessThanOrEqual(proposed.volts! + 1e-9);
  }
});

test('a rail that nothing feeds is fed by a proposal', () => {
  const cut = { ...wiring, chips: [{ ...wiring.chips[0]!, plus: { rail: 'other', inch: 2 } }] };
  const proposed = proposeFeeds(cut, [{ plus: { rail: 'other', inch: 0 }, ground: { rail: '-', inch: 2 } }], 4.9);
  expect(proposed.feeds).toHaveLength(1);
  expect(proposed.volts!).toBeGreaterThan(4.9);
});

test('more current, more wire, more ohms: less volts', () => {
  const base = lowestVolts(railVolts(wiring))!.volts!;
  const heavier = { ...wiring, chips: wiring.chips.map((chip) => ({ ...chip, mA: chip.mA + 10 })) };
  const longer = { ...wiring, feeds: wiring.feeds.map((feed) => ({ ...feed, mm: 500 })) };
  expect(lowestVolts(railVolts(heavier))!.volts!).toBeLessThan(base);
  expect(lowestVolts(railVolts(longer))!.volts!).toBeLessThan(base);
  for (const side of ['plus', 'ground'] as const)
    expect(lowestVolts(railVolts(wiring, { name: 'U6', side, ohm: 0.1 }))!.volts!).toBeLessThan(base);
});
