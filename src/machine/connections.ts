// Contradictions between connections that the machine file itself shows, before any part record is known: a pin on two nets
// at a time, a pin tied both ways, a net made twice.

import { type Finding, foldName, type Span } from '../base/index.ts';
import { report } from './cursor.ts';
import type { Lifetime, Machine, NameRef } from './model.ts';
import { pinName } from './read-nets.ts';

interface Stretch {
  readonly from: number;
  /** Excluded. */
  readonly until: number;
}

interface Use extends Stretch {
  /** What the pin is joined to: a folded net, or one of the marks below. */
  readonly to: string;
  /** The pin (or net, of ties and logic) as written. */
  readonly name: string;
  readonly shown: string;
  readonly span: Span;
}

const OPEN = '\u0000open';

/** Reports contradictions; `stages` maps folded names to numbers from 0. */
export function checkConnections(machine: Machine, stages: ReadonlyMap<string, number>, findings: Finding[]): void {
  const stretch = (life: Lifetime): Stretch => {
    const number = (ref: NameRef | undefined): number | undefined =>
      ref === undefined ? undefined : stages.get(foldName(ref.name));
    return { from: number(life.from) ?? 0, until: number(life.until) ?? Number.POSITIVE_INFINITY };
  };
  const always: Stretch = { from: 0, until: Number.POSITIVE_INFINITY };
  // Most pins are named once; only those named again get a list.
  const pins = new Map<string, Use | Use[]>();
  const use = (name: string, one: Use): void => {
    const key = foldName(name);
    const before = pins.get(key);
    if (before === undefined) pins.set(key, one);
    else if (Array.isArray(before)) before.push(one);
    else pins.set(key, [before, one]);
  };
  for (const part of machine.parts) {
    for (const pin of part.pins) {
      const name = `${part.name}.${pin.pin}${pin.number === undefined ? '' : `@${pin.number}`}`;
      const to = pin.net === undefined ? OPEN : foldName(pin.net);
      use(name, { ...always, to, name, shown: pin.net ?? 'open', span: pin.pinSpan });
    }
  }
  for (const net of machine.nets) {
    const { from, until } = stretch(net.lifetime);
    const to = foldName(net.name);
    for (const pin of net.pins) {
      const name = pinName(pin);
      use(name, { from, until, to, name, shown: net.name, span: pin.span });
    }
  }
  for (const uses of pins.values()) if (Array.isArray(uses)) checkPin(uses[0]!.name, uses, findings);
  checkTies(machine, stretch, findings);
  const makers = new Map<string, Use>();
  for (const logic of machine.logic) {
    const key = foldName(logic.net);
    const before = makers.get(key);
    const now = { ...stretch(logic.lifetime), to: key, name: logic.net, shown: logic.net, span: logic.formula.span };
    if (before !== undefined && overlap(before, now))
      report(findings, 'logic-twice', `${logic.net} is made twice.`, now.span, {
        notes: [{ text: 'It is made here too.', span: before.span }],
        help: 'Keep one formula, or give each the stages in which it holds (`from`, `until`).',
        about: [logic.net],
      });
    makers.set(key, now);
  }
}

function overlap(a: Stretch, b: Stretch): boolean {
  return a.from < b.until && b.from < a.until;
}

function checkPin(name: string, uses: readonly Use[], findings: Finding[]): void {
  for (let i = 1; i < uses.length && i < 50; i++) {
    const now = uses[i]!;
    const before = uses.slice(0, i).find((one) => overlap(one, now));
    if (before === undefined) continue;
    if (before.to === now.to) {
      // Once under the part and once under the net is harmless; twice in one list is a slip for some other pin.
      if (before.span.file === now.span.file && before.span.start === now.span.start) continue;
      report(findings, 'repeated-pin', `${name} stands twice on ${now.shown}.`, now.span, {
        severity: 'warning',
        notes: [{ text: 'It stands here too.', span: before.span }],
        help: 'Take one out, or put the pin that was meant.',
        about: [name],
      });
    } else {
      const other = before.to === OPEN ? 'is left open on purpose' : `is on ${before.shown}`;
      const here = now.to === OPEN ? 'left open on purpose' : `on ${now.shown}`;
      report(findings, 'pin-on-two-nets', `${name} ${other} and here ${here}.`, now.span, {
        notes: [{ text: 'The other one stands here.', span: before.span }],
        help: 'A pin is on one net at a time. Where the machine changes, give each the stages in which it holds.',
        about: [name],
      });
    }
    return;
  }
}

function checkTies(machine: Machine, stretch: (life: Lifetime) => Stretch, findings: Finding[]): void {
  const tied = new Map<string, Use[]>();
  for (const tie of machine.ties) {
    const when = stretch(tie.lifetime);
    for (const pin of tie.pins) {
      const name = 'part' in pin ? pinName(pin) : pin.name;
      const key = foldName(name);
      const now = { ...when, to: tie.to, name, shown: tie.to, span: pin.span };
      const before = tied.get(key)?.find((one) => overlap(one, now));
      if (before !== undefined && before.to !== now.to)
        report(findings, 'tied-both-ways', `${name} is tied ${before.shown} and ${now.shown}.`, pin.span, {
          notes: [{ text: 'The other tie stands here.', span: before.span }],
          help: 'Take one of the two out: together they join the supply to ground.',
          about: [name],
        });
      const list = tied.get(key);
      if (list === undefined) tied.set(key, [now]);
      else if (list.length < 50) list.push(now);
    }
  }
}
