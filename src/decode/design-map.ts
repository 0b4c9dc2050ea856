// The map of a whole machine as of a stage, whatever makes its selects: programmable devices as their fuses were read back,
// decoders of fixed function by their function tables, and parts that no decoder selects by what the map says of them.

import { type Formula, foldName } from '../base/index.ts';
import { type Design, type DeviceOutput, netlistAt } from '../netlist/index.ts';
import { readBehaviour } from '../parts/index.ts';
import type { AddressPlan, SelectIntent } from './address-plan.ts';
import type { Cover } from './cover.ts';
import { planOf } from './design-request.ts';
import type { ExplainedOutput, Term } from './explain.ts';
import { coverOf } from './formula-cover.ts';
import { planFunctions } from './intent.ts';
import { type MapReport, mapReport } from './map-report.ts';

/** A programmable device's outputs as read from its file, and the net at each of its pins. */
export interface ReadDevice {
  readonly outputs: readonly ExplainedOutput[];
  readonly nets: ReadonlyMap<number, string>;
}

/** The map, and by which lines it is told; undefined where nothing is mapped yet or the map takes too many nets at once. */
export interface DesignMap {
  readonly report: MapReport;
  readonly plan: AddressPlan;
}

/** The map of a design as of `stage`. `read` gives what a programmable device does; without it, what it is asked to do. */
export function designMap(
  design: Design,
  stage: number,
  read: (part: string) => ReadDevice | undefined,
): DesignMap | undefined {
  const netlist = netlistAt(design, stage);
  const exists = (one: { readonly stage: number; readonly until: number | undefined }): boolean =>
    one.stage <= stage && (one.until === undefined || stage < one.until);
  const outputs: DeviceOutput[] = [];
  const found: (ExplainedOutput & { net: string })[] = [];
  // Pins of the devices as one row of numbers; of each, its net.
  const nets = new Map<number, string>();
  const numberOf = (net: string): number => {
    const key = foldName(net);
    for (const [number, name] of nets) if (foldName(name) === key) return number;
    nets.set(nets.size + 1, net);
    return nets.size;
  };
  for (const device of design.devices) {
    const part = netlist.parts.find((one) => foldName(one.name) === foldName(device.part));
    const own = device.outputs.filter((output) => output.select !== undefined && exists(output));
    if (part === undefined || own.length === 0) continue;
    const programmed = read(device.part);
    const rules =
      programmed === undefined && part.record.behaviour !== undefined
        ? readBehaviour(part.record.behaviour).behaviour
        : undefined;
    const pins = part.pins.map((id) => netlist.pins[id]!);
    for (const output of own) {
      outputs.push(output);
      const pin = pins.find((one) => one.name === output.pin);
      const fused = programmed?.outputs.find((one) => one.pin === pin?.number);
      if (programmed !== undefined && fused !== undefined) {
        const renumber = (terms: readonly Term[]): Term[] =>
          terms.map((term) =>
            term.map((literal) => ({
              ...literal,
              pin: numberOf(programmed.nets.get(literal.pin) ?? `${device.part} pin ${literal.pin}`),
            })),
          );
        found.push({ ...fused, terms: renumber(fused.terms), net: output.net });
        continue;
      }
      const rule = rules?.outputs.find((one) => foldName(one.pin) === foldName(output.pin));
      if (rule === undefined) continue;
      const formula = overNets(rule.value, (name) => {
        const at = pins.find((one) => foldName(one.name) === foldName(name));
        const net = at === undefined ? undefined : netlist.nets[at.net];
        if (net === undefined) return undefined;
        return net.kind === 'ground' ? 0 : net.kind === 'supply' ? 1 : net.name;
      });
      const terms = formula === undefined ? undefined : termsOf(formula, numberOf);
      if (terms !== undefined)
        found.push({
          pin: 0,
          registered: false,
          activeLow: true,
          enable: true,
          terms,
          feedbackFrom: 'none',
          net: output.net,
        });
    }
  }
  const selected = new Set(outputs.map((output) => foldName(output.select!.part)));
  const plan = planOf(outputs, { exists, pinOf: () => ({}) });
  const alone = partsWithoutSelect(design, exists, selected);
  const whole: AddressPlan = {
    ...plan,
    // Memory first, whichever decoder comes first.
    spaces: [...plan.spaces].sort((a, b) => (a.name < b.name ? -1 : 1)),
    selects: [
      ...plan.selects,
      ...alone.filter((select) => plan.spaces.some((space) => space.name === select.ranges[0]!.space)),
    ],
  };
  if (whole.selects.length === 0) return undefined;
  const { value: functions } = planFunctions(whole);
  if (functions === undefined) return undefined;
  const known = new Set(found.map((output) => foldName(output.net)));
  const report = mapReport(whole, functions, {
    outputs: found,
    netOf: (number) => nets.get(number),
    isDeclared: (select) => !known.has(foldName(select.net)),
  });
  return { report, plan: whole };
}

/** Parts in the map that no decoder's output selects: a line that is there already does. */
function partsWithoutSelect(
  design: Design,
  exists: (one: { readonly stage: number; readonly until: number | undefined }) => boolean,
  selected: ReadonlySet<string>,
): SelectIntent[] {
  const parts = new Map<string, SelectIntent>();
  for (const region of design.map) {
    if (!exists(region) || selected.has(foldName(region.part))) continue;
    const key = `${foldName(region.part)} ${region.space}`;
    const before = parts.get(key);
    const range = {
      space: region.space,
      at: region.at,
      bytes: region.bytes,
      ...(region.access === undefined ? {} : { access: region.access }),
      ...(region.decl.when === undefined ? {} : { when: region.decl.when.name }),
    };
    parts.set(key, {
      part: region.part,
      net: `the select of ${region.part}`,
      activeLow: true,
      ranges: [...(before?.ranges ?? []), range],
    });
  }
  return [...parts.values()];
}

/** A formula over pins as one over nets; undefined where a pin of it is on no net. */
function overNets(formula: Formula, netOf: (pin: string) => string | 0 | 1 | undefined): Formula | undefined {
  if (formula.kind === 'constant') return formula;
  if (formula.kind === 'name') {
    const net = netOf(formula.name);
    if (net === undefined) return undefined;
    return typeof net === 'number' ? { kind: 'constant', value: net } : { ...formula, name: net };
  }
  if (formula.kind === 'not') {
    const term = overNets(formula.term, netOf);
    return term === undefined ? undefined : { kind: 'not', term };
  }
  const terms = formula.terms.map((term) => overNets(term, netOf));
  return terms.every((term) => term !== undefined) ? { kind: formula.kind, terms: terms as Formula[] } : undefined;
}

/** When the output is low, as terms over numbered nets. */
function termsOf(formula: Formula, numberOf: (net: string) => number): Term[] | undefined {
  const names: string[] = [];
  const place = (name: string): number => {
    const at = names.findIndex((one) => foldName(one) === foldName(name));
    return at >= 0 ? at : names.push(name) - 1;
  };
  const cover: Cover | undefined = coverOf({ kind: 'not', term: formula }, place);
  return cover?.map((cube) =>
    names.flatMap((name, k) =>
      ((cube.care >>> k) & 1) === 1 ? [{ pin: numberOf(name), level: ((cube.value >>> k) & 1) as 0 | 1 }] : [],
    ),
  );
}
