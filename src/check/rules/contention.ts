// Outputs that can be let go: two of them enabled at once, one that never is, a bus that nothing ever drives. Proved over
// the decode logic as it stands at the stage, not guessed from names.

import { foldName } from '../../base/index.ts';
import type { NetPin, NetView } from '../../netlist/index.ts';
import { FALSE } from '../levels/bdd.ts';
import { isDataPin, levelsAt, ruledOut } from '../levels/drivers.ts';
import { exampleText } from '../levels/levels.ts';
import { pinSpan } from '../places.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';
import { overlapping } from './map.ts';
import { listed } from '../rule.ts';

/** Whether the map itself puts two parts at one address. */
function overlap(context: RuleContext, one: string, other: string): boolean {
  const names = new Set([foldName(one), foldName(other)]);
  return overlapping(context).some(([a, b]) => names.has(foldName(a.part)) && names.has(foldName(b.part)));
}

/** Pins that may drive a net but need not. */
function letGo(net: NetView): NetPin[] {
  return [...net.threeState, ...net.bidirectional];
}

export const conflictingEnables: Rule = {
  code: 'check/conflicting-enables',
  title: 'Two outputs in one net that can be enabled at the same time',
  run(context) {
    const levels = levelsAt(context);
    const { bdd } = levels;
    const pairs = new Map<string, { a: NetPin; b: NetPin; nets: string[]; example: string }>();
    const tried = new Map<string, string | undefined>();
    let possible: number | undefined;
    for (const net of context.view.nets) {
      if (net.net.kind !== 'signal') continue;
      const drivers = [...net.outputs, ...letGo(net)];
      if (drivers.length < 2) continue;
      drivers.sort((a, b) => a.id - b.id);
      const known = drivers.flatMap((pin) => {
        const when = levels.drives(pin);
        return when === undefined || when === FALSE ? [] : [{ pin, when }];
      });
      known.forEach(({ pin: a, when: first }, k) => {
        for (const { pin: b, when: second } of known.slice(k + 1)) {
          if (a.part === b.part) continue;
          // Two that always drive are said by another rule.
          if (a.kind === 'output' && b.kind !== 'bidirectional') continue;
          const key = `${first} ${second}`;
          if (!tried.has(key)) {
            possible ??= ruledOut(levels);
            const together = bdd.and(first, second, possible);
            const example = bdd.overflow ? undefined : bdd.satisfy(together);
            tried.set(key, example === undefined ? undefined : exampleText(context, example));
          }
          const example = tried.get(key);
          if (example === undefined) continue;
          const pair = `${a.part} ${b.part}`;
          const seen = pairs.get(pair);
          if (seen === undefined) pairs.set(pair, { a, b, nets: [net.net.name], example });
          else seen.nets.push(net.net.name);
        }
      });
    }
    return [...pairs.values()].flatMap(({ a, b, nets, example }): Fact[] => {
      const [one, other] = [context.view.part(a).name, context.view.part(b).name];
      if (overlap(context, one, other)) return []; // `overlapping-regions` says it better.
      const where = pinSpan(context, b);
      const first = pinSpan(context, a);
      return [
        {
          about: [one, other],
          severity: 'error',
          message: `${one} and ${other} can drive ${nets.length > 3 ? `${nets[0]} and ${nets.length - 1} more nets` : listed(nets)} at the same time${example === '' ? '' : `: ${example}`}`,
          why: 'Whenever they differ, both carry the short-circuit current, and what is read is neither.',
          help: 'Look at the selects and strobes that enable each: one of the two must be off whenever the other is on.',
          where,
          notes: first === undefined ? [] : [{ text: `${a.ref} is joined here.`, span: first }],
        },
      ];
    });
  },
};

export const neverEnabled: Rule = {
  code: 'check/never-enabled',
  title: 'An output that other parts wait for and that can never be enabled',
  wholeOnly: true,
  run(context) {
    const levels = levelsAt(context);
    const facts: Fact[] = [];
    for (const net of context.view.nets) {
      if (net.net.kind !== 'signal') continue;
      for (const pin of letGo(net)) {
        const part = context.view.part(pin);
        if (part.record.category === 'logic-device' || levels.drives(pin) !== FALSE) continue;
        const readers = [...net.inputs, ...net.bidirectional].filter((other) => other.part !== pin.part);
        if (readers.length === 0) continue;
        // A part that can drive this way or that (a transceiver) may well be meant for one way only.
        if (pin.kind === 'bidirectional' && !isDataPin(part, pin)) continue;
        facts.push({
          about: [pin.ref],
          severity: 'error',
          message: `${pin.ref} can never drive ${net.net.name}`,
          why: `Its enable is off whatever the machine does, and ${readers[0]!.ref} waits for it.`,
          help: 'Look at how its enable, select and strobe pins are tied.',
          where: part.origin.span,
        });
      }
    }
    return facts;
  },
};

export const floatingBus: Rule = {
  code: 'check/floating-bus',
  title: 'A data line that the processor reads and nothing ever drives',
  run(context) {
    const levels = levelsAt(context);
    const facts: Fact[] = [];
    for (const net of context.view.nets) {
      const reader = net.bidirectional.find((pin) => isProcessorData(context, pin));
      if (net.net.kind !== 'signal' || reader === undefined) continue;
      if (context.view.pulled(net) !== undefined || context.view.outside(net)) continue;
      const others = [...net.outputs, ...net.openDrain, ...letGo(net)].filter((pin) => pin.part !== reader.part);
      if (others.some((pin) => levels.drives(pin) !== FALSE)) continue;
      facts.push({
        about: [net.net.name],
        severity: 'warning',
        message: `${net.net.name} floats whenever ${context.view.part(reader).name} reads`,
        why: 'The processor takes whatever is on the lines for an instruction, and runs off anywhere.',
        help: 'Add the memory to this stage, or hold the lines with straps: `temporary: [{ hold: D7-D0, at: 0x00, through: 2.2 kohm }]`.',
        where: net.net.origin.span ?? pinSpan(context, reader),
      });
    }
    return facts;
  },
};

function isProcessorData(context: RuleContext, pin: NetPin): boolean {
  const part = context.view.part(pin);
  return part.record.bus?.role === 'processor' && isDataPin(part, pin);
}
