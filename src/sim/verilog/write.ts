// The machine as structural Verilog (IEEE 1364-2001): one module for each part type, ports by pin number, and a top module
// that joins the pins as the circuit has them. It behaves as the plain kernel does and is made to hold that against a simulator
// not written here. Parts whose behaviour is a model in code get a module with ports and nothing in it.

import { bug, createRng, type Finding, type Result } from '../../base/index.ts';
import { type Circuit, type CircuitPart, outputsOf } from '../circuit/circuit.ts';
import { SIM_CODES, type SimCode } from '../codes.ts';
import type { SimContents, SimNetlist } from '../model.ts';
import { memoryOptions } from '../models/registry.ts';
import { HIGH, LOW, X, Z } from '../values.ts';
import { type Floating, formulaModule, type ModuleText, memoryModule, moduleHead, stateDigit } from './modules.ts';
import { createNames, driven as drivenText, identifier } from './words.ts';

/** Drives nothing; no name that is made from another is this. */
const OFF = '\\%off ';

export interface VerilogOptions {
  /** Name of the top module. Default `machine`. */
  readonly name?: string;
  /** Whether oscillators swing by themselves; `held` ones stay at their first level for a bench to move. Default `run`. */
  readonly clocks?: 'run' | 'held';
}

export interface VerilogText {
  readonly text: string;
  /** Identifier of each net of the circuit, by its index; with its closing space. */
  readonly nets: readonly string[];
  /** Types without contents: identifier of the module, and the macro that leaves it out when it is defined. */
  readonly empty: readonly { readonly module: string; readonly macro: string }[];
}

/** Writes the circuit of `netlist` as Verilog. Deterministic; names from files come in as escaped identifiers only. */
export function writeVerilog(
  netlist: SimNetlist,
  circuit: Circuit,
  contents: SimContents,
  options: VerilogOptions = {},
): Result<VerilogText> {
  const findings: Finding[] = [];
  const report = (code: SimCode, message: string, about: readonly string[], why: string, help: string): void => {
    findings.push({
      code,
      severity: SIM_CODES[code].severity,
      message,
      where: [],
      notes: [{ text: why }],
      about,
      help,
    });
  };
  const floating: Floating = circuit.floating === HIGH ? '1' : circuit.floating === LOW ? '0' : 'x';
  const netNames = createNames();
  const nets = circuit.nets.map((name) => netNames(name));
  const instanceNames = netNames;
  const states = powerUpStates(circuit, contents);
  const modules = new Map<string, string[]>();
  const body: string[] = [`  reg ${OFF};`, `  initial begin ${OFF}= 1'b0; #0 ${OFF}= 1'bz; end`];
  const empty = new Map<string, { readonly module: string; readonly macro: string }>();
  // Inner nets that are a source's own are variables; a source on a net of pins stands beside it and drives it.
  const isOwn = (net: number): boolean => circuit.nets[net]!.startsWith('.');
  const swinging = new Map(circuit.sources.filter(({ net }) => isOwn(net)).map((source) => [source.net, source]));

  const driven = new Set(circuit.parts.flatMap(outputsOf));
  circuit.nets.forEach((_, net) => {
    body.push(...netLines(circuit, net, nets[net]!, swinging.has(net)));
    // Some simulators never work out a gate whose input nothing has ever driven.
    if (circuit.fed[net] === Z && circuit.pulls[net] === Z && !driven.has(net) && !swinging.has(net))
      body.push(`  assign ${nets[net]}= ${OFF};`);
  });
  for (const source of circuit.sources) {
    const name = isOwn(source.net) ? nets[source.net]! : netNames(`${source.name}.source`);
    if (!isOwn(source.net)) body.push(`  reg ${name};`, `  assign ${nets[source.net]}= ${name};`);
    const half = source.rateHz === undefined ? undefined : Math.round(0.5e12 / source.rateHz);
    const start = source.start === HIGH ? '1' : '0';
    if (half === undefined || half < 1 || options.clocks === 'held') body.push(`  initial ${name}= 1'b${start};`);
    else body.push(`  initial begin ${name}= 1'b${start}; forever #${half} ${name}= ~${name}; end`);
  }
  for (const cluster of circuit.clusters) {
    for (const { a, b } of cluster.resistors) body.push(`  rtran (${nets[a]}, ${nets[b]});`);
    for (const { a, b, condition } of cluster.switches)
      body.push(`  tranif1 (${nets[a]}, ${nets[b]}, ${nets[condition]});`);
    const strongest = Math.max(...cluster.up, ...cluster.down);
    const between = cluster.resistors.filter(({ ohms }) => strongest > 0.2 / ohms);
    if (between.length > 0 && strongest > 0) {
      const names = [...new Set(between.map(({ part }) => netlist.parts[part]?.name ?? ''))].sort();
      report(
        'sim/verilog-strength',
        `In the Verilog, ${names.join(', ')} outweigh${names.length === 1 ? 's' : ''} every pull on the nets joined.`,
        names,
        'Verilog has steps of strength and no resistances: a pull comes out weaker than a resistor between two nets.',
        'Where the pull is meant to win, trust `run` and not the Verilog.',
      );
    }
  }

  circuit.parts.forEach((part, place) => {
    const owner = netlist.parts[part.part];
    if (owner === undefined || isInline(part)) {
      body.push(...inlineLines(part, nets, floating));
      return;
    }
    const { record } = owner;
    const isMemory = record.category === 'memory';
    const isProgrammed = isMemory || record.behaviour?.model === 'logic-device';
    const name = identifier(isProgrammed ? `${owner.type}:${owner.name}` : owner.type);
    let made: ModuleText;
    if (part.kind === 'formulas') made = formulaModule(part.formulas, floating);
    else {
      const memory = isMemory ? memoryOptions(owner, contents).options : undefined;
      made =
        memory === undefined
          ? { lines: [], drives: new Set(part.outPins.flat()) }
          : memoryModule(record, memory, states[place]!, floating);
    }
    const known = modules.get(name);
    if (known === undefined) {
      const whole = [...moduleHead(name, record, made.drives), ...made.lines, 'endmodule', ''];
      if (part.kind === 'model' && !isMemory) {
        const macro = `OWN_${owner.type.replace(/[^A-Za-z0-9]/g, '_')}`;
        empty.set(name, { module: name, macro });
        modules.set(name, [`\`ifndef ${macro}`, ...whole.slice(0, -1), '`endif', '']);
        report(
          'sim/verilog-empty',
          `The Verilog says nothing of what ${owner.name} (${owner.type}) does: its module is empty.`,
          [owner.name],
          'Modules are made from the formulas of part records, from fuses and images; this part is a model in code.',
          `Give the simulator a module of your own with this name and these ports, and define ${macro}.`,
        );
      } else modules.set(name, whole);
    }
    const ports = record.pins.flatMap((pin) => {
      const net = circuit.netOfPin.get(part.part * 256 + pin.number);
      return net === undefined ? [] : [`.p${pin.number}(${nets[net]})`];
    });
    const init =
      part.kind === 'formulas' && part.formulas.states.length > 0
        ? `#(.INIT(${part.formulas.states.length}'b${[...states[place]!].reverse().map(stateDigit).join('')})) `
        : '';
    body.push(`  ${name}${init}${instanceNames(owner.name)}(${ports.join(', ')});`);
  });
  const top = [`module ${identifier(options.name ?? 'machine')};`, ...body, 'endmodule'];
  const head = [
    '// Made by Proofboard from the wiring of a machine. Ports are pins by number. Levels settle at once; state changes one',
    '// picosecond after what caused it, in all parts together, from the levels before and after: as `run` simulates.',
    '`timescale 1 ps / 1 ps',
    '',
  ];
  const text = `${[...head, ...[...modules.values()].flat(), ...top].join('\n')}\n`;
  return { value: { text, nets, empty: [...empty.values()] }, findings };
}

