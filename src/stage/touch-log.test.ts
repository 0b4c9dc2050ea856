import { expect, test } from 'vitest';
import { layOut, randomMachine, rulesOf, stripOf } from '../../tests/support/bench.ts';
import { Desk } from '../../tests/support/desk.ts';
import { designOf } from '../../tests/support/bench.ts';
import { meter } from '../../tests/support/meter.ts';
import { layoutAt } from '../board/index.ts';
import { planTouches } from './touch.ts';
import { touchEntry, touchPasses, touchStates, touchSuspects } from './touch-log.ts';

const machine = randomMachine(3, 4, 2);
const layout = layOut(machine, 3, 1);
const facts = {
  rules: rulesOf(machine),
  onRail: (hole: string) => /:[tb]/.test(hole),
  neighbours: (strip: string) => {
    const plain = /^(\d+):(\d+)([af])$/.exec(strip);
    return plain === null
      ? [strip.includes('+') ? strip.replace('+', '-') : strip.replace('-', '+')]
      : [`${plain[1]}:${Number(plain[2]) - 1}${plain[3]}`, `${plain[1]}:${Number(plain[2]) + 1}${plain[3]}`];
  },
  holesOf: () => [],
  probeHole: () => undefined,
  resistors: (part: string) => (/^RS/.test(part) ? [{ a: 1, b: 2, ohms: 2200 }] : []),
  inTheWay: (part: string) => (/^RS/.test(part) ? undefined : ('chip' as const)),
};
const { value: plan } = planTouches({ layout, stage: 1, facts });
const on = layoutAt(layout, 1);
const bench = {
  wires: on.wires,
  resistors: on.parts
    .filter((part) => part.leads.length === 2)
    .map((part) => ({ part: part.part, a: part.leads[0]!.hole, b: part.leads[1]!.hole, ohms: 2200 })),
};

/** Takes all readings of a bench with a fault, and records them. */
function measured(fault?: Parameters<typeof meter>[1]): Desk {
  const desk = new Desk({ design: designOf(machine), layout, rules: facts.rules });
  const read = meter(bench, fault);
  for (const touch of plan.touches)
    desk.append(touchEntry(touch, read(touch.from.strip, touch.to.strip), desk.time(), 'stage 1'));
  return desk;
}

test('readings of a sound bench are right and point at nothing', () => {
  const states = touchStates(plan, measured().records());
  expect(states.every((state) => state.status === 'right')).toBe(true);
  expect(touchSuspects(states)).toEqual([]);
  expect(touchStates(plan, []).every((state) => state.status === 'open')).toBe(true);
});

test('a missing wire and a bridge are among the suspects, and explain every wrong reading', () => {
  for (const wire of on.wires) {
    const read = meter(bench, { what: '', withoutWire: wire.id });
    if (read(stripOf(wire.from)!, stripOf(wire.to)!) === 0) continue; // another way stands in for it
    const states = touchStates(plan, measured({ what: '', withoutWire: wire.id }).records());
    const wrong = states.filter((state) => state.status === 'wrong').length;
    expect(wrong).toBeGreaterThan(0);
    const suspect = touchSuspects(states).find((item) => item.wire === wire.id);
    expect(suspect?.explains.length).toBeGreaterThan(0);
  }
  const touch = plan.touches.find((item) => 'open' in item.expect)!;
  const [pair] = touch.excludes;
  const states = touchStates(plan, measured({ what: '', bridge: pair! }).records());
  expect(touchSuspects(states).some((item) => item.strips?.join() === pair!.join())).toBe(true);
});

test('a wire put in anew voids what was read before', () => {
  const desk = measured();
  const touch = plan.touches.find((item) => item.proves.wires.length > 0)!;
  const wire = on.wires.find((item) => item.id === touch.proves.wires[0])!;
  desk.append({
    act: 'done',
    time: desk.time(),
    facts: [
      {
        fact: 'wire-in',
        wire: wire.id,
        net: wire.net,
        from: wire.from,
        to: wire.to,
        cutMm: 20,
        colour: 'BU',
        style: 'flat',
      },
    ],
  });
  const after = touchStates(plan, desk.records());
  expect(after.find((state) => state.touch === touch)!.status).toBe('void');
  expect(after.filter((state) => state.status === 'void').length).toBeLessThan(after.length);
  expect(touchPasses(touch, 0.4)).toBe(true);
  expect(touchPasses(touch, Number.POSITIVE_INFINITY)).toBe(false);
});
