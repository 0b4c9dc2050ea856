// The address map: overlaps, and nothing where the processor starts.

import { formatHex } from '../../base/index.ts';
import type { MapRegion } from '../../netlist/index.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';

function regionsAt(context: RuleContext): MapRegion[] {
  return context.design.map.filter(
    (region) => region.stage <= context.stage && (region.until === undefined || context.stage < region.until),
  );
}

/** Pairs of regions of different parts that share an address while both answer. */
export function overlapping(context: RuleContext): (readonly [MapRegion, MapRegion])[] {
  const regions = regionsAt(context);
  return regions.flatMap((one, k) =>
    regions.slice(k + 1).flatMap((other) => {
      if (other.space !== one.space || other.part === one.part || one.decl === other.decl) return [];
      if (one.decl.when !== undefined || other.decl.when !== undefined) return [];
      if (one.access !== undefined && other.access !== undefined && one.access !== other.access) return [];
      const apart = other.at >= one.at + one.bytes || one.at >= other.at + other.bytes;
      return apart ? [] : [[one, other] as const];
    }),
  );
}

export const overlappingRegions: Rule = {
  code: 'check/overlapping-regions',
  title: 'Two parts that answer at one address',
  run(context) {
    return overlapping(context).map(([one, other]): Fact => {
      const from = Math.max(one.at, other.at);
      const to = Math.min(one.at + one.bytes, other.at + other.bytes) - 1;
      return {
        about: [one.part, other.part],
        severity: 'error',
        message: `${one.part} and ${other.part} both answer at ${one.space === 'memory' ? '' : 'port '}${formatHex(from)}${to > from ? ` to ${formatHex(to)}` : ''}`,
        why: 'On a read both drive the data bus against each other.',
        help: 'Move or shorten one of them, or say under which condition each answers: `when: ~rom-off`.',
        where: other.decl.span,
        notes: [{ text: 'The other one.', span: one.decl.span }],
      };
    });
  },
};

export const noMemoryAtReset: Rule = {
  code: 'check/no-memory-at-reset',
  title: 'No memory where the processor starts',
  run(context) {
    const facts: Fact[] = [];
    const regions = regionsAt(context).filter((region) => region.space === 'memory');
    if (regions.length === 0) return facts; // Before memory there is only free running.
    for (const part of context.netlist.parts) {
      for (const vector of part.record.bus?.role === 'processor' ? (part.record.bus.vectors ?? []) : []) {
        if (vector.name !== 'reset') continue;
        const last = vector.at + vector.bytes - 1;
        const answers = regions.filter((region) => region.at <= vector.at && last < region.at + region.bytes);
        const holding = answers.filter((region) =>
          context.netlist.parts.some(
            (memory) => memory.name.toLowerCase() === region.part.toLowerCase() && memory.holds !== undefined,
          ),
        );
        if (holding.length > 0) continue;
        facts.push({
          about: [part.name],
          severity: 'error',
          message:
            answers.length === 0
              ? `Nothing answers at ${formatHex(vector.at)}, where ${part.name} starts`
              : `${answers[0]!.part} answers at ${formatHex(vector.at)}, where ${part.name} starts, and holds no image`,
          why: `After reset a ${part.type} reads its ${vector.reads ?? 'first instruction'} there.`,
          help: 'Put a memory that holds an image over that address.',
          where: answers[0]?.decl.span ?? part.origin.span,
        });
      }
    }
    return facts;
  },
};
