// Formulas over levels, with the operators of IEEE 1364: `~ & ^ |` in this order of strength, parentheses, 0 and 1. One
// language for behaviour in part records, `logic` in machine files and equations of logic devices. Names are levels
// (1 = high), whatever their polarity: what a name stands for is looked up by the caller, never here.

import { bug } from './bug.ts';
import { foldName } from './names.ts';

/** A formula as a tagged plain object. `and`, `or` and `xor` hold two terms or more; brackets of the text are nesting. */
export type Formula =
  | { readonly kind: 'constant'; readonly value: 0 | 1 }
  | { readonly kind: 'name'; readonly name: string; readonly start: number; readonly end: number }
  | { readonly kind: 'not'; readonly term: Formula }
  | { readonly kind: 'and' | 'or' | 'xor'; readonly terms: readonly Formula[] };

/** What is wrong with a text that should be a formula; offsets are UTF-16 units within that text, end excluded. */
export interface FormulaProblem {
  readonly message: string;
  readonly start: number;
  readonly end: number;
}

/** A level as far as it is known: low, high, or not known. */
export type FormulaLevel = 0 | 1 | 'X';

/** Brackets and negations may be nested this deep. */
const DEEPEST = 100;
const LONGEST = 200_000;
const WORDS: Readonly<Record<string, string>> = { and: '&', or: '|', not: '~', when: 'when' };

interface Token {
  /** An operator, `(`, `)`, `when`, `name`, or `end`. */
  readonly kind: string;
  readonly text: string;
  readonly start: number;
  readonly end: number;
}

interface Reader {
  readonly tokens: readonly Token[];
  at: number;
  depth: number;
  problem: FormulaProblem | undefined;
}

/**
 * Reads a formula (`~(a & b) | low(/CS)`) or a statement (`high when low(/CS) and R/W`, `low when EXPR`, which is `~EXPR`).
 * `low(x)` is `~x`, `high(x)` is `x`; the words `and`, `or`, `not` are the operators `&`, `|`, `~`. Never throws.
 */
export function parseFormula(text: string): { formula?: Formula; problem?: FormulaProblem } {
  if (text.length > LONGEST)
    return { problem: { message: `A formula has at most ${LONGEST} characters.`, start: 0, end: text.length } };
  const lexed = lex(text);
  if (!Array.isArray(lexed)) return { problem: lexed };
  const reader: Reader = { tokens: lexed, at: 0, depth: 0, problem: undefined };
  let statement: string | undefined;
  const first = lexed[0]!;
  if (first.kind === 'name' && /^(?:low|high)$/i.test(first.text) && lexed[1]?.kind === 'when') {
    statement = foldName(first.text);
    reader.at = 2;
  }
  const formula = parseTerms(reader, 0);
  const rest = reader.tokens[reader.at]!;
  if (reader.problem === undefined && rest.kind !== 'end') fail(reader, rest, leftOver(rest));
  if (reader.problem !== undefined || formula === undefined)
    return { problem: reader.problem ?? { message: 'This is not a formula.', start: 0, end: text.length } };
  return { formula: statement === 'low' ? { kind: 'not', term: formula } : formula };
}

function lex(text: string): Token[] | FormulaProblem {
  const tokens: Token[] = [];
  const pattern = /[A-Za-z0-9_/+.@$-]+|[~&|^()]|\s+|./suy;
  let at = 0;
  while (at < text.length) {
    pattern.lastIndex = at;
    const found = pattern.exec(text)?.[0] ?? text[at]!;
    const end = at + found.length;
    if (/^[A-Za-z0-9_/+.@$-]/.test(found)) {
      const word = Object.hasOwn(WORDS, found) ? WORDS[found]! : 'name';
      tokens.push({ kind: word, text: found, start: at, end });
    } else if (/^[~&|^()]$/.test(found)) {
      const before = tokens.at(-1);
      if ((found === '&' || found === '|') && before?.text === found && before.end === at)
        return { message: `Write a single ${found} here.`, start: before.start, end };
      tokens.push({ kind: found, text: found, start: at, end });
    } else if (!/^\s/.test(found)) {
      const instead = found === '!' ? '; write ~ for not' : found === '*' ? '; write & for and' : '';
      return { message: `The character ${found} has no place in a formula${instead}.`, start: at, end };
    }
    at = end;
  }
  tokens.push({ kind: 'end', text: '', start: text.length, end: text.length });
  return tokens;
}

