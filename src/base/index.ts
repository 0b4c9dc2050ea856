export { bug } from './bug.ts';
export type { Finding, Fix, Note, Result, Severity, Span, TextEdit } from './finding.ts';
export { compareFindings, hasErrors, sortFindings } from './finding.ts';
export type { Formula, FormulaLevel, FormulaProblem } from './formula.ts';
export {
  evaluate,
  namesOf,
  parseFormula,
  printFormula,
  renameFormula,
  substituteFormula,
  truthTable,
} from './formula.ts';
export { contentId, hashText } from './hash.ts';
export { compareNatural, editDistance, foldName, nearestName } from './names.ts';
export type { Rng } from './rng.ts';
export { createRng } from './rng.ts';
export type { Position } from './text.ts';
export { lineStarts, positionAt } from './text.ts';
export type { Dimension, Quantity } from './units.ts';
export { formatHex, formatQuantity, parseQuantity, parseValue } from './units.ts';
