// One Verilog module for a part type: ports by pin number, contents from the formulas of its record or from what it holds.
// Time is as in the plain kernel: levels settle within one instant, state changes one picosecond later, all parts at once.

import type { PartRecord } from '../../parts/index.ts';
import { pinsNamed } from '../../parts/index.ts';
import type { FormulaPart, Setting } from '../models/formulas.ts';
import type { MemoryOptions } from '../models/memory.ts';
import { HIGH, LOW } from '../values.ts';
import { driven, expression, type Terms } from './words.ts';

/** What an input reads that floats: `x`, `0` or `1`. */
export type Floating = 'x' | '0' | '1';

/** A module's text after its head: `head` declares it with its ports. */
export interface ModuleText {
  readonly lines: readonly string[];
  /** Pin numbers it drives. */
  readonly drives: ReadonlySet<number>;
}

/** `module NAME (p1, p2);` with the direction of each port. */
export function moduleHead(name: string, record: PartRecord, drives: ReadonlySet<number>): string[] {
  const numbers = record.pins.map((pin) => pin.number);
  return [
    `module ${name}(${numbers.map((pin) => `p${pin}`).join(', ')});`,
    ...record.pins.map((pin) => `  ${drives.has(pin.number) ? 'inout' : 'input'} p${pin.number};`),
  ];
}

/** How a pin is read. */
function readerOf(floating: Floating): (pin: number) => string {
  return floating === 'x' ? (pin) => `p${pin}` : (pin) => `((p${pin} === 1'bz) ? 1'b${floating} : p${pin})`;
}

/** A part whose behaviour is formulas. Its parameter INIT is the state at power-up, variable 0 lowest. */
export function formulaModule(part: FormulaPart, floating: Floating): ModuleText {
  const read = readerOf(floating);
  const states = part.states.length;
  // An input without a pin does not exist in a record's formulas.
  const pinTerms: Terms = { input: (k) => read(part.inputs[k]!), state: (k) => `s[${k}]` };
  const outputs = part.outputs.map((output) => `  assign p${output.pin} = ${driven(output, pinTerms)};`);
  const drives = new Set(part.outputs.map((output) => output.pin));
  if (states === 0) return { lines: outputs, drives };
  const inputs = part.inputs.length;
  const vector = [...part.inputs].reverse().map(read).join(', ');
  const before: Terms = { input: (k) => `b[${k}]`, state: (k) => `s[${k}]` };
  const edgeNow: Terms = { input: (k) => `a[${k}]`, state: (k) => `s[${k}]` };
  const now: Terms = { input: (k) => `a[${k}]`, state: (k) => `t[${k}]` };
  const edges = [...part.clocked].reverse().flatMap((entry) => {
    const [from, to] = entry.edge === 'rise' ? ['0', '1'] : ['1', '0'];
    return [
      `was = ${expression(entry.of, before)}; is = ${expression(entry.of, edgeNow)};`,
      `act = (was === 1'b${from} && is === 1'b${to}) ? 1'b1 : (was === 1'b${to} || is === 1'b${from}) ? 1'b0 : 1'bx;`,
      ...(entry.when === undefined ? [] : [`act = act & ${expression(entry.when, before)};`]),
      ...entry.set.map((set) => `t[${set.state}] = pick(act, ${expression(set.value, before)}, t[${set.state}]);`),
    ];
  });
  const hold = (condition: string, set: readonly Setting[]): string[] => [
    `act = ${condition};`,
    ...set.map((one) => `u[${one.state}] = pick(act, ${expression(one.value, now)}, u[${one.state}]);`),
  ];
  const held = [
    ...[...part.latched].reverse().flatMap((entry) => hold(expression(entry.while, now), entry.set)),
    ...[...part.asynchronous].reverse().flatMap((entry) => hold(expression(entry.when, now), entry.set)),
  ];
  return {
    drives,
    lines: [
      `  parameter [${states - 1}:0] INIT = ${states}'bx;`,
      `  reg [${states - 1}:0] s, t, u;`,
      `  reg [${inputs - 1}:0] a, b;`,
      '  reg was, is, act, rest, again, go;',
      '  integer pass;',
      `  wire [${inputs - 1}:0] n = {${vector}} | ${inputs}'b0;`,
      ...outputs,
      '  function pick(input acts, input to, input from);',
      "    pick = (acts === 1'b1) ? to : (acts === 1'b0 || to === from) ? from : 1'bx;",
      '  endfunction',
      '  initial begin',
      "    s = INIT; go = 1'b0; again = 1'b1;",
      '    #1 b = n;',
      '    forever begin',
      '      a = n;',
      '      if (again || a !== b) begin',
      '        t = s;',
      ...edges.map((line) => `        ${line}`),
      ...(held.length === 0
        ? []
        : [
            "        rest = 1'b0;",
            `        for (pass = 0; pass <= ${states} && !rest; pass = pass + 1) begin`,
            '          u = t;',
            ...held.map((line) => `          ${line}`),
            '          rest = u === t;',
            '          t = u;',
            '        end',
          ]),
      '        again = t !== s;',
      '        b = a;',
      '        if (again) begin s <= t; go <= ~go; end',
      '      end',
      '      @(n or go) #1;',
      '    end',
      '  end',
    ],
  };
}

