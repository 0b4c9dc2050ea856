// What the level of each net follows from, as of one stage: functions of the levels that nothing here decides (a processor's
// pins, switches, state of registers). Gates and decoders go by their records, programmable devices by what is planned for
// them. No delays: what only meets for some nanoseconds while levels change is not seen.

import { type Formula, foldName, parseFormula } from '../../base/index.ts';
import type { DeviceOutput, DevicePlan, NetPart, NetPin, NetView } from '../../netlist/index.ts';
import { type Behaviour, type PartRecord, readBehaviour } from '../../parts/index.ts';
import type { RuleContext } from '../rule.ts';
import { Bdd, FALSE, type Fn, TRUE } from './bdd.ts';

/** The functions of one netlist. */
export interface Levels {
  readonly context: RuleContext;
  readonly bdd: Bdd;
  /** The level of a net, by its id. */
  net(id: number): Fn;
  /** The level at the pin that a part's record names so; an open pin is at a level of its own. */
  at(part: NetPart, pin: string): Fn;
  /** A formula over nets. */
  overNets(text: string): Fn | undefined;
  /** When the pin drives its net, or undefined where that is not known. */
  drives(pin: NetPin): Fn | undefined;
  /** When a part drives its data pins, by part id, as far as asked for. */
  readonly together: Map<number, { readonly when: Fn | undefined }>;
  /** What a programmable device is planned for. */
  plan(part: NetPart): DevicePlan | undefined;
}

const behaviours = new WeakMap<PartRecord, Behaviour>();

/** A record's behaviour spelled out, read once. */
export function behaviourOf(record: PartRecord): Behaviour | undefined {
  if (record.behaviour === undefined) return undefined;
  let known = behaviours.get(record);
  if (known === undefined) {
    known = readBehaviour(record.behaviour).behaviour;
    behaviours.set(record, known);
  }
  return known;
}

/** The pin of a part by its record's name. */
export function pinNamed(context: RuleContext, part: NetPart, name: string): NetPin | undefined {
  const key = foldName(name);
  for (const id of part.pins) {
    const pin = context.netlist.pins[id]!;
    if (foldName(pin.name) === key) return pin;
  }
  return undefined;
}

export const isActiveLow = (name: string): boolean => name.startsWith('/');

/** Whether a part's pins are given their functions by the design rather than by its record. */
export function isProgrammable(part: NetPart): boolean {
  return part.record.category === 'logic-device';
}