function fail(reader: Reader, token: Token, message: string): undefined {
  reader.problem ??= { message, start: token.start, end: token.end };
  return undefined;
}

function leftOver(token: Token): string {
  if (token.kind === ')') return 'This bracket closes nothing.';
  if (token.kind === 'when') return 'A statement starts with `high when` or `low when`.';
  return `An operator (~ & ^ |) is missing before ${token.text}.`;
}

/** Loosest first. */
const LEVELS: readonly (readonly [string, 'or' | 'xor' | 'and'])[] = [
  ['|', 'or'],
  ['^', 'xor'],
  ['&', 'and'],
];

function parseTerms(reader: Reader, level: number): Formula | undefined {
  const operator = LEVELS[level];
  if (operator === undefined) return parseTerm(reader);
  const terms: Formula[] = [];
  for (;;) {
    const term = parseTerms(reader, level + 1);
    if (term === undefined) return undefined;
    terms.push(term);
    if (reader.tokens[reader.at]!.kind !== operator[0]) break;
    reader.at++;
  }
  return terms.length === 1 ? terms[0] : { kind: operator[1], terms };
}

function parseTerm(reader: Reader): Formula | undefined {
  const token = reader.tokens[reader.at]!;
  if (reader.depth >= DEEPEST) return fail(reader, token, `Brackets and negations go at most ${DEEPEST} deep.`);
  reader.depth++;
  const term = parseTermInside(reader, token);
  reader.depth--;
  return term;
}

function parseTermInside(reader: Reader, token: Token): Formula | undefined {
  reader.at++;
  if (token.kind === '~') {
    const term = parseTerm(reader);
    return term === undefined ? undefined : { kind: 'not', term };
  }
  if (token.kind === '(') return parseBracket(reader, token);
  if (token.kind === 'name') {
    const open = reader.tokens[reader.at]!;
    if (open.kind === '(') {
      if (!/^(?:low|high)$/i.test(token.text))
        return fail(reader, token, `${token.text} is no function; there are low( ) and high( ).`);
      reader.at++;
      const term = parseBracket(reader, open);
      if (term === undefined) return undefined;
      return foldName(token.text) === 'low' ? { kind: 'not', term } : term;
    }
    if (token.text === '0' || token.text === '1') return { kind: 'constant', value: token.text === '0' ? 0 : 1 };
    return { kind: 'name', name: token.text, start: token.start, end: token.end };
  }
  reader.at--;
  if (token.kind === 'end') return fail(reader, token, 'The formula ends where a name is wanted.');
  return fail(reader, token, `A name is wanted before ${token.text}.`);
}

function parseBracket(reader: Reader, open: Token): Formula | undefined {
  const inner = parseTerms(reader, 0);
  if (inner === undefined) return undefined;
  const close = reader.tokens[reader.at]!;
  if (close.kind === 'end') return fail(reader, open, 'This bracket is not closed.');
  if (close.kind !== ')') return fail(reader, close, leftOver(close));
  reader.at++;
  return inner;
}

/** The names a formula uses, in order of first use; names that differ by case only count once, as first written. */
export function namesOf(formula: Formula): string[] {
  const names = new Map<string, string>();
  const walk = (part: Formula): void => {
    if (part.kind === 'name') {
      const key = foldName(part.name);
      if (!names.has(key)) names.set(key, part.name);
    } else if (part.kind === 'not') walk(part.term);
    else if (part.kind !== 'constant') for (const term of part.terms) walk(term);
  };
  walk(formula);
  return [...names.values()];
}

const SIGN = { or: ' | ', xor: ' ^ ', and: ' & ' } as const;
const STRENGTH = { or: 0, xor: 1, and: 2, not: 3, name: 4, constant: 4 } as const;

/** Writes a formula so that reading it again gives the same one (places of names apart). */
export function printFormula(formula: Formula): string {
  const inner = (part: Formula, least: number): string => {
    const text = printFormula(part);
    return STRENGTH[part.kind] < least ? `(${text})` : text;
  };
  switch (formula.kind) {
    case 'constant':
      return String(formula.value);
    case 'name':
      return formula.name;
    case 'not':
      return `~${inner(formula.term, STRENGTH.not)}`;
    default:
      return formula.terms.map((term) => inner(term, STRENGTH[formula.kind] + 1)).join(SIGN[formula.kind]);
  }
}