/** What has no pins of its own on one side: an oscillator's output, contacts. Stands in the top module as it is. */
function isInline(part: CircuitPart): boolean {
  return part.kind === 'formulas' && (part.inputPins.includes(-1) || part.outputPins.includes(-1));
}

function inlineLines(part: CircuitPart, nets: readonly string[], floating: Floating): string[] {
  if (part.kind !== 'formulas' || part.formulas.states.length > 0)
    bug('a part without pins that is more than formulas', { name: part.name });
  const read = (net: number): string =>
    net < 0
      ? `1'b${floating}`
      : floating === 'x'
        ? nets[net]!
        : `((${nets[net]}=== 1'bz) ? 1'b${floating} : ${nets[net]})`;
  const terms = { input: (k: number): string => read(part.inputs[k]!), state: (): string => "1'bx" };
  return part.formulas.outputs.flatMap((output, k) => {
    const net = part.outputs[k]!;
    return net < 0 ? [] : [`  assign ${nets[net]}= ${drivenText(output, terms)};`];
  });
}

/** Declaration of a net, and what supplies or pulls it. */
function netLines(circuit: Circuit, net: number, name: string, isSource: boolean): string[] {
  const fed = circuit.fed[net]!;
  if (isSource) return [`  reg ${name};`];
  if (fed === HIGH) return [`  supply1 ${name};`];
  if (fed === LOW) return [`  supply0 ${name};`];
  const pull = circuit.pulls[net]!;
  const isJoined = circuit.clusterOf[net]! >= 0;
  const strength = fed === X ? '(supply1, supply0)' : isJoined ? '(weak1, weak0)' : '(pull1, pull0)';
  const level = fed === X ? X : pull;
  return [
    `  wire ${name};`,
    ...(level === Z ? [] : [`  assign ${strength} ${name}= 1'b${level === HIGH ? 1 : level === LOW ? 0 : 'x'};`]),
  ];
}

/** State of every part at power-up, as the kernels draw it: by seed, in the order of the circuit. */
function powerUpStates(circuit: Circuit, contents: SimContents): Int32Array[] {
  const rng = createRng(contents.seed ?? 1);
  return circuit.parts.map((part) => {
    if (part.kind === 'model') {
      const state = new Int32Array(part.model.words);
      const moment = { now: 0, after: (): void => undefined, out: (): void => undefined };
      part.model.power(state, 0, () => rng.next32(), moment);
      return state;
    }
    return Int32Array.from(part.formulas.states, (_, k) => {
      const known = part.formulas.powerUp.get(k);
      const random = contents.flipFlops === 'random' ? (rng.next32() & 1) + 1 : X;
      return known === undefined ? random : known === 1 ? HIGH : LOW;
    });
  });
}