/** The functions of a netlist. Lazy: a net costs nothing until it is asked for. */
export function levelsOf(context: RuleContext, drives: (levels: Levels, pin: NetPin) => Fn | undefined): Levels {
  const { design, netlist, view, stage } = context;
  const bdd = new Bdd();
  const plans = new Map(design.devices.map((plan) => [foldName(plan.part), plan]));
  const netIds = new Map(netlist.nets.map((net) => [foldName(net.name), net.id]));
  const nets: (Fn | undefined)[] = [];
  const open = new Set<number>();
  const driving = new Map<number, Fn | undefined>();

  const build = (formula: Formula, level: (name: string) => Fn): Fn => {
    switch (formula.kind) {
      case 'constant':
        return formula.value === 1 ? TRUE : FALSE;
      case 'name':
        return level(formula.name);
      case 'not':
        return bdd.not(build(formula.term, level));
      case 'and':
        return bdd.and(...formula.terms.map((term) => build(term, level)));
      case 'or':
        return bdd.or(...formula.terms.map((term) => build(term, level)));
      case 'xor':
        return formula.terms.map((term) => build(term, level)).reduce((a, b) => bdd.xor(a, b));
    }
  };
  const overNets = (text: string): Fn | undefined => {
    const { formula } = parseFormula(text);
    if (formula === undefined) return undefined;
    return build(formula, (name) => {
      const id = netIds.get(foldName(name));
      return id === undefined ? bdd.variable(`net ${foldName(name)}`) : net(id);
    });
  };
  const at = (part: NetPart, name: string): Fn => {
    const pin = pinNamed(context, part, name);
    if (pin === undefined) return bdd.variable(`state ${part.name} ${name}`);
    if (pin.net >= 0) return net(pin.net);
    const { pull } = view.row(pin);
    return pull === 'up' ? TRUE : pull === 'down' ? FALSE : bdd.variable(`pin ${pin.ref}`);
  };
  const selectLevel = (plan: DevicePlan, select: NonNullable<DeviceOutput['select']>): Fn => {
    const seen = new Set([...plan.inputs.map((input) => foldName(input.net))]);
    for (const output of plan.outputs) seen.add(foldName(output.net));
    const regions = select.regions.map((region) => {
      const blocks: Fn[] = [];
      for (let start = region.at, left = region.bytes; left > 0 && blocks.length < 64; ) {
        let size = 1;
        while (size * 2 <= left && start % (size * 2) === 0) size *= 2;
        const bits = select.address.map((name, bit) => {
          if (2 ** bit < size || !seen.has(foldName(name))) return TRUE;
          const level = overNets(name) ?? TRUE;
          return Math.floor(start / 2 ** bit) % 2 === 1 ? level : bdd.not(level);
        });
        blocks.push(bdd.and(...bits));
        start += size;
        left -= size;
      }
      const when = region.decl.when === undefined ? TRUE : (overNets(region.decl.when.name) ?? TRUE);
      const gate = region.gate === undefined ? TRUE : (overNets(region.gate) ?? TRUE);
      return bdd.and(bdd.or(...blocks), when, gate);
    });
    const chosen = bdd.and(bdd.or(...regions), select.when === '' ? TRUE : (overNets(select.when) ?? TRUE));
    return select.activeLow ? bdd.not(chosen) : chosen;
  };
  const planned = (part: NetPart, pin: NetPin): DeviceOutput | undefined =>
    plans
      .get(foldName(part.name))
      ?.outputs.find(
        (output) =>
          foldName(output.pin) === foldName(pin.name) &&
          output.stage <= stage &&
          (output.until === undefined || stage < output.until),
      );
  /** The level that a pin drives while it drives, or undefined where it follows from state or is not known. */
  const driven = (pin: NetPin): Fn | undefined => {
    const part = view.part(pin);
    if (isProgrammable(part)) {
      const output = planned(part, pin);
      const plan = plans.get(foldName(part.name));
      if (output === undefined || plan === undefined || output.clock !== undefined) return undefined;
      if (output.select !== undefined) return selectLevel(plan, output.select);
      return output.formula === undefined ? undefined : overNets(output.formula);
    }
    const behaviour = behaviourOf(part.record);
    const rule = behaviour?.outputs.find((output) => foldName(output.pin) === foldName(pin.name));
    if (behaviour === undefined || rule === undefined) return undefined;
    const state = new Set(behaviour.state.map(foldName));
    return build(rule.value, (name) =>
      state.has(foldName(name)) ? bdd.variable(`state ${part.name} ${name}`) : at(part, name),
    );
  };
  const levelOfNet = (netView: NetView): Fn => {
    if (netView.net.kind === 'supply') return TRUE;
    if (netView.net.kind === 'ground') return FALSE;
    const own = bdd.variable(`net ${foldName(netView.net.name)}`);
    const drivers = [...netView.outputs, ...netView.threeState, ...netView.bidirectional];
    if (drivers.length === 0 && netView.openDrain.length === 0) {
      const handled = netView.passive.some((pin) => {
        const { symbol } = view.part(pin).record;
        return symbol !== 'resistor' && symbol !== 'network' && symbol !== 'capacitor' && symbol !== 'electrolytic';
      });
      const pulled = handled ? undefined : view.pulled(netView);
      return pulled === undefined ? own : pulled === 'high' ? TRUE : FALSE;
    }
    if (netView.openDrain.length > 0) return own;
    const always = drivers.filter((pin) => levels.drives(pin) === TRUE);
    const never = drivers.filter((pin) => levels.drives(pin) === FALSE);
    if (always.length !== 1 || always.length + never.length !== drivers.length) return own;
    return driven(always[0]!) ?? own;
  };
  const net = (id: number): Fn => {
    const known = nets[id];
    if (known !== undefined) return known;
    const netView = view.nets[id]!;
    // A loop of gates is a memory: its level is a state of its own.
    if (open.has(id)) return bdd.variable(`net ${foldName(netView.net.name)}`);
    open.add(id);
    const level = levelOfNet(netView);
    open.delete(id);
    nets[id] = level;
    return level;
  };
  const levels: Levels = {
    context,
    bdd,
    net,
    at,
    overNets,
    drives: (pin) => {
      if (driving.has(pin.id)) return driving.get(pin.id);
      driving.set(pin.id, undefined);
      const when = drives(levels, pin);
      driving.set(pin.id, when);
      return when;
    },
    together: new Map(),
    plan: (part) => plans.get(foldName(part.name)),
  };
  return levels;
}

/** The levels of nets in an example, as a sentence part: `at address 0x8010, with /MREQ and /RD low`. */
export function exampleText(context: RuleContext, example: ReadonlyMap<string, 0 | 1>): string {
  const buses = new Map<string, number>();
  const low: string[] = [];
  const high: string[] = [];
  const netByName = new Map(context.netlist.nets.map((net) => [foldName(net.name), net]));
  for (const [variable, level] of example) {
    const net = variable.startsWith('net ') ? netByName.get(variable.slice(4)) : undefined;
    if (net?.bus !== undefined && /A$/.test(net.bus.name))
      buses.set(net.bus.name, (buses.get(net.bus.name) ?? 0) + level * 2 ** net.bus.bit);
    else if (net !== undefined) (level === 1 ? high : low).push(net.name);
  }
  const list = (names: readonly string[], word: string): string[] =>
    names.length === 0 ? [] : [`${names.join(', ')} ${word}`];
  return [
    ...[...buses.values()].map((address) => `address 0x${address.toString(16).toUpperCase().padStart(4, '0')}`),
    ...list(low, 'low'),
    ...list(high, 'high'),
  ].join(', ');
}
