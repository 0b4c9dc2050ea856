import { expect, test } from 'vitest';
import { Desk } from '../../tests/support/desk.ts';
import { base } from '../../tests/support/small.ts';
import { faultList } from './log.ts';
import { markDone } from './progress.ts';
import { mendsBy, wrongEntries } from './wrong.ts';

test('a done step that is not right is a fault and comes back; doing it again mends the fault', () => {
  const desk = new Desk(base);
  const ids = desk
    .plan()
    .steps.slice(0, 5)
    .map((step) => step.id);
  desk.done(ids);
  const wrong = ids[2]!;
  expect(desk.plan().steps.some((step) => step.id === wrong)).toBe(false);
  const { value } = wrongEntries(desk.records(), wrong, desk.time(), 'one hole too far left');
  for (const entry of value) desk.append(entry);
  expect(desk.plan().steps[0]!.id).toBe(wrong);
  const [fault] = faultList(desk.records());
  expect(fault!.record.text).toMatch(/^Checked over, one hole too far left: /);
  expect(fault!.mended).toBeUndefined();

  const other = markDone(desk.plan(), desk.built(), [desk.plan().steps[1]!.id], desk.time()).value;
  expect(mendsBy(desk.records(), other)).toEqual([]);
  const again = markDone(desk.plan(), desk.built(), [wrong], desk.time()).value;
  for (const entry of [...again, ...mendsBy(desk.records(), again)]) desk.append(entry);
  expect(faultList(desk.records())[0]!.mended).toBeDefined();
  expect(desk.plan().steps.some((step) => step.id === wrong)).toBe(false);
  desk.undo();
  expect(desk.plan().steps.some((step) => step.id === wrong)).toBe(true);
  expect(faultList(desk.records())[0]!.mended).toBeUndefined();
});

test('what is not done can not be wrong', () => {
  const desk = new Desk(base);
  const step = desk.plan().steps[0]!.id;
  const refused = wrongEntries(desk.records(), step, desk.time());
  expect(refused.value).toEqual([]);
  expect(refused.findings.map((finding) => finding.code)).toEqual(['stage/not-done']);
});
