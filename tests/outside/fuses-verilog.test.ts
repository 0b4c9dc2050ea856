// Fuse maps read two ways: by the tool (explained, then run by the plain kernel) and by the bench machine (an own fuse map, run by an
// IEEE 1364 simulator). Random maps of the 16V8 in its three modes and of the 22V10; both read the published maps, see
// docs/decode.md, and neither the other's code.

import { expect, test } from 'vitest';
import { canCapture, pldModule } from '../../benchmarks/bringup-source/index.ts';
import { createRng, type Rng } from '../../src/base/index.ts';
import { explainFuses } from '../../src/decode/index.ts';
import { buildCircuit, levelOf, PlainKernel, valueOfLevel } from '../../src/sim/index.ts';
import { runVerilog } from '../support/iverilog.ts';
import { simNetlist } from '../support/sim.ts';

const there = canCapture();
const MODES = ['simple', 'complex', 'registered', '22V10'] as const;
type Mode = (typeof MODES)[number];

/** Pins of the array's column pairs (JESD3 maps of the GAL16V8 and GAL22V10). */
const PAIRS: Readonly<Record<Mode, readonly number[]>> = {
  simple: [2, 1, 3, 19, 4, 18, 5, 17, 6, 14, 7, 13, 8, 12, 9, 11],
  complex: [2, 1, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 11],
  registered: [2, 19, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 12],
  '22V10': [1, 23, 2, 22, 3, 21, 4, 20, 5, 19, 6, 18, 7, 17, 8, 16, 9, 15, 10, 14, 11, 13],
};
const MACROCELLS = [
  [23, 1, 8],
  [22, 10, 10],
  [21, 21, 12],
  [20, 34, 14],
  [19, 49, 16],
  [18, 66, 16],
  [17, 83, 14],
  [16, 98, 12],
  [15, 111, 10],
  [14, 122, 8],
] as const;

/** A random map: rows of a few literals over inputs, and over outputs that are registers; the others could make loops. */
function randomFuses(rng: Rng, mode: Mode): Uint8Array {
  const isLarge = mode === '22V10';
  const width = isLarge ? 44 : 32;
  const fuses = new Uint8Array(isLarge ? 5892 : 2194);
  const bit = (): 0 | 1 => rng.below(2) as 0 | 1;
  const registers = new Set<number>();
  if (isLarge)
    MACROCELLS.forEach(([pin], k) => {
      fuses[5808 + 2 * k] = bit();
      fuses[5809 + 2 * k] = bit();
      if (fuses[5809 + 2 * k] === 0) registers.add(pin);
    });
  else
    for (let k = 0; k < 8; k++) {
      fuses[2048 + k] = bit();
      fuses[2120 + k] = mode === 'complex' ? 1 : bit();
      if (mode === 'registered' && fuses[2120 + k] === 0) registers.add(19 - k);
    }
  fuses[2192] = isLarge ? fuses[2192]! : mode === 'registered' ? 0 : 1;
  if (!isLarge) fuses[2193] = mode === 'simple' ? 0 : 1;
  const isOutput = (pin: number): boolean => (isLarge ? pin >= 14 && pin <= 23 : pin >= 12 && pin <= 19);
  const usable = PAIRS[mode].flatMap((pin, pair) => (!isOutput(pin) || registers.has(pin) ? [pair] : []));
  const row = (index: number, most: number): void => {
    fuses.fill(1, index * width, (index + 1) * width);
    if (!isLarge) fuses[2128 + index] = 1;
    for (let k = rng.below(most + 1); k > 0; k--)
      fuses[index * width + 2 * usable[rng.below(usable.length)]! + bit()] = 0;
  };
  if (isLarge) {
    for (const [, first, terms] of MACROCELLS) {
      row(first, rng.below(3));
      for (let k = 0; k < terms; k++) if (rng.below(3) === 0) row(first + 1 + k, 4);
    }
    // Reset and preset now and then, of many literals so that they are rare.
    for (const index of [0, 131]) if (bit() === 1) row(index, 12);
  } else
    for (let index = 0; index < 64; index++)
      if (index % 8 === 0 || rng.below(3) === 0) row(index, index % 8 === 0 ? 1 : 4);
  return fuses;
}

