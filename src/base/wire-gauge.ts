// Sizes and resistance of solid copper wire: the American gauge after ASTM B258 as a formula, and what a length of it has in
// ohms. Contacts of the board are not in here beyond which wire they take.

import { bug } from './bug.ts';

/** ohm metre of annealed copper at 20 degrees: 1/58 of an ohm square millimetre per metre (IEC 60028). */
export const COPPER_RESISTIVITY = 1 / 58e6;
/** Change of copper's resistance per degree, of its value at 20 degrees (IEC 60028). */
export const COPPER_COEFFICIENT = 0.00393;

/** Gauge numbers this file speaks of: 0000 is -3. */
const THICKEST_GAUGE = -3;
const THINNEST_GAUGE = 56;

/** mm of the bare wire of gauge `awg` (0000 is -3, whole numbers): gauge 36 is 0.127 mm, gauge 0000 is 92 times the step base. */
export function wireDiameterMm(awg: number): number {
  if (!Number.isInteger(awg) || awg < THICKEST_GAUGE || awg > THINNEST_GAUGE) bug('no such wire gauge', { awg });
  return 0.127 * 92 ** ((36 - awg) / 39);
}

/** mm2 of copper in the bare wire of gauge `awg`. */
export function wireAreaMm2(awg: number): number {
  return (Math.PI / 4) * wireDiameterMm(awg) ** 2;
}

/** The gauge nearest to a bare diameter in mm, by ratio; undefined beyond half a step of the ends of the table. */
export function nearestGauge(diameterMm: number): number | undefined {
  if (!(diameterMm > 0)) return undefined;
  const awg = Math.round(36 - 39 * (Math.log(diameterMm / 0.127) / Math.log(92)));
  return awg < THICKEST_GAUGE || awg > THINNEST_GAUGE ? undefined : awg + 0;
}

/** ohm per metre of solid copper of `diameterMm`, at `celsius` degrees (20 unless said). */
export function copperOhmPerMetre(diameterMm: number, celsius = 20): number {
  const areaM2 = (Math.PI / 4) * (diameterMm / 1000) ** 2;
  return (COPPER_RESISTIVITY / areaM2) * (1 + COPPER_COEFFICIENT * (celsius - 20));
}

/** ohm per metre of solid copper wire of gauge `awg`. */
export function wireOhmPerMetre(awg: number, celsius = 20): number {
  return copperOhmPerMetre(wireDiameterMm(awg), celsius);
}

/** Diameters in mm that a solderless board's contacts take, from a robotics handbook; makers differ a little. */
export const CONTACT_LEAST_MM = 0.38;
export const CONTACT_GREATEST_MM = 0.81;

/** Whether a lead of `diameterMm` suits a contact of the board. Too thin makes a bad joint, too thick spreads the contact for good. */
export function contactFit(diameterMm: number): 'thin' | 'fits' | 'thick' {
  // Gauge 20 is 0.812 mm and counts as fitting, as its name does in the handbook.
  if (diameterMm > CONTACT_GREATEST_MM + 0.005) return 'thick';
  return diameterMm < CONTACT_LEAST_MM - 0.005 ? 'thin' : 'fits';
}
