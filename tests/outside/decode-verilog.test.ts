// Fuses against what was asked, judged by an IEEE 1364 simulator that knows neither: the device's equations as read back from
// the file, beside the formulas and the address ranges as they were stated, at every combination of inputs and registers.
// Skipped, saying so, where no such simulator is installed (Debian has Icarus Verilog).

import { describe, expect, test } from 'vitest';
import { createRng, type Formula, foldName, parseFormula } from '../../src/base/index.ts';
import {
  type Compiled,
  compileDevice,
  compilePlan,
  type DeviceRequest,
  deviceTask,
  deviceVerilog,
  findDevice,
} from '../../src/decode/index.ts';
import { hasIverilog, runVerilog } from '../support/iverilog.ts';
import { loadMachine } from '../support/load-machine.ts';

/** A formula in IEEE 1364's own operators. */
function verilog(formula: Formula, name: (net: string) => string): string {
  if (formula.kind === 'constant') return `1'b${formula.value}`;
  if (formula.kind === 'name') return name(formula.name);
  if (formula.kind === 'not') return `~(${verilog(formula.term, name)})`;
  const operator = { and: '&', or: '|', xor: '^' }[formula.kind];
  return `(${formula.terms.map((term) => verilog(term, name)).join(` ${operator} `)})`;
}

