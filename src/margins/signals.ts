// Estimates of what wires do to edges: inductance, ringing, crosstalk, ground bounce. All of them are estimates and say so; none
// decides a margin. Lengths in mm, inductance in nH, capacitance in pF, times in ns, resistance in ohm.

/** nH of a straight round wire: 0.2 l (ln(2l/r) - 0.75) uH with l and r in m. Rosa 1908, equation 11, p.305; Grover, equation 8. */
export function wireInductance(lengthMm: number, diameterMm: number): number {
  const l = lengthMm / 1e3;
  const r = diameterMm / 2e3;
  return l <= 0 ? 0 : 0.2 * l * (Math.log((2 * l) / r) - 0.75) * 1e3;
}

/** nH of two parallel wires against each other: 0.2 l (asinh(l/d) - sqrt(1 + (d/l)^2) + d/l) uH. Rosa 1908; Grover. */
export function mutualInductance(lengthMm: number, distanceMm: number): number {
  const l = lengthMm / 1e3;
  const d = distanceMm / 1e3;
  if (l <= 0) return 0;
  const ratio = l / d;
  return 0.2 * l * (Math.asinh(ratio) - Math.sqrt(1 + 1 / ratio ** 2) + 1 / ratio) * 1e3;
}

/** nH of a wire and its return at a distance: 2 (L - M). */
export function loopInductance(lengthMm: number, diameterMm: number, distanceMm: number): number {
  return 2 * (wireInductance(lengthMm, diameterMm) - mutualInductance(lengthMm, distanceMm));
}

/** pF between two parallel round wires: pi e0 er l / acosh(D / 2r). */
export function wireCapacitance(lengthMm: number, diameterMm: number, distanceMm: number, permittivity = 1): number {
  return ((Math.PI * 8.854e-12 * permittivity * (lengthMm / 1e3)) / Math.acosh(distanceMm / diameterMm)) * 1e12;
}

/** Propagation along hobby wiring: 15 cm in a ns (quoted in a builders' forum). */
export const MM_PER_NS = 150;

/**
 * Length beyond which an edge feels the wire: its way takes a sixth of the edge. A working rule (signalintegrity.com 3_14 gives a
 * tenth to a third); others use other factors, and all are arbitrary.
 */
export function criticalLength(edgeNs: number, part = 1 / 6): number {
  return edgeNs * part * MM_PER_NS;
}

/** Ringing of an edge into a capacitance through an inductance: Hz, damping ratio, and overshoot as part of the step. */
export function ringing(
  inductanceNh: number,
  capacitancePf: number,
  sourceOhm: number,
): { readonly hz: number; readonly damping: number; readonly overshoot: number } {
  const l = inductanceNh * 1e-9;
  const c = capacitancePf * 1e-12;
  const hz = 1 / (2 * Math.PI * Math.sqrt(l * c));
  const damping = (sourceOhm / 2) * Math.sqrt(c / l);
  const overshoot = damping >= 1 ? 0 : Math.exp((-Math.PI * damping) / Math.sqrt(1 - damping ** 2));
  return { hz, damping, overshoot };
}

/** V of noise between neighbours over a common length: through the mutual inductance at the driver's current slope. */
export function inductiveCrosstalk(mutualNh: number, currentMa: number, edgeNs: number): number {
  return (mutualNh * currentMa * 1e-3) / edgeNs;
}

/** V of noise through the capacitance between neighbours into the resistance that holds the victim, at most the step itself. */
export function capacitiveCrosstalk(couplingPf: number, victimOhm: number, stepVolts: number, edgeNs: number): number {
  return Math.min(stepVolts, ((couplingPf * 1e-3 * stepVolts) / edgeNs) * victimOhm);
}

/** V by which a chip's ground rises: L n dI/dt. */
export function groundBounce(inductanceNh: number, outputs: number, currentMa: number, edgeNs: number): number {
  return (inductanceNh * outputs * currentMa * 1e-3) / edgeNs;
}
