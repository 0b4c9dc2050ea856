import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  evaluate,
  type Formula,
  type FormulaLevel,
  namesOf,
  parseFormula,
  printFormula,
  renameFormula,
  substituteFormula,
  truthTable,
} from './index.ts';

const read = (text: string): Formula => {
  const { formula, problem } = parseFormula(text);
  if (formula === undefined) throw new Error(`${text}: ${problem?.message}`);
  return formula;
};
/** Without the places of names, which are not part of what a formula says. */
const bare = (formula: Formula): unknown =>
  JSON.parse(JSON.stringify(formula), (key, value) => (key === 'start' || key === 'end' ? undefined : value));
const print = (text: string): string => printFormula(read(text));
const complain = (text: string): string => {
  const { problem } = parseFormula(text);
  return problem === undefined ? 'no problem' : `${problem.start}-${problem.end} ${problem.message}`;
};

const NAMES = ['A', '/OE', 'R/W', 'IO//M', 'CPU.A0', 'GND@20', 'D+', '$x', 'a-b_c', 'low', '2Y'];
const name = fc.constantFrom(...NAMES).map((text): Formula => ({ kind: 'name', name: text, start: 0, end: 0 }));
const { formula: anyFormula } = fc.letrec<{ formula: Formula }>((tie) => ({
  formula: fc.oneof(
    { depthSize: 'medium', withCrossShrink: true },
    { arbitrary: name, weight: 3 },
    { arbitrary: fc.constantFrom<0 | 1>(0, 1).map((value): Formula => ({ kind: 'constant', value })), weight: 1 },
    { arbitrary: tie('formula').map((term): Formula => ({ kind: 'not', term })), weight: 2 },
    {
      arbitrary: fc
        .tuple(
          fc.constantFrom('and' as const, 'or' as const, 'xor' as const),
          fc.array(tie('formula'), { minLength: 2, maxLength: 4 }),
        )
        .map(([kind, terms]): Formula => ({ kind, terms })),
      weight: 4,
    },
  ),
}));
const seeded = { seed: 42, numRuns: 300 };

test('strength is ~ & ^ |, and brackets are kept as nesting', () => {
  expect(bare(read('a | b ^ c & ~d'))).toEqual(bare(read('a | (b ^ (c & (~d)))')));
  expect(print('(a|b)&c')).toBe('(a | b) & c');
  expect(print('a & (b & c)')).toBe('a & (b & c)');
  expect(print('~~a')).toBe('~~a');
  expect(print('~(a&b)')).toBe('~(a & b)');
});

test('names carry slashes, signs and dots as on data sheets', () => {
  expect(namesOf(read('~/OE & R/W | IO//M ^ CPU.A0 & cpu.a0'))).toEqual(['/OE', 'R/W', 'IO//M', 'CPU.A0']);
  const formula = read('x & /OE');
  expect(formula.kind === 'and' && formula.terms[1]).toEqual({ kind: 'name', name: '/OE', start: 4, end: 7 });
});

test('low, high and the statement form are the same operators in words', () => {
  expect(print('low(/CS)')).toBe('~/CS');
  expect(print('high(A15)')).toBe('A15');
  expect(print('low(a | b)')).toBe('~(a | b)');
  expect(print('high when low(/reset)')).toBe('~/reset');
  expect(print('low when low(/CS) and not R/W or high(E)')).toBe('~(~/CS & ~R/W | E)');
  expect(print('HIGH when Low(x)')).toBe('~x');
  expect(print('low & high')).toBe('low & high');
});

test('what is wrong is said with its place', () => {
  expect(complain('')).toBe('0-0 The formula ends where a name is wanted.');
  expect(complain('a &')).toBe('3-3 The formula ends where a name is wanted.');
  expect(complain('a b')).toBe('2-3 An operator (~ & ^ |) is missing before b.');
  expect(complain('(a | b')).toBe('0-1 This bracket is not closed.');
  expect(complain('a)')).toBe('1-2 This bracket closes nothing.');
  expect(complain('!a')).toBe('0-1 The character ! has no place in a formula; write ~ for not.');
  expect(complain('a && b')).toBe('2-4 Write a single & here.');
  expect(complain('nand(a, b)')).toBe('6-7 The character , has no place in a formula.');
  expect(complain('nand(a)')).toBe('0-4 nand is no function; there are low( ) and high( ).');
  expect(complain('a when b')).toBe('2-6 A statement starts with `high when` or `low when`.');
  expect(complain('& a')).toBe('0-1 A name is wanted before &.');
});

