// A machine file as text in, the nets of its stages out, in the short form that tests of elaboration compare.

import type { Finding } from '../../src/base/index.ts';
import { type Design, netlistAt } from '../../src/netlist/index.ts';
import { lines, projectOf } from './library.ts';

export interface Elaborated {
  readonly design: Design;
  readonly findings: readonly Finding[];
  /** Errors and warnings of reading, elaboration and rules, as lines. */
  readonly problems: readonly string[];
  /** The net at a pin as of a stage; `open` where it is left open on purpose, undefined where nothing was said. */
  at(pin: string, stage?: number): string | undefined;
  /** The pins of a net as of a stage, in order of part and pin; bypass capacitors and the like are left out. */
  pins(net: string, stage?: number): readonly string[];
}

/** Elaborates and checks a machine given as text. */
export function elaborated(text: string, files: Readonly<Record<string, string>> = {}): Elaborated {
  const project = projectOf(text, files);
  const { value: design } = project.design();
  const findings = project.findings();
  const last = design.netlists.length - 1;
  return {
    design,
    findings,
    problems: lines(findings.filter((finding) => finding.severity === 'error' || finding.severity === 'warning')),
    at(pin, stage = last) {
      const netlist = netlistAt(design, stage);
      const found = netlist.pins.find((candidate) => candidate.ref === pin);
      if (found === undefined) throw new Error(`no pin ${pin} at stage ${stage}`);
      return found.net >= 0 ? netlist.nets[found.net]!.name : found.open ? 'open' : undefined;
    },
    pins(net, stage = last) {
      const netlist = netlistAt(design, stage);
      const found = netlist.nets.find((candidate) => candidate.name === net);
      return (found?.pins ?? [])
        .map((id) => netlist.pins[id]!)
        .filter((pin) => netlist.parts[pin.part]!.implied === undefined)
        .map((pin) => pin.ref);
    },
  };
}

/** A Z80 with ROM and RAM on a bus with other members, in the machine file's words. */
export function z80Machine(parts: string, members: string, selects: string, maps: string): Elaborated {
  return elaborated(`
machine: Test
supplies: { main: { volts: 5 V } }
defaults: { family: HCT }
parts:
  SUP: { type: DS1813-5, pins: { /RST: /reset } }
  OSC: { type: oscillator-can, rate: 1 MHz, pins: { OUT: clock } }
  CPU: { type: Z80, grade: 6 MHz CMOS, pins: { CLK: clock, /RESET: /reset } }
  ROM: { type: 28C256, holds: rom.hex }
  RAM: { type: "62256" }
${parts}
buses: { main: { processor: CPU, members: [ROM, RAM, ${members}], selects: ${selects} } }
${maps}
ties: [{ high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSRQ], through: 10 kohm }]
`);
}