test.skipIf(!there)(
  `random fuse maps do in the kernel what an own reading of them does${there ? '' : ' (skipped: no IEEE 1364 simulator is installed)'}`,
  () => {
    const maps = Number(process.env.PROOFBOARD_FUSES ?? 3);
    let compared = 0;
    let driven = 0;
    for (const mode of MODES)
      for (let seed = 1; seed <= maps; seed++) {
        const rng = createRng(seed * 10 + MODES.indexOf(mode));
        const device = mode === '22V10' ? '22V10' : '16V8';
        const [count, ground] = device === '22V10' ? [24, 12] : [20, 10];
        const outputs = device === '22V10' ? [14, 23] : [12, 19];
        const fuses = randomFuses(rng, mode);
        const explained = explainFuses(fuses, device).value!;
        const logic = {
          outputs: [...explained.outputs, ...explained.buried],
          ...(explained.clockPin === undefined ? {} : { clockPin: explained.clockPin }),
          reset: explained.reset,
          preset: explained.preset,
        };
        const contents = { logic: new Map([['U', logic]]) };
        const netlist = simNetlist({ U: device }, {});
        const circuit = buildCircuit(netlist, contents).value;
        const inputs = Array.from({ length: count }, (_, k) => k + 1).filter(
          (pin) => pin !== ground && pin !== count && (pin < outputs[0]! || pin > outputs[1]!),
        );
        const net = (pin: number): number => circuit.netOfPin.get(pin)!;
        const level = new Map(inputs.map((pin) => [pin, 0]));
        const steps = Array.from({ length: 80 }, () => {
          const pin = rng.below(3) === 0 ? 1 : inputs[rng.below(inputs.length)]!;
          level.set(pin, 1 - level.get(pin)!);
          return new Map(level);
        });
        const pins = Array.from({ length: outputs[1]! - outputs[0]! + 1 }, (_, k) => outputs[1]! - k);
        // All inputs low from power-up on: an unknown clock would leave the registers unknown.
        const low = inputs.map((pin) => ({ net: net(pin), value: valueOfLevel(0) }));
        const kernel = new PlainKernel(circuit, contents, low);
        const here = steps.map((step) => {
          for (const [pin, value] of step) kernel.force(net(pin), valueOfLevel(value as 0 | 1));
          kernel.step();
          return pins.map((pin) => String(levelOf(kernel.value(net(pin)))).toLowerCase()).join('');
        });
        const bench = [
          '`timescale 1 ns / 1 ns',
          pldModule('pld', fuses),
          'module bench;',
          `  reg [${count}:1] i; wire [${count}:1] o; integer k;`,
          // What nothing drives reads low; no term looks at such a pin.
          `  wire [${count}:1] seen; genvar g;`,
          `  generate for (g = 1; g <= ${count}; g = g + 1) assign seen[g] = (g < ${outputs[0]} || g > ${outputs[1]}) ? i[g] : o[g] === 1'b1; endgenerate`,
          '  pld #(.D(1)) u(seen, o);',
          '  initial begin',
          '    i = 0; #100;',
          ...steps.map(
            (step) =>
              `    ${[...step].map(([pin, value]) => `i[${pin}] = ${value};`).join(' ')} #100 $display("%b", o[${outputs[1]}:${outputs[0]}]);`,
          ),
          '    $finish;',
          '  end',
          'endmodule',
        ];
        const wanted = runVerilog(`${bench.join('\n')}\n`, { top: 'bench' })
          .split('\n')
          .filter((line) => /^[01xz]+$/.test(line));
        expect(wanted.length).toBe(steps.length);
        here.forEach((line, k) => {
          if (line !== wanted[k])
            expect.fail(
              `${mode}, seed ${seed}, step ${k}: pins ${pins.join(' ')} are ${line} here, ${wanted[k]} in Verilog`,
            );
          compared += line.length;
          driven += line.replace(/[^01]/g, '').length;
        });
      }
    expect(driven / compared).toBeGreaterThan(0.3);
  },
);
