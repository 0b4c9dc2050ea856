// Nets that look like slips of the pen, levels that don't meet, lamps without resistors, straps that stay.

import { highThreshold, inputFigures, lightHigh, outputFigures } from '../../parts/index.ts';
import { pinSpan } from '../places.ts';
import type { Fact, Rule } from '../rule.ts';

export const singlePinNet: Rule = {
  code: 'check/single-pin-net',
  title: 'A named net with one pin in it',
  wholeOnly: true,
  run(context) {
    const facts: Fact[] = [];
    for (const { net, pins } of context.view.nets) {
      if (net.derived || net.kind !== 'signal' || pins.length !== 1) continue;
      const pin = pins[0]!;
      // A connection that a shipped block offers and this machine has no use for.
      if (pin.origin?.span?.file.startsWith('shipped:') === true && pin.kind === 'output') continue;
      facts.push({
        about: [net.name],
        severity: 'warning',
        message: `Net ${net.name} has one pin, ${pin.ref}`,
        why: 'A net joins at least two pins; one alone is usually a misspelt name.',
        help: `Check the spelling of ${net.name}, add the other pin, or leave ${pin.ref} open: pins: { ${pin.name}: open }.`,
        where: net.origin.span ?? pinSpan(context, pin),
      });
    }
    return facts;
  },
};

export const levelMismatch: Rule = {
  code: 'check/level-mismatch',
  title: 'An output whose high level is too low for an input it drives',
  run(context) {
    const facts: Fact[] = [];
    const volts = context.design.supplies[0]?.volts ?? 5;
    for (const net of context.view.nets) {
      if (net.net.kind !== 'signal' || net.inputs.length + net.bidirectional.length === 0) continue;
      if (context.view.pulled(net) === 'high') continue; // A pull-up takes it the rest of the way.
      for (const driver of [...net.outputs, ...net.threeState, ...net.bidirectional]) {
        const drivingPart = context.view.part(driver);
        const high = lightHigh(outputFigures(drivingPart, context.view.row(driver), context.library.families), volts);
        if (high === undefined) continue;
        for (const input of [...net.inputs, ...net.bidirectional]) {
          if (input.part === driver.part) continue;
          const threshold = highThreshold(
            inputFigures(context.view.part(input), context.view.row(input), context.library.families),
            volts,
          );
          if (threshold === undefined || high >= threshold) continue;
          facts.push({
            about: [driver.ref, input.ref],
            severity: 'warning',
            message: `${driver.ref} guarantees ${high.toFixed(2)} V high, and ${input.ref} needs ${threshold.toFixed(2)} V`,
            why: 'Typical parts reach more, so it works on the bench and fails in the cold, or with the next chip.',
            help: 'Use an HCT or ACT part on the receiving side, or a pull-up on the net.',
            where: pinSpan(context, input),
          });
        }
      }
    }
    return facts;
  },
};

export const strapLeftIn: Rule = {
  code: 'check/strap-left-in',
  title: 'A strap or an instrument lead that no stage takes out',
  wholeOnly: true,
  run(context) {
    const facts: Fact[] = [];
    for (const part of context.netlist.parts) {
      if (!part.temporary || part.until !== undefined) continue;
      facts.push({
        about: [part.implied?.serves ?? part.name],
        severity: 'warning',
        message: `The strap on ${part.implied?.serves ?? part.name} is never taken out`,
        why: 'A strap that stays holds its net against whatever later drives it.',
        help: 'Say `until: STAGE` with the stage that takes it out.',
        where: part.origin.span,
      });
    }
    const pods = new Map(
      context.design.leads.filter((lead) => lead.until === undefined).map((lead) => [lead.pod, lead]),
    );
    for (const lead of pods.values()) {
      facts.push({
        about: [lead.pod],
        severity: 'note',
        message: `The leads of ${lead.pod} are never taken off`,
        why: 'A lead loads its net with some ten picofarads.',
        help: 'Say `until: STAGE` with the stage that takes them off.',
        where: lead.span,
      });
    }
    return facts;
  },
};