/** A level of a state variable as a binary digit. */
export function stateDigit(value: number): string {
  return value === HIGH ? '1' : value === LOW ? '0' : 'x';
}

/** A memory part that holds `bytes` (dual-rail words of values.ts, one a byte) at power-up. */
export function memoryModule(
  record: PartRecord,
  options: MemoryOptions,
  bytes: Int32Array,
  floating: Floating,
): ModuleText {
  const read = readerOf(floating);
  const pin = (name: string): number => pinsNamed(record, name)[0]?.number ?? -1;
  const reads = (name: string): string => (pin(name) < 0 ? "1'bx" : read(pin(name)));
  const width = options.data.length;
  const bits = options.address.length;
  const data = [...options.data].reverse();
  const list = (names: readonly string[]): string => names.map(reads).join(', ');
  const select = ["1'b1", ...options.selects.map((one) => `${one.high ? '' : '~'}${reads(one.pin)}`)].join(' & ');
  const noWrite = options.write === undefined ? '' : ` & ${reads(options.write)}`;
  const lines = [
    `  reg [${width - 1}:0] m [0:${2 ** bits - 1}];`,
    `  wire [${bits - 1}:0] at = {${list([...options.address].reverse())}} | ${bits}'b0;`,
    `  wire selected = ${select};`,
    `  wire rd = selected & ~${reads(options.read)}${noWrite};`,
    `  assign {${data.map((name) => `p${pin(name)}`).join(', ')}} =`,
    `    (rd === 1'b0) ? ${width}'bz : (rd === 1'b1) ? m[at] : ${width}'bx;`,
    ...contents(bytes, bits, width),
  ];
  if (options.write === undefined || options.writes !== 'allowed')
    return { lines, drives: new Set(options.data.map(pin)) };
  return {
    drives: new Set(options.data.map(pin)),
    lines: [
      ...lines,
      `  wire [${width - 1}:0] d = {${list(data)}} | ${width}'b0;`,
      `  wire wr = selected & ~${reads(options.write)};`,
      `  reg [${width - 1}:0] v;`,
      '  integer k;',
      '  initial begin',
      '    #1;',
      '    forever begin',
      "      if (wr !== 1'b0) begin",
      "        if ((^at) !== 1'bx) begin",
      '          v = wr ? d : m[at];',
      '          if (v !== m[at]) m[at] <= v;',
      '        end',
      options.rest === 'random'
        ? `        else if (wr === 1'b1) for (k = 0; k < ${2 ** bits}; k = k + 1) m[k] <= ${width}'bx;`
        : `        else for (k = 0; k < ${2 ** bits}; k = k + 1) m[k] <= ${width}'bx;`,
      '      end',
      '      @(at or wr or d) #1;',
      '    end',
      '  end',
    ],
  };
}

/** Lines that fill a memory at power-up, 32 words each; words that are unknown throughout need none. */
function contents(bytes: Int32Array, bits: number, width: number): string[] {
  const mask = (1 << width) - 1;
  const known = (at: number): boolean => ((bytes[at]! ^ (bytes[at]! >>> 16)) & mask) === mask;
  const word = (at: number): string =>
    at < bytes.length && known(at) ? (bytes[at]! & mask).toString(16).padStart(2, '0') : 'xx';
  const rows: string[] = [];
  for (let at = 0; at < bytes.length; at += 32) {
    const words = Array.from({ length: Math.min(32, bytes.length - at) }, (_, k) => word(at + k));
    if (words.every((one) => one === 'xx')) continue;
    while (words.length < 32) words.push('xx');
    rows.push(`    fill(${at}, 256'h${words.join('')});`);
  }
  if (rows.length === 0) return [];
  return [
    '  task fill(input integer from, input [255:0] row);',
    '    integer j;',
    `    for (j = 0; j < 32; j = j + 1) if (from + j < ${2 ** bits}) m[from + j] = row >> (8 * (31 - j));`,
    '  endtask',
    '  initial begin',
    ...rows,
    '  end',
  ];
}
