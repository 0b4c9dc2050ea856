// The wording of what the kernels find while they run.

import type { Finding } from '../base/index.ts';
import type { Circuit, CircuitPart } from './circuit/circuit.ts';
import { SIM_CODES } from './codes.ts';

/** Two or more outputs drive one net against each other, at `now` ns for the first time. */
export function conflictFinding(net: string, high: readonly string[], low: readonly string[], now: number): Finding {
  return {
    code: 'sim/conflict',
    severity: SIM_CODES['sim/conflict'].severity,
    message: `${net} is driven high by ${high.join(' and ')} and low by ${low.join(' and ')}.`,
    where: [],
    notes: [
      { text: `First at ${(now / 1000).toFixed(3)} us. Both outputs carry the current, and the level is anything.` },
    ],
    help: 'Look at what enables the two: only one may at a time.',
    about: [net, ...high, ...low],
  };
}

/** Gates or states that do not come to rest; the parts by their place in the circuit. */
export function oscillationFinding(circuit: Circuit, parts: readonly number[], what: 'gates' | 'state'): Finding {
  const names = [...new Set(parts.map((index) => circuit.parts[index]!.name))].sort();
  return {
    code: 'sim/oscillates',
    severity: SIM_CODES['sim/oscillates'].severity,
    message: `The loop through ${names.slice(0, 6).join(', ')}${names.length > 6 ? ' and others' : ''} does not come to rest.`,
    where: [],
    notes: [
      {
        text:
          what === 'gates'
            ? 'Its levels are taken as unknown. A real one swings as fast as its gates let it.'
            : 'Each change of state causes the next one without a clock. The simulation goes on from where it was.',
      },
    ],
    help: 'Look for an output that comes back, inverted, to its own input.',
    about: names,
  };
}

/** `CPU.D0 (pin 14)` for one output of a part, counted over all its outputs. */
export function outputName(circuit: Circuit, part: CircuitPart, output: number): string {
  const pin = part.kind === 'formulas' ? part.outputPins[output] : part.outPins.flat()[output];
  const name = pin === undefined ? undefined : circuit.pinNames.get(part.part * 256 + pin);
  return name === undefined ? part.name : `${name} (pin ${pin})`;
}