/**
 * The value of a formula where some levels may be unknown: 0 or 1 where the known ones decide it gate by gate, else 'X'.
 * `x | ~x` with x unknown is 'X', as it is for real gates for a moment.
 */
export function evaluate(formula: Formula, level: (name: string) => FormulaLevel): FormulaLevel {
  switch (formula.kind) {
    case 'constant':
      return formula.value;
    case 'name':
      return level(formula.name);
    case 'not': {
      const value = evaluate(formula.term, level);
      return value === 'X' ? 'X' : value === 0 ? 1 : 0;
    }
    case 'xor': {
      let sum: FormulaLevel = 0;
      for (const term of formula.terms) {
        const value = evaluate(term, level);
        if (value === 'X') return 'X';
        sum = sum === value ? 0 : 1;
      }
      return sum;
    }
    default: {
      // One controlling value decides: 0 for and, 1 for or.
      const controlling = formula.kind === 'and' ? 0 : 1;
      let unknown = false;
      for (const term of formula.terms) {
        const value = evaluate(term, level);
        if (value === controlling) return controlling;
        if (value === 'X') unknown = true;
      }
      return unknown ? 'X' : controlling === 0 ? 1 : 0;
    }
  }
}

/** The formula with each name replaced by a formula; undefined from `replace` keeps the name. */
export function substituteFormula(formula: Formula, replace: (name: string) => Formula | undefined): Formula {
  switch (formula.kind) {
    case 'constant':
      return formula;
    case 'name':
      return replace(formula.name) ?? formula;
    case 'not':
      return { kind: 'not', term: substituteFormula(formula.term, replace) };
    default:
      return { kind: formula.kind, terms: formula.terms.map((term) => substituteFormula(term, replace)) };
  }
}

/** The formula with its names changed; the places of names stay those of the text it was read from. */
export function renameFormula(formula: Formula, rename: (name: string) => string): Formula {
  switch (formula.kind) {
    case 'constant':
      return formula;
    case 'name':
      return { ...formula, name: rename(formula.name) };
    case 'not':
      return { kind: 'not', term: renameFormula(formula.term, rename) };
    default:
      return { kind: formula.kind, terms: formula.terms.map((term) => renameFormula(term, rename)) };
  }
}

/** Level columns of the first five names within a 32-row word. */
const COLUMNS = [0xaaaaaaaa, 0xcccccccc, 0xf0f0f0f0, 0xff00ff00, 0xffff0000] as const;

/**
 * The values of a formula for every combination of levels: entry i is the value where names[k] has the level of bit k
 * of i (bit 0 lowest). At most 20 names, compared without regard to case; every name of the formula must be among them.
 */
export function truthTable(formula: Formula, names: readonly string[]): Uint8Array {
  if (names.length > 20) bug('a truth table of more than 20 names', { names: names.length });
  const place = new Map(names.map((name, index) => [foldName(name), index]));
  const rows = 2 ** names.length;
  const words = Math.max(1, rows / 32);
  const fill = (part: Formula): Uint32Array => {
    switch (part.kind) {
      case 'constant':
        return new Uint32Array(words).fill(part.value === 1 ? 0xffffffff : 0);
      case 'name': {
        const index = place.get(foldName(part.name)) ?? bug('a name that the truth table does not list', { ...part });
        const column = new Uint32Array(words);
        if (index < 5) return column.fill(COLUMNS[index]!);
        for (let i = 0; i < words; i++) column[i] = (i >>> (index - 5)) & 1 ? 0xffffffff : 0;
        return column;
      }
      case 'not': {
        const column = fill(part.term);
        for (let i = 0; i < words; i++) column[i] = ~column[i]!;
        return column;
      }
      default: {
        const [head, ...tail] = part.terms;
        const column = fill(head!);
        for (const term of tail) {
          const other = fill(term);
          if (part.kind === 'and') for (let i = 0; i < words; i++) column[i]! &= other[i]!;
          else if (part.kind === 'or') for (let i = 0; i < words; i++) column[i]! |= other[i]!;
          else for (let i = 0; i < words; i++) column[i]! ^= other[i]!;
        }
        return column;
      }
    }
  };
  const packed = fill(formula);
  const table = new Uint8Array(rows);
  for (let i = 0; i < rows; i++) table[i] = (packed[i >>> 5]! >>> (i & 31)) & 1;
  return table;
}
