// Functions of levels as reduced ordered decision diagrams: equal functions have equal numbers, so "can both be true" is one
// operation and a look. Small and for one netlist at a time; past its limit it says so and its answers must not be used.

import { bug } from '../../base/index.ts';

/** A function, by its number in one `Bdd`. */
export type Fn = number;
export const FALSE: Fn = 0;
export const TRUE: Fn = 1;

/** Most nodes: keys of three numbers must stay whole in a double. */
const MOST = 2 ** 17;

export class Bdd {
  /** Variable of each node; the two constants stand below all variables. */
  readonly #variable: number[] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
  readonly #low: Fn[] = [0, 1];
  readonly #high: Fn[] = [0, 1];
  readonly #unique = new Map<number, Map<number, Fn>>();
  readonly #memo = new Map<number, Fn>();
  readonly #names: string[] = [];
  readonly #places = new Map<string, number>();
  /** True once a function grew past the limit: what was computed since is not to be trusted. */
  overflow = false;

  /** The function that is true where the named level is high. */
  variable(name: string): Fn {
    let place = this.#places.get(name);
    if (place === undefined) {
      place = this.#names.length;
      this.#names.push(name);
      this.#places.set(name, place);
    }
    return this.#node(place, FALSE, TRUE);
  }

  not(f: Fn): Fn {
    return this.choose(f, FALSE, TRUE);
  }

  and(...terms: readonly Fn[]): Fn {
    let all = TRUE;
    for (const term of terms) all = this.choose(all, term, FALSE);
    return all;
  }

  or(...terms: readonly Fn[]): Fn {
    let any = FALSE;
    for (const term of terms) any = this.choose(any, TRUE, term);
    return any;
  }

  xor(a: Fn, b: Fn): Fn {
    return this.choose(a, this.not(b), b);
  }

  /** `f ? g : h`. */
  choose(f: Fn, g: Fn, h: Fn): Fn {
    if (f === TRUE) return g;
    if (f === FALSE) return h;
    if (g === h) return g;
    if (g === TRUE && h === FALSE) return f;
    const key = (f * MOST + g) * MOST + h;
    const known = this.#memo.get(key);
    if (known !== undefined) return known;
    const top = Math.min(this.#variable[f]!, this.#variable[g]!, this.#variable[h]!);
    const low = (n: Fn): Fn => (this.#variable[n] === top ? this.#low[n]! : n);
    const high = (n: Fn): Fn => (this.#variable[n] === top ? this.#high[n]! : n);
    const result = this.#node(top, this.choose(low(f), low(g), low(h)), this.choose(high(f), high(g), high(h)));
    this.#memo.set(key, result);
    return result;
  }

  /** Levels that make `f` true, as few as decide it; undefined where none do. */
  satisfy(f: Fn): Map<string, 0 | 1> | undefined {
    if (f === FALSE) return undefined;
    const levels = new Map<string, 0 | 1>();
    for (let n = f; n !== TRUE; ) {
      const name = this.#names[this.#variable[n]!] ?? bug('a node without a variable', { n });
      // High first: strobes and selects rest high, so the example stays near rest.
      const up = this.#high[n]! !== FALSE;
      levels.set(name, up ? 1 : 0);
      n = up ? this.#high[n]! : this.#low[n]!;
    }
    return levels;
  }

  #node(variable: number, low: Fn, high: Fn): Fn {
    if (low === high) return low;
    let table = this.#unique.get(variable);
    if (table === undefined) {
      table = new Map();
      this.#unique.set(variable, table);
    }
    const key = high * MOST + low;
    const known = table.get(key);
    if (known !== undefined) return known;
    if (this.#variable.length >= MOST) {
      this.overflow = true;
      return FALSE;
    }
    const id = this.#variable.length;
    this.#variable.push(variable);
    this.#low.push(low);
    this.#high.push(high);
    table.set(key, id);
    return id;
  }
}
