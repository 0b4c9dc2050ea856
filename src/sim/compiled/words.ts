// Small pieces of generated code for dual-rail words. They take and give names of variables and numbers only: no text of a
// file ever reaches generated code.

import type { Expr } from '../models/formulas.ts';
import type { Lane } from './layout.ts';

/** A number as code. */
export const num = (value: number): string => String(value | 0);

/** The value of code that is a number, else undefined. */
export const fixed = (code: string): number | undefined => (/^-?\d+$/.test(code) ? Number(code) | 0 : undefined);

/** Code that puts a word together from lanes; at most one term for each source word and distance. */
export function gather(lanes: readonly Lane[], word: (at: number) => string = (at) => `S[${at}]`): string {
  const groups = new Map<string, { at: number; shift: number; mask: number }>();
  let constant = 0;
  lanes.forEach((lane, to) => {
    if ('value' in lane) {
      constant |= ((lane.value & 1) << to) | ((lane.value >> 1) << (to + 16));
      return;
    }
    const key = `${lane.at} ${to - lane.from}`;
    const group = groups.get(key) ?? { at: lane.at, shift: to - lane.from, mask: 0 };
    group.mask |= 1 << lane.from;
    groups.set(key, group);
  });
  const terms = [...groups.values()].map(({ at, shift, mask }) => {
    const both = num(mask | (mask << 16));
    const masked = `(${word(at)}&${both})`;
    return shift === 0 ? masked : shift > 0 ? `(${masked}<<${shift})` : `(${masked}>>>${-shift})`;
  });
  if (constant !== 0) terms.push(num(constant));
  return terms.length === 0 ? '0' : terms.length === 1 ? `(${terms[0]}|0)` : `(${terms.join('|')}|0)`;
}

/** Code that spreads one lane over `mask`. */
export function spread(lane: Lane, mask: number, word: (at: number) => string = (at) => `S[${at}]`): string {
  const m = num(mask);
  const high = num(mask << 16);
  if ('value' in lane) return num(((lane.value & 1) !== 0 ? mask : 0) | ((lane.value & 2) !== 0 ? mask << 16 : 0));
  const source = word(lane.at);
  if (mask === 1 && lane.from === 0) return `(${source}&65537)`;
  if (mask === 1) return `((${source}>>>${lane.from})&65537)`;
  return `((-((${source}>>>${lane.from})&1)&${m})|(-((${source}>>>${lane.from + 16})&1)&${high}))`;
}

/** Writes statements and hands out names: a few variables, used again by every part, so that frames stay small. */
export class Writer {
  #code: string[] = [];
  #count = 0;
  readonly #held = new Map<string, string>();

  line(text: string): void {
    this.#code.push(text);
  }

  /** A name for the value of an expression. */
  hold(expression: string): string {
    if (/^-?\w+$/.test(expression)) return expression;
    // What is made of held values only is the same wherever it is asked for.
    const isPure = !expression.includes('S[');
    const known = isPure ? this.#held.get(expression) : undefined;
    if (known !== undefined) return known;
    const name = `v${this.#count++}`;
    this.line(`${name}=${expression};`);
    if (isPure) this.#held.set(expression, name);
    return name;
  }

  /** How many names were handed out: v0 and so on. */
  get names(): number {
    return this.#count;
  }

  toString(): string {
    return this.#code.join('\n');
  }
}

export function swap(a: string): string {
  const known = fixed(a);
  return known === undefined ? `((${a}>>>16)|(${a}<<16))` : num((known >>> 16) | (known << 16));
}

/** Both halves of a word from a mask of lanes. */
export function twice(lanes: string): string {
  const known = fixed(lanes);
  return known === undefined ? `(${lanes}|(${lanes}<<16))` : num(known | (known << 16));
}

/** Whether a word is high, or low, in every lane of the mask. */
const isAll = (code: string, mask: number): 'high' | 'low' | undefined => {
  const known = fixed(code);
  return known === mask ? 'high' : known === ((mask << 16) | 0) ? 'low' : undefined;
};

export function andWord(w: Writer, a: string, b: string, mask: number): string {
  for (const [one, other] of [
    [a, b],
    [b, a],
  ] as const) {
    if (isAll(one, mask) === 'high') return other;
    if (isAll(one, mask) === 'low') return one;
  }
  return w.hold(`((${a}&${b}&${num(mask)})|((${a}|${b})&${num(mask << 16)}))`);
}

export function orWord(w: Writer, a: string, b: string, mask: number): string {
  for (const [one, other] of [
    [a, b],
    [b, a],
  ] as const) {
    if (isAll(one, mask) === 'low') return other;
    if (isAll(one, mask) === 'high') return one;
  }
  return w.hold(`(((${a}|${b})&${num(mask)})|(${a}&${b}&${num(mask << 16)}))`);
}

export function xorWord(w: Writer, a: string, b: string, mask: number): string {
  const unlike = w.hold(`${a}&${swap(b)}`);
  const alike = w.hold(`${a}&${b}`);
  return w.hold(`(((${unlike}|(${unlike}>>>16))&${num(mask)})|(((${alike}<<16)|${alike})&${num(mask << 16)}))`);
}

/** Where `acts` is high `to`, where low `from`, else what both agree on. */
export function chooseWord(w: Writer, acts: string, to: string, from: string, mask: number): string {
  const all = isAll(acts, mask);
  if (all !== undefined) return all === 'high' ? to : from;
  const yes = w.hold(`${acts}&${num(mask)}`);
  const no = w.hold(`(${acts}>>>16)&${num(mask)}`);
  return w.hold(`(${to}&${twice(yes)})|(${from}&${twice(no)})`);
}

/** A formula over words: `leaf` gives the word of each leaf, in order. */
export function formulaWord(w: Writer, expr: Expr, leaf: () => string, mask: number): string {
  switch (expr.op) {
    case 'constant':
      return num(expr.value === 1 ? mask : mask << 16);
    case 'input':
    case 'state':
      return leaf();
    case 'not':
      return w.hold(swap(formulaWord(w, expr.term, leaf, mask)));
    default: {
      const words = expr.terms.map((term) => formulaWord(w, term, leaf, mask));
      const join = expr.op === 'and' ? andWord : expr.op === 'or' ? orWord : xorWord;
      return words.slice(1).reduce((value, word) => join(w, value, word, mask), words[0]!);
    }
  }
}