/** How often the device differs from `wanted` (Verilog by net), and how many combinations were tried. */
function compare(
  compiled: Compiled,
  wanted: readonly { readonly net: string; readonly text: string }[],
  pinOf: (net: string) => number,
): { tried: number; differing: string[] } {
  const { explained } = compiled;
  const outputs = new Set(explained.outputs.map((output) => output.pin));
  const registers = explained.outputs.filter((output) => output.registered).map((output) => output.pin);
  const text = deviceVerilog(explained);
  const inputs = [...text.matchAll(/input p(\d+)/g)]
    .map((match) => Number(match[1]))
    .filter((pin) => !outputs.has(pin));
  const asked = new Set(
    wanted.flatMap((one) => [...one.text.matchAll(/\bp(\d+)\b/g)].map((match) => Number(match[1]))),
  );
  // Inputs that only the statement looks at are driven too: the device must not depend on them, nor may the statement.
  const free = [...new Set([...inputs, ...[...asked].filter((pin) => !outputs.has(pin))])].sort((a, b) => a - b);
  const width = free.length + registers.length;
  expect(width).toBeLessThanOrEqual(20);
  const bench = `
${text}
module bench;
  reg [${width}:0] i;
${free.map((pin, k) => `  wire p${pin} = i[${k}];`).join('\n')}
${[...outputs].map((pin) => `  wire p${pin};`).join('\n')}
  device dut(${[...inputs, ...outputs].map((pin) => `.p${pin}(p${pin})`).join(', ')});
${wanted.map(({ net, text: function_ }, k) => `  wire w${k} = ${function_}; // ${net.replace(/[^\x20-\x7e]/g, '?')}`).join('\n')}
  integer tried = 0;
  initial begin
    for (i = 0; i < ${2 ** width}; i = i + 1) begin
${registers.map((pin, k) => `      dut.q${pin} = i[${free.length + k}];`).join('\n')}
      #1 tried = tried + 1;
${wanted
  .map(({ net }, k) => {
    const pin = pinOf(net);
    return `      if (${registers.includes(pin) ? `dut.d${pin}` : `p${pin}`} !== w${k}) $display("differs ${k}");`;
  })
  .join('\n')}
    end
    $display("tried %0d", tried);
    $finish;
  end
endmodule
`;
  const out = runVerilog(bench, { top: 'bench' });
  const differing = new Set([...out.matchAll(/^differs (\d+)$/gm)].map((match) => wanted[Number(match[1])]!.net));
  return { tried: Number(/^tried (\d+)$/m.exec(out)?.[1] ?? 0), differing: [...differing] };
}

const pinsOf = (compiled: Compiled): ((net: string) => number) => {
  const pins = new Map(
    compiled.pins.flatMap(({ pin, name }) => (name === undefined ? [] : [[foldName(name), pin] as const])),
  );
  return (net) => pins.get(foldName(net)) ?? 0;
};

describe.skipIf(!hasIverilog())('an IEEE 1364 simulator finds no difference between fuses and statement', () => {
  test.each(['tide-clerk', 'weir-keeper'])('%s: its map as ranges, its other lines as formulas', (name) => {
    const design = loadMachine(name);
    const stage = design.stages.length;
    for (const device of design.devices) {
      if (findDevice(device.type) === undefined) continue;
      const task = deviceTask(design, device, stage).value!;
      const compiled = compilePlan(task.plan, task.device).value!.compiled;
      const pinOf = pinsOf(compiled);
      const net = (one: string): string => `p${pinOf(one)}`;
      const text = (formula: string): string => verilog(parseFormula(formula).formula!, net);
      // An address as a number whose unseen lines are 0, compared with the ranges as numbers.
      const wanted = task.plan.selects.map((select) => {
        const ranges = select.ranges.map((range) => {
          const space = task.plan.spaces.find((one) => one.name === range.space)!;
          const given = new Set((space.given ?? space.lines).map(foldName));
          const bits = space.lines.map((line) => (given.has(foldName(line)) ? net(line) : "1'b0")).reverse();
          const mask = space.lines.reduce((sum, line, bit) => (given.has(foldName(line)) ? sum + 2 ** bit : sum), 0);
          // Every address of the range, as the device sees it: a set of few distinct values.
          const seen = new Set<number>();
          for (let at = range.at; at < range.at + range.bytes; at++) seen.add((at & mask) >>> 0);
          const low = Math.min(...seen);
          const high = Math.max(...seen);
          const isRun =
            [...seen].length ===
            [...Array(high - low + 1).keys()].filter((k) => ((low + k) & mask) >>> 0 === low + k).length;
          const address = `{${bits.join(', ')}}`;
          const where = isRun
            ? `(${address} >= ${low} && ${address} <= ${high})`
            : `(${[...seen].map((value) => `${address} == ${value}`).join(' || ')})`;
          const cycle = select.isAddressOnly === true || space.cycle === undefined ? "1'b1" : text(String(space.cycle));
          return `(${where} & ${cycle})`;
        });
        const active = `((${ranges.join(' | ')}) & ${select.strobe === undefined ? "1'b1" : text(String(select.strobe))})`;
        return { net: select.net, text: select.activeLow ? `~${active}` : active };
      });
      for (const output of task.device.outputs ?? [])
        wanted.push({ net: output.name, text: text(String(output.formula)) });
      // Parts that may answer elsewhere are free there, so only those that may not are compared.
      const exact = wanted.filter(
        ({ net: one }) =>
          !task.plan.selects.some(
            (select) => select.net === one && select.ranges.some((range) => range.mirrors === 'allowed'),
          ),
      );
      const { tried, differing } = compare(compiled, exact, pinOf);
      expect(differing).toEqual([]);
      expect(tried).toBeGreaterThan(500);
    }
  });

  const requests: readonly DeviceRequest[] = [
    {
      device: '22V10',
      clock: 'clk',
      reset: '~/clear',
      outputs: [
        { name: 'q0', registered: true, formula: '~q0' },
        { name: 'q1', registered: true, formula: 'q1 ^ q0' },
        { name: 'q2', registered: true, formula: 'q2 ^ (q1 & q0)' },
        { name: 'q3', registered: true, formula: 'q3 ^ (q2 & q1 & q0)' },
        { name: 'carry', formula: 'q3 & q2 & q1 & q0 & enable' },
      ],
    },
    {
      device: '16V8',
      clock: 'clk',
      outputs: [
        { name: 'left', registered: true, formula: 'load & a | ~load & right' },
        { name: 'right', registered: true, formula: 'load & b | ~load & ~left' },
        { name: 'both', formula: 'left & right ^ a' },
      ],
    },
    {
      device: '20V8',
      outputs: [
        { name: 'odd', formula: 'a ^ b ^ c ^ d' },
        { name: 'most', formula: 'a & b | b & c | a & c' },
      ],
    },
  ];
  test.each(requests.map((request) => [request.device, request] as const))('registers and sums: %s', (_, request) => {
    const { value: compiled } = compileDevice(request);
    const pinOf = pinsOf(compiled!);
    // A register in a formula is its level, whatever its pin shows.
    const registered = new Set(request.outputs.filter((output) => output.registered).map((output) => output.name));
    const name = (one: string): string => (registered.has(one) ? `dut.q${pinOf(one)}` : `p${pinOf(one)}`);
    const wanted = request.outputs.map((output) => ({
      net: output.name,
      text: verilog(parseFormula(String(output.formula)).formula!, name),
    }));
    const { tried, differing } = compare(compiled!, wanted, pinOf);
    expect(differing).toEqual([]);
    expect(tried).toBeGreaterThan(7);
  });

  test('and it finds one where a fuse is struck', () => {
    const rng = createRng(5);
    const request: DeviceRequest = {
      device: '16V8',
      outputs: [
        { name: 'x', formula: 'a & b & ~c | d' },
        { name: 'y', formula: 'a ^ b' },
      ],
    };
    const compiled = compileDevice(request).value!;
    const pinOf = pinsOf(compiled);
    const wanted = request.outputs.map((output) => ({
      net: output.name,
      text: verilog(parseFormula(String(output.formula)).formula!, (net) => `p${pinOf(net)}`),
    }));
    const at = rng.below(2);
    const struck: Compiled = {
      ...compiled,
      explained: {
        ...compiled.explained,
        outputs: compiled.explained.outputs.map((output, k) =>
          k === at ? { ...output, terms: output.terms.map((term, n) => (n === 0 ? term.slice(1) : term)) } : output,
        ),
      },
    };
    expect(compare(struck, wanted, pinOf).differing).toHaveLength(1);
  });
});
