// Formulas as makers print them beside a figure: `2*TcC+TwCh+TfC-30`, `tw(PhiH)+tf-75`, `TCLCL-45`. Sums of symbols and numbers
// with whole or broken factors; nothing else.

import { type Affine, add, nanoseconds, times, ZERO } from './affine.ts';

const TERM = /^([+-]?)(?:(\d+(?:\.\d+)?)\*?(?=[A-Za-z]))?(?:([A-Za-z]\w*(?:\([\w,]*\))?)|(\d+(?:\.\d+)?))(?:\/(\d+))?/;

/** The value of a formula; undefined where it can't be read or a symbol has no value. */
export function printedFormula(text: string, value: (symbol: string) => Affine | undefined): Affine | undefined {
  let rest = text
    .replace(/\s+/g, '')
    .replace(/^min=/, '')
    .replace(/\((\d+)\/(\d+)\)\*(\w+)/g, '$1*$3/$2');
  let sum = ZERO;
  if (rest === '') return undefined;
  while (rest !== '') {
    const match = TERM.exec(rest);
    if (match === null) return undefined;
    const factor = ((match[1] === '-' ? -1 : 1) * Number(match[2] ?? 1)) / Number(match[5] ?? 1);
    const term = match[3] === undefined ? nanoseconds(Number(match[4])) : value(match[3]);
    if (term === undefined) return undefined;
    sum = add(sum, times(term, factor));
    rest = rest.slice(match[0].length);
    if (rest !== '' && !/^[+-]/.test(rest)) return undefined;
  }
  return sum;
}

/** The formula in an arc's conditions, or undefined. */
export function formulaOf(conditions: string | undefined): string | undefined {
  return /printed formula:\s*([^;]+)/.exec(conditions ?? '')?.[1]?.trim();
}
