// Names of channels as people and instruments write them, told to names of nets: case, brackets, and the many marks of an
// active-low signal (/RD, ~RD, RD#, nRD, RD_n, RD bar) are the same name.

import { foldName } from '../../base/index.ts';

/** A name without its marks. */
export interface BareName {
  /** Letters and digits in small letters. */
  readonly base: string;
  /** True where a mark says active low; a trailing n or b that may be part of the word doesn't count. */
  readonly isLow: boolean;
}

const strip = (text: string): string => foldName(text).replace(/[\s_.\-[\]()<>:]/g, '');

/** Takes scope, brackets and marks off. */
export function bareName(name: string): BareName {
  // `top.cpu.A0`, `CH3: A0`, `A0 [V]`: the last word that is a name.
  let text = name.trim().replace(/^"(.*)"$/, '$1');
  text = text.replace(/^(?:ch|channel|probe|d|in|input|pod)\s*\d+\s*[:=]\s*(?=\S)/i, '');
  text = text.replace(/^.*[.](?=[^.]*[A-Za-z])/, '');
  let isLow = false;
  const low = /^(?:[/~!\\*¬#]|not[ _]|n_|\/\/)(?=\S)/i.exec(text);
  if (low !== null) {
    isLow = true;
    text = text.slice(low[0].length);
  } else if (/^n(?=[A-Z][A-Z0-9_]*$)/.test(text)) {
    isLow = true;
    text = text.slice(1);
  }
  const tail = /(?:[#*~!\\]|[ _-]?(?:bar|inv)|[ _-](?:n|b|l|low|neg))$/i.exec(text);
  if (tail !== null && tail.index > 0) {
    isLow = true;
    text = text.slice(0, tail.index);
  } else if (/^[A-Z0-9_]+n$/.test(text) && text.length > 2) {
    isLow = true;
    text = text.slice(0, -1);
  }
  // Combining lines over letters, as some instruments write them.
  if (/\u0305|\u0304/.test(text)) {
    isLow = true;
    text = text.replace(/[\u0305\u0304]/g, '');
  }
  return { base: strip(text), isLow };
}

/** The nets that a channel's name can mean, the best first: the same words with the same mark, else the same words. */
export function netsNamed(name: string, nets: readonly string[]): readonly string[] {
  const exact = nets.filter((net) => foldName(net) === foldName(name.trim()));
  if (exact.length > 0) return exact;
  const wanted = bareName(name);
  if (wanted.base === '') return [];
  const same = nets.filter((net) => bareName(net).base === wanted.base);
  const marked = same.filter((net) => bareName(net).isLow === wanted.isLow);
  return marked.length > 0 ? marked : same;
}

/**
 * Names that an instrument gives by itself: one word with running numbers, such as CH0 to CH15, D0 to D15, Channel 1 and on,
 * or the columns of a table without heading. Gives the number of each, or undefined where the names are somebody's own.
 */
export function runningNumbers(names: readonly string[]): readonly number[] | undefined {
  const parts = names.map((name) => /^(.*?)\s*[[(_-]?(\d{1,4})[\])]?$/.exec(name.trim()));
  const first = parts[0];
  if (first === null || first === undefined || parts.length === 0) return undefined;
  const numbers: number[] = [];
  for (const part of parts) {
    if (part === null || foldName(part[1]!) !== foldName(first[1]!)) return undefined;
    numbers.push(Number(part[2]));
  }
  const least = Math.min(...numbers);
  const isRun = new Set(numbers).size === numbers.length && Math.max(...numbers) - least === numbers.length - 1;
  return isRun && least <= 1 ? numbers.map((number) => number - least) : undefined;
}
