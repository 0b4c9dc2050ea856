import fc from 'fast-check';
import { expect, test } from 'vitest';
import { type Formula, namesOf, truthTable } from '../../base/index.ts';
import { Bdd, FALSE, type Fn, TRUE } from './bdd.ts';

const NAMES = ['a', 'b', 'c', 'd', 'e'];
const formulas = fc.letrec<{ formula: Formula }>((tie) => ({
  formula: fc.oneof(
    { maxDepth: 5 },
    fc.constantFrom<Formula>({ kind: 'constant', value: 0 }, { kind: 'constant', value: 1 }),
    fc.constantFrom(...NAMES).map((name): Formula => ({ kind: 'name', name, start: 0, end: 0 })),
    tie('formula').map((term): Formula => ({ kind: 'not', term })),
    fc
      .tuple(
        fc.constantFrom('and' as const, 'or' as const, 'xor' as const),
        fc.array(tie('formula'), { minLength: 2, maxLength: 3 }),
      )
      .map(([kind, terms]): Formula => ({ kind, terms })),
  ),
})).formula;

function build(bdd: Bdd, formula: Formula): Fn {
  switch (formula.kind) {
    case 'constant':
      return formula.value === 1 ? TRUE : FALSE;
    case 'name':
      return bdd.variable(formula.name);
    case 'not':
      return bdd.not(build(bdd, formula.term));
    case 'and':
      return bdd.and(...formula.terms.map((term) => build(bdd, term)));
    case 'or':
      return bdd.or(...formula.terms.map((term) => build(bdd, term)));
    case 'xor':
      return formula.terms.map((term) => build(bdd, term)).reduce((a, b) => bdd.xor(a, b));
  }
}

test('equal functions have equal numbers, and an example is one, as truth tables say', () => {
  fc.assert(
    fc.property(formulas, formulas, (one, other) => {
      const bdd = new Bdd();
      const f = build(bdd, one);
      const g = build(bdd, other);
      const tables = [one, other].map((formula) => [...truthTable(formula, NAMES)].join(''));
      expect(f === g).toBe(tables[0] === tables[1]);
      const levels = bdd.satisfy(f);
      expect(levels === undefined).toBe(!tables[0]!.includes('1'));
      if (levels === undefined) return;
      const row = NAMES.reduce((sum, name, bit) => sum + (levels.get(name) ?? 0) * 2 ** bit, 0);
      expect(tables[0]![row]).toBe('1');
      for (const name of levels.keys()) expect(namesOf(one)).toContain(name);
    }),
    { seed: 42, numRuns: 400 },
  );
});