test('hostile texts give a problem or a formula, never an exception', () => {
  for (const text of [
    '('.repeat(50_000),
    '~'.repeat(50_000),
    `a${'&a'.repeat(50_000)}`,
    'x'.repeat(300_000),
    '\u{1f600}',
    '\0',
  ])
    expect(Object.keys(parseFormula(text))).toHaveLength(1);
  expect(complain('~'.repeat(5000))).toContain('at most 100 deep');
  fc.assert(
    fc.property(fc.string({ unit: 'binary', maxLength: 60 }), (text) => {
      const { formula, problem } = parseFormula(text);
      expect((formula === undefined) !== (problem === undefined)).toBe(true);
      if (problem !== undefined) {
        expect(problem.start).toBeLessThanOrEqual(problem.end);
        expect(problem.end).toBeLessThanOrEqual(text.length);
      }
    }),
    seeded,
  );
});

test('what is printed reads back as the same formula', () => {
  fc.assert(
    fc.property(anyFormula, (formula) => {
      expect(bare(read(printFormula(formula)))).toEqual(bare(formula));
    }),
    seeded,
  );
});

/** The definition, kept apart from the code under test: two values only, over plain booleans. */
function plainly(formula: Formula, level: ReadonlyMap<string, boolean>): boolean {
  switch (formula.kind) {
    case 'constant':
      return formula.value === 1;
    case 'name':
      return level.get(formula.name)!;
    case 'not':
      return !plainly(formula.term, level);
    case 'and':
      return formula.terms.every((term) => plainly(term, level));
    case 'or':
      return formula.terms.some((term) => plainly(term, level));
    case 'xor':
      return formula.terms.filter((term) => plainly(term, level)).length % 2 === 1;
  }
}

test('a value that three-valued evaluation calls known is the value for every choice of the unknown levels', () => {
  const levels = fc.array(fc.constantFrom<FormulaLevel>(0, 1, 'X'), {
    minLength: NAMES.length,
    maxLength: NAMES.length,
  });
  let known = 0;
  let unknown = 0;
  fc.assert(
    fc.property(anyFormula, levels, fc.nat(), (formula, given, choice) => {
      const value = evaluate(formula, (wanted) => given[NAMES.indexOf(wanted)]!);
      const chosen = new Map(
        NAMES.map((wanted, i) => [wanted, given[i] === 'X' ? ((choice >> i) & 1) === 1 : given[i] === 1]),
      );
      if (value !== 'X') {
        known++;
        expect(value === 1).toBe(plainly(formula, chosen));
      } else {
        unknown++;
        expect(namesOf(formula).some((wanted) => given[NAMES.indexOf(wanted)] === 'X')).toBe(true);
      }
    }),
    seeded,
  );
  expect(Math.min(known, unknown)).toBeGreaterThan(30);
});

test('the truth table agrees with evaluation row by row', () => {
  fc.assert(
    fc.property(anyFormula, (formula) => {
      const table = truthTable(formula, NAMES);
      expect(table).toHaveLength(2 ** NAMES.length);
      for (let row = 0; row < table.length; row += 37) {
        const level = new Map(NAMES.map((wanted, i) => [wanted, ((row >> i) & 1) === 1]));
        expect(table[row] === 1).toBe(plainly(formula, level));
      }
    }),
    { seed: 42, numRuns: 60 },
  );
  expect([...truthTable(read('a & ~b'), ['A', 'B'])]).toEqual([0, 1, 0, 0]);
  expect([...truthTable(read('1'), [])]).toEqual([1]);
  expect(
    truthTable(
      read('x7 ^ x19'),
      Array.from({ length: 20 }, (_, i) => `x${i}`),
    ).reduce((sum, bit) => sum + bit, 0),
  ).toBe(2 ** 19);
});

test('renaming and substituting touch names only', () => {
  expect(printFormula(renameFormula(read('~A & (B | 1)'), (text) => `U1.${text}`))).toBe('~U1.A & (U1.B | 1)');
  expect(printFormula(substituteFormula(read('~A & B'), (text) => (text === 'A' ? read('x | y') : undefined)))).toBe(
    '~(x | y) & B',
  );
});
