// What a rule is, and how its facts become findings: a rule looks at the netlist as of one stage; what it sees in several
// stages is one finding, which says in which stage it first bites and whether a later stage mends it.

import type { Finding, Fix, Note, Severity, Span } from '../base/index.ts';
import type { Machine } from '../machine/index.ts';
import type { Design, Netlist, NetlistView } from '../netlist/index.ts';
import type { Library } from '../parts/index.ts';

export interface RuleContext {
  readonly design: Design;
  readonly machine: Machine;
  readonly library: Library;
  readonly netlist: Netlist;
  readonly view: NetlistView;
  readonly stage: number;
  /** True for the last stage: the machine as it is meant to be. */
  readonly whole: boolean;
}

/** One thing a rule saw. Facts of the same key in several stages become one finding. */
export interface Fact {
  /** Names of what it is about; with the code it is the key. */
  readonly about: readonly string[];
  readonly severity: Severity;
  /** A sentence without the stage: `CPU./INT floats`; the stage is added. */
  readonly message: string;
  readonly why: string;
  readonly help: string;
  readonly where: Span | undefined;
  readonly notes?: readonly Note[];
  readonly fixes?: readonly Fix[];
}

export interface Rule {
  /** `check/kebab-name`. */
  readonly code: string;
  /** What it looks for, in one line. */
  readonly title: string;
  run(context: RuleContext): Fact[];
  /** True where only the whole machine is looked at. */
  readonly wholeOnly?: boolean;
}

interface Gathered {
  readonly code: string;
  fact: Fact;
  readonly first: number;
  last: number;
}

/** Runs the rules over all stages. */
export function runRules(rules: readonly Rule[], contexts: readonly RuleContext[]): Finding[] {
  const gathered = new Map<string, Gathered>();
  for (const context of contexts) {
    for (const rule of rules) {
      if (rule.wholeOnly === true && !context.whole) continue;
      for (const fact of rule.run(context)) {
        const key = `${rule.code} ${fact.about.join(' ')}`;
        const known = gathered.get(key);
        if (known === undefined)
          gathered.set(key, { code: rule.code, fact, first: context.stage, last: context.stage });
        else {
          known.last = context.stage;
          // The worst that any stage shows.
          if (fact.severity === 'error' && known.fact.severity !== 'error') known.fact = fact;
        }
      }
    }
  }
  const stages = contexts[0]?.design.stages ?? [];
  return [...gathered.values()].map(({ code, fact, first, last }) => {
    const name = (stage: number): string => `stage ${stage} (${stages[stage - 1]?.name ?? ''})`;
    const when =
      first === 1 && last === stages.length
        ? ''
        : last === stages.length
          ? ` from ${name(first)} on`
          : first === last
            ? ` in ${name(first)}`
            : ` from ${name(first)} to ${name(last)}`;
    return {
      code,
      severity: fact.severity,
      message: `${fact.message}${when}.`,
      where: fact.where === undefined ? [] : [fact.where],
      notes: [{ text: fact.why }, ...(fact.notes ?? [])],
      help: fact.help,
      about: fact.about,
      stage: first,
      ...(fact.fixes === undefined ? {} : { fixes: fact.fixes }),
    };
  });
}
