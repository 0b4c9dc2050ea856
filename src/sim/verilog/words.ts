// Words of IEEE 1364: identifiers made of names from files, and formulas as expressions. Nothing from a file reaches the text but
// through `identifier`.

import { bug } from '../../base/index.ts';
import type { Expr } from '../models/formulas.ts';

/** Characters that stand for themselves in an escaped identifier; all others could mean something to some reader. */
const PLAIN = /^[A-Za-z0-9_$+.@:#-]$/;
/** A reader of IEEE 1364 has to take 1024 characters (clause 2.7); some room is left for what tells equal ones apart. */
const LONGEST = 900;

/**
 * An escaped identifier (IEEE 1364-2001, 2.7.1), its closing space included. Other characters are written as % and the
 * hexadecimal bytes of UTF-8, and so is a slash that would begin a comment for a reader that knows no escapes. Two names
 * give the same identifier only where they are the same in their first 900 characters.
 */
export function identifier(name: string): string {
  let text = '';
  const characters = [...name];
  characters.forEach((character, k) => {
    const isPlainSlash = character === '/' && characters[k + 1] !== '/' && characters[k + 1] !== '*' && k < LONGEST;
    text += PLAIN.test(character) || isPlainSlash ? character : percent(character);
  });
  return `\\${text === '' ? '%' : text.slice(0, LONGEST)} `;
}

function percent(character: string): string {
  return utf8(character.codePointAt(0)!)
    .map((byte) => `%${byte.toString(16).padStart(2, '0')}`)
    .join('');
}

function utf8(code: number): number[] {
  if (code < 0x80) return [code];
  if (code < 0x800) return [0xc0 | (code >> 6), 0x80 | (code & 63)];
  if (code < 0x10000) return [0xe0 | (code >> 12), 0x80 | ((code >> 6) & 63), 0x80 | (code & 63)];
  return [0xf0 | (code >> 18), 0x80 | ((code >> 12) & 63), 0x80 | ((code >> 6) & 63), 0x80 | (code & 63)];
}

/** Identifiers that are all different: one that was given out before gets a number. */
export function createNames(): (name: string) => string {
  const seen = new Set<string>();
  return (name) => {
    const first = identifier(name);
    let found = first;
    for (let k = 2; seen.has(found); k++) found = `${first.trimEnd()}%~${k} `;
    seen.add(found);
    return found;
  };
}

/** How the inputs and state variables of a formula are written. */
export interface Terms {
  readonly input: (index: number) => string;
  readonly state: (index: number) => string;
}

/** A formula as an expression in brackets. A bare input keeps its Z: put it through `expression`. */
function bare(expr: Expr, terms: Terms): string {
  switch (expr.op) {
    case 'constant':
      return expr.value === 1 ? "1'b1" : "1'b0";
    case 'input':
      return terms.input(expr.index);
    case 'state':
      return terms.state(expr.index);
    case 'not':
      return `(~${bare(expr.term, terms)})`;
    default: {
      const sign = expr.op === 'and' ? ' & ' : expr.op === 'or' ? ' | ' : ' ^ ';
      if (expr.terms.length === 0) bug('a formula without terms', { op: expr.op });
      return expr.terms.length === 1
        ? bare(expr.terms[0]!, terms)
        : `(${expr.terms.map((term) => bare(term, terms)).join(sign)})`;
    }
  }
}

/** A formula as an expression that is 0, 1 or x: a floating input is unknown. */
export function expression(expr: Expr, terms: Terms): string {
  return expr.op === 'input' ? `(${terms.input(expr.index)} | 1'b0)` : bare(expr, terms);
}

/** What an output drives: z where it is off, x where that is not known. */
export function driven(
  output: { readonly value: Expr; readonly enable: Expr | undefined; readonly openDrain: boolean },
  terms: Terms,
): string {
  const value = expression(output.value, terms);
  const enable = output.enable === undefined ? undefined : expression(output.enable, terms);
  const level = enable === undefined ? value : `(${enable} === 1'b1) ? ${value} : 1'bx`;
  const off = [
    ...(enable === undefined ? [] : [`${enable} === 1'b0`]),
    ...(output.openDrain ? [`${value} === 1'b1`] : []),
  ];
  return off.length === 0 ? level : `(${off.join(' || ')}) ? 1'bz : ${level}`;
}
