// What a rule is, and how its facts become findings: a rule looks at the netlist as of one stage; what it sees in several
// stages is one finding, which says in which stage it first bites and whether a later stage mends it. Facts of one rule
// that stand at one place and in the same stages are one finding too, so that a forgotten line does not give a screenful.

import type { Finding, Fix, Note, Severity, Span } from '../base/index.ts';
import type { Machine } from '../machine/index.ts';
import type { Design, Netlist, NetlistView, StageInfo } from '../netlist/index.ts';
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
  readonly rule: Rule;
  fact: Fact;
  readonly first: number;
  last: number;
}

/** Facts of one rule at one place and in the same stages, and the stages. */
interface Group {
  readonly rule: Rule;
  readonly facts: Fact[];
  readonly first: number;
  readonly last: number;
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
        if (known === undefined) gathered.set(key, { rule, fact, first: context.stage, last: context.stage });
        else {
          known.last = context.stage;
          // The worst that any stage shows.
          if (fact.severity === 'error' && known.fact.severity !== 'error') known.fact = fact;
        }
      }
    }
  }
  const groups = new Map<string, Group>();
  for (const { rule, fact, first, last } of gathered.values()) {
    const { where } = fact;
    const key =
      where === undefined
        ? `${groups.size}`
        : `${rule.code} ${where.file} ${where.start} ${where.end} ${fact.severity} ${first} ${last}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, { rule, facts: [fact], first, last });
    else group.facts.push(fact);
  }
  const stages = contexts[0]?.design.stages ?? [];
  return [...groups.values()].map((group) => findingOf(group, stages));
}

/** ` from stage 3 (free run) on`, or nothing where it holds throughout or the stage says nothing. */
function stagesText(group: Group, stages: readonly StageInfo[]): string {
  const { first, last } = group;
  const name = (stage: number): string => `stage ${stage} (${stages[stage - 1]?.name ?? ''})`;
  if (group.rule.wholeOnly === true || (first === 1 && last === stages.length)) return '';
  if (last === stages.length) return ` from ${name(first)} on`;
  return first === last ? ` in ${name(first)}` : ` from ${name(first)} to ${name(last)}`;
}

function findingOf(group: Group, stages: readonly StageInfo[]): Finding {
  const { rule, facts, first } = group;
  const fact = facts[0]!;
  const others = facts.slice(1).map((other) => other.about[0]!);
  const likewise = others.length === 0 ? [] : [{ text: `The same holds for ${listed(others)}.` }];
  const fixes = facts.flatMap((other) => other.fixes ?? []);
  return {
    code: rule.code,
    severity: fact.severity,
    message: `${fact.message}${stagesText(group, stages)}.`,
    where: fact.where === undefined ? [] : [fact.where],
    notes: [{ text: fact.why }, ...(fact.notes ?? []), ...likewise],
    help: fact.help,
    about: [...new Set(facts.flatMap((other) => other.about))],
    stage: first,
    ...(fixes.length === 0 ? {} : { fixes }),
  };
}

/** `A, B and C`. */
export function listed(names: readonly string[]): string {
  return names.length < 2 ? (names[0] ?? '') : `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}`;
}
