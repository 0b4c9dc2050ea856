// Explained outputs as formulas, for tables and people: what the pin's level is, in the names of its nets.

import type { Formula } from '../base/index.ts';
import type { ExplainedOutput, Term } from './explain.ts';

/** What the pin is high for (for a registered output: what it takes over at the clock edge). `nameOf` names a pin's net. */
export function levelFormula(output: ExplainedOutput, nameOf: (pin: number) => string | undefined): Formula {
  const sum = sumFormula(output.terms, nameOf);
  if (!output.activeLow) return sum;
  if (sum.kind === 'constant') return { kind: 'constant', value: sum.value === 1 ? 0 : 1 };
  return { kind: 'not', term: sum };
}

/** When the pin is driven; undefined for always. */
export function enableFormula(
  output: ExplainedOutput,
  nameOf: (pin: number) => string | undefined,
): Formula | undefined {
  if (output.enable === true) return undefined;
  return sumFormula(output.enable === false ? [] : output.enable, nameOf);
}

/** A sum of products as a formula. */
export function sumFormula(terms: readonly Term[], nameOf: (pin: number) => string | undefined): Formula {
  const products = terms.map((term): Formula => {
    const literals = term.map(({ pin, level }): Formula => {
      const name: Formula = { kind: 'name', name: nameOf(pin) ?? `pin${pin}`, start: 0, end: 0 };
      return level === 1 ? name : { kind: 'not', term: name };
    });
    if (literals.length === 0) return { kind: 'constant', value: 1 };
    return literals.length === 1 ? literals[0]! : { kind: 'and', terms: literals };
  });
  if (products.length === 0) return { kind: 'constant', value: 0 };
  return products.length === 1 ? products[0]! : { kind: 'or', terms: products };
}
