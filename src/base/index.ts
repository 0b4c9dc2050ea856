export { bug } from './bug.ts';
export type { Colour, ColourReading } from './colour-code.ts';
export { COLOURS, colourName, PROTECTIVE_EARTH, readColour } from './colour-code.ts';
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
export type { PreferredSeries } from './preferred-values.ts';
export {
  coarsestSeries,
  isPreferred,
  nearestPreferred,
  PREFERRED_SERIES,
  preferredAround,
  preferredValues,
} from './preferred-values.ts';
export type { MarkedValue } from './resistor-code.ts';
export {
  printResistorBands,
  printThreeFigures,
  printValueMark,
  readResistorBands,
  readThreeFigures,
  readValueMark,
} from './resistor-code.ts';
export type { Rng } from './rng.ts';
export { createRng } from './rng.ts';
export type { Position } from './text.ts';
export { lineStarts, positionAt } from './text.ts';
export type { Dimension, Quantity } from './units.ts';
export { formatHex, formatQuantity, parseQuantity, parseValue } from './units.ts';
export {
  CONTACT_GREATEST_MM,
  CONTACT_LEAST_MM,
  COPPER_COEFFICIENT,
  COPPER_RESISTIVITY,
  contactFit,
  copperOhmPerMetre,
  nearestGauge,
  wireAreaMm2,
  wireDiameterMm,
  wireOhmPerMetre,
} from './wire-gauge.ts';
