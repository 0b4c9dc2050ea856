import { expect, test } from 'vitest';
import { chipRecord, designOf, RECORDS, randomMachine } from '../../benchmarks/machines/random-design.ts';
import { lay, NO_CHOICES, parseHole } from './index.ts';

test('a lever has room to swing beyond the end of pin 1', () => {
  const socket = chipRecord('ZIF', 28, { kind: 'dip', width: 600, body: { length: 50, width: 18 } }, {
    facts: { 'swing-mm': 30 },
  } as never);
  for (const seed of [1, 2, 3]) {
    const made = randomMachine(seed, { chips: 5, stages: 2 });
    const nets = new Map<number, string>([
      [28, 'main'],
      [14, 'GND'],
    ]);
    for (let i = 0; i < 5; i++) nets.set(2 + i, `n${i}`).set(20 + i, `n${5 + i}`);
    made.parts.push({ name: 'ZIF', record: socket, stage: 1, nets });
    const { value, findings } = lay(designOf(made), NO_CHOICES, undefined, { seed, moves: 4000 });
    expect(findings).toEqual([]);
    const zif = value.parts.find((part) => part.part === 'ZIF')!;
    const first = parseHole(zif.leads[0]!.hole)!;
    const towards = zif.rotation === 0 ? -1 : 1;
    // 30 mm from the end of the body, which is 50 mm long about 13 pitches of pins.
    const end = first.column + towards * ((50 / 2.54 - 13) / 2 + 30 / 2.54);
    const records = new Map(made.parts.map((part) => [part.name, part.record]));
    for (const part of value.parts) {
      if (part.part === 'ZIF' || records.get(part.part) === RECORDS.can || part.leads.length < 3) continue;
      for (const lead of part.leads) {
        const hole = parseHole(lead.hole)!;
        if (hole.board !== first.board || hole.row < 4 || hole.row > 9) continue;
        const inZone =
          towards < 0
            ? hole.column < first.column && hole.column > end
            : hole.column > first.column && hole.column < end;
        expect({
          seed,
          part: part.part,
          hole: lead.hole,
          inZone: inZone && hole.column !== first.column,
        }).toMatchObject({ inZone: false });
      }
    }
  }
});
