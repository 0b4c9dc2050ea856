// The circuit: what both kernels run. Everything is a number here: nets, parts in their order of evaluation, what each part
// reads and drives. Made from a SimNetlist by build.ts; it holds no levels and no state.

import type { FormulaPart } from '../models/formulas.ts';
import type { PartModel } from '../models/model.ts';

/** A part that is evaluated: by formulas or by a model. */
export type CircuitPart = {
  /** Index of the part in the netlist, or -1 for an inner element (a switch's contact). */
  readonly part: number;
  readonly name: string;
} & (
  | {
      readonly kind: 'formulas';
      readonly formulas: FormulaPart;
      /** Net of each input; -1 unconnected. */
      readonly inputs: readonly number[];
      /** Net of each output. */
      readonly outputs: readonly number[];
      /** Pin number of each input and output, for faults and messages. */
      readonly inputPins: readonly number[];
      readonly outputPins: readonly number[];
    }
  | {
      readonly kind: 'model';
      readonly model: PartModel;
      readonly ins: readonly (readonly number[])[];
      readonly outs: readonly (readonly number[])[];
      readonly inPins: readonly (readonly number[])[];
      readonly outPins: readonly (readonly number[])[];
    }
);

/** Something outside that drives a net at will: an oscillator, a finger on a switch. */
export interface CircuitSource {
  readonly name: string;
  readonly net: number;
  /** Hz where it swings by itself. */
  readonly rateHz: number | undefined;
  /** Value at power-up (values.ts). */
  readonly start: number;
}

/** Nets that resistors and switches join to each other; resolved together. */
export interface CircuitCluster {
  readonly nets: readonly number[];
  /** Conductance to supply and to ground, per net of the cluster, in 1/ohm. */
  readonly up: readonly number[];
  readonly down: readonly number[];
  readonly resistors: readonly {
    readonly part: number;
    readonly a: number;
    readonly b: number;
    readonly ohms: number;
  }[];
  /** Closed while the condition's net is high; not known while it is X. */
  readonly switches: readonly {
    readonly part: number;
    readonly a: number;
    readonly b: number;
    readonly condition: number;
  }[];
}

/** A lamp or segment: lit while the anode is high and the cathode low. */
export interface CircuitLamp {
  readonly name: string;
  readonly anode: number;
  readonly cathode: number;
}

export interface Circuit {
  /** Names of nets; inner ones start with a full stop. */
  readonly nets: readonly string[];
  /** Per net: value driven by supply or ground, or 0. */
  readonly fed: Uint8Array;
  /** Per net: weak value by resistors to supply or ground and pulls inside parts, or 0. */
  readonly pulls: Uint8Array;
  /** Per net: conductance of its pulls to supply and to ground, in 1/ohm. */
  readonly up: Float64Array;
  readonly down: Float64Array;
  /** In order of evaluation. */
  readonly parts: readonly CircuitPart[];
  readonly sources: readonly CircuitSource[];
  readonly clusters: readonly CircuitCluster[];
  /** Per net: the cluster it is in, or -1. */
  readonly clusterOf: Int32Array;
  readonly lamps: readonly CircuitLamp[];
  /** What an input reads that floats (values.ts): HIGH, LOW or X. */
  readonly floating: number;
  /** Net of a pin by `part index * 256 + number`. */
  readonly netOfPin: ReadonlyMap<number, number>;
  /** `PART.PIN` by the same key, for messages. */
  readonly pinNames: ReadonlyMap<number, string>;
}

/** Nets a part reads. */
export function readsOf(part: CircuitPart): number[] {
  const nets = part.kind === 'formulas' ? part.inputs : part.ins.flat();
  return [...new Set(nets.filter((net) => net >= 0))];
}

/** Nets whose change can change what the part drives without its state changing. */
export function drivesFromOf(part: CircuitPart): number[] {
  if (part.kind === 'model')
    return [...new Set(part.ins.filter((_, k) => part.model.drivesFrom[k]).flat())].filter((net) => net >= 0);
  const used = new Set<number>();
  const walk = (expr: FormulaPart['outputs'][number]['value']): void => {
    if (expr.op === 'input') used.add(part.inputs[expr.index]!);
    else if (expr.op === 'not') walk(expr.term);
    else if (expr.op === 'and' || expr.op === 'or' || expr.op === 'xor') expr.terms.forEach(walk);
  };
  for (const output of part.formulas.outputs) {
    walk(output.value);
    if (output.enable !== undefined) walk(output.enable);
  }
  return [...used].filter((net) => net >= 0);
}

/** Nets a part drives. */
export function outputsOf(part: CircuitPart): number[] {
  return [...new Set(part.kind === 'formulas' ? part.outputs : part.outs.flat())].filter((net) => net >= 0);
}
