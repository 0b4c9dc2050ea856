// What a model may know of the wiring around its part, once, when the circuit is built: resistors and capacitors that set a time,
// and pins that stand on a rail. Levels are no business of it.

/** Asked by pin names of the part. */
export interface Surroundings {
  /** 1 or 0 where the pin is on a rail. */
  railOf(pin: string): 0 | 1 | undefined;
  /** Whether two pins are on one net. */
  areJoined(a: string, b: string): boolean;
  /** Ohms of the resistors that lie straight between two pins, or a pin and a rail; undefined where there are none. */
  ohms(from: string, to: string | 0 | 1): number | undefined;
  /** Farads, likewise. */
  farads(from: string, to: string | 0 | 1): number | undefined;
}
