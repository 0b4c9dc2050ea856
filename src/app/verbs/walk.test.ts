import { expect, test } from 'vitest';
import { demoProject } from '../../../tests/support/demo.ts';
import { Build } from '../build.ts';
import { type WalkRow, walkVerb } from './walk.ts';

const build = new Build(demoProject('tide-clerk'), 'first');
const rowsOf = (options: Parameters<typeof walkVerb>[1]): readonly WalkRow[] =>
  (walkVerb(build, options).value as { readonly rows: readonly WalkRow[] }).rows;

test('clock by clock, lamps on the bus show a fetch as the maker draws it', () => {
  const rows = rowsOf({ stage: 3, by: 'clock', count: 40 });
  // Zilog UM008007, figure 5: M1 and the address for two clocks, /MREQ and /RD with the second; then the refresh address for two.
  const first = rows.findIndex((row) => row.low.join() === '/M1');
  const shown = rows.slice(first, first + 8).map((row) => [row.address, [...row.low].sort().join(' ')]);
  const at = Number.parseInt(shown[0]![0]!, 16);
  const hex = (address: number): string => address.toString(16).toUpperCase().padStart(4, '0');
  expect(shown).toEqual([
    [hex(at), '/M1'],
    [hex(at), '/M1 /MREQ /RD'],
    [shown[2]![0], '/RFSH'],
    [shown[2]![0], '/MREQ /RFSH'],
    [hex(at + 1), '/M1'],
    [hex(at + 1), '/M1 /MREQ /RD'],
    [shown[6]![0], '/RFSH'],
    [shown[6]![0], '/MREQ /RFSH'],
  ]);
  // The no-operations of a free run: pull-downs hold the data bus at 0.
  expect(rows[first]!.data).toBe('00');
  expect(rows.map(({ clock }) => clock)).toEqual(rows.map((_, k) => rows[0]!.clock + k));
});

test('by instruction it says which; by a press each step is one; what is no step is refused', () => {
  const rows = rowsOf({ stage: 5, by: 'instruction', count: 3 });
  expect(rows.map(({ instruction }) => instruction)).toEqual(['JP 0x0100', 'LD SP,0x0000', 'LD A,0x83']);
  const pressed = walkVerb(build, { stage: 1, by: 'RESET-BUTTON', count: 2 });
  expect((pressed.value as { readonly rows: readonly WalkRow[] }).rows).toHaveLength(2);
  const refused = walkVerb(build, { stage: 5, by: 'cloud' });
  expect([refused.refused, refused.findings[0]!.help]).toEqual([true, 'To press: RESET-BUTTON.PRESSED.']);
});
