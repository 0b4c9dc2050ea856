// Gate units of declared parts, and which of them can make a given function. Units that a line of the machine file wires are
// left alone; units nobody uses have their inputs tied.

import { type Formula, foldName, namesOf, parseFormula, truthTable } from '../../base/index.ts';
import type { PartPinRow } from '../../parts/index.ts';
import { supplyOf } from './rails.ts';
import {
  type Context,
  connect,
  findPins,
  type Instance,
  meet,
  netName,
  overlap,
  type Stretch,
  statementsOf,
  without,
} from './context.ts';

export interface GateUnit {
  readonly instance: Instance;
  readonly name: string;
  readonly inputs: readonly PartPinRow[];
  readonly output: PartPinRow;
  /** Truth table over `inputs`. */
  readonly table: Uint8Array;
  /** The stages in which it makes something. */
  readonly used: Stretch[];
}

/** How a unit makes a function: for each input the net, or a constant level. */
export interface UnitMatch {
  readonly unit: GateUnit;
  readonly nets: readonly (string | 0 | 1)[];
}

/** The combinational one-output units of all parts that no explicit line touches, in order of stage. */
export function freeUnits(context: Context): GateUnit[] {
  const units: GateUnit[] = [];
  for (const instance of [...context.instances].sort((a, b) => a.stage - b.stage || a.index - b.index)) {
    const record = instance.type.record;
    for (const unit of record.units ?? []) {
      const rows = Object.values(unit.pins).flatMap((name) => findPins(record, name).slice(0, 1));
      const outputs = rows.filter((row) => row.kind === 'output');
      const output = outputs[0];
      if (output === undefined || outputs.length !== 1) continue;
      const behaviour = record.behaviour?.outputs?.[output.name];
      const text =
        typeof behaviour === 'string' ? behaviour : behaviour?.enable === undefined ? behaviour?.value : undefined;
      const formula = text === undefined ? undefined : parseFormula(text).formula;
      const inputs = rows.filter((row) => row.kind === 'input');
      if (formula === undefined || inputs.length > 8) continue;
      const names = inputs.map((row) => row.name);
      if (namesOf(formula).some((name) => !names.some((input) => foldName(input) === foldName(name)))) continue;
      const touched = rows.some((row) => statementsOf(context, instance, row).some((statement) => statement.explicit));
      if (touched) continue;
      units.push({ instance, name: unit.name, inputs, output, table: truthTable(formula, names), used: [] });
    }
  }
  return units;
}

/** A way for `unit` to make `formula`, each of whose names is a net; fewest constants and repeated nets first. */
export function matchUnit(unit: GateUnit, formula: Formula): UnitMatch | undefined {
  const nets = namesOf(formula);
  const width = unit.inputs.length;
  if (nets.length > width || nets.length === 0 || width > 4) return undefined;
  const wanted = truthTable(formula, nets);
  const choices = nets.length + 2;
  let best: { match: UnitMatch; cost: number } | undefined;
  for (let code = 0; code < choices ** width; code++) {
    const picks: number[] = [];
    for (let k = 0, rest = code; k < width; k++, rest = Math.floor(rest / choices)) picks.push(rest % choices);
    const usesAll = nets.every((_, k) => picks.includes(k));
    if (!usesAll) continue;
    let same = true;
    for (let row = 0; row < wanted.length && same; row++) {
      let index = 0;
      picks.forEach((pick, k) => {
        const level = pick < nets.length ? (row >> pick) & 1 : pick - nets.length;
        index |= level << k;
      });
      same = unit.table[index] === wanted[row];
    }
    if (!same) continue;
    const cost = picks.filter((pick) => pick >= nets.length).length * 2 + (width - new Set(picks).size);
    if (best === undefined || cost < best.cost) {
      best = {
        cost,
        match: { unit, nets: picks.map((pick) => (pick < nets.length ? nets[pick]! : pick === nets.length ? 0 : 1)) },
      };
    }
  }
  return best?.match;
}

/**
 * Ties the inputs of units that nothing uses low, so that none floats, and leaves their outputs open. Inputs for which the
 * record has a tie of its own (clears, presets) are left to that.
 */
export function tieSpareUnits(context: Context): void {
  for (const instance of context.instances) {
    const record = instance.type.record;
    if (record.category !== 'logic') continue;
    const tied = new Set((record.ties ?? []).flatMap((tie) => tie.pins));
    for (const unit of record.units ?? []) {
      const rows = Object.values(unit.pins).flatMap((name) => findPins(record, name).slice(0, 1));
      // A pin that units share (a common enable) says nothing of this one.
      const own = rows.filter(
        (row) => (record.units ?? []).filter((other) => Object.values(other.pins).includes(row.name)).length === 1,
      );
      const origin = {
        by: 'spare-unit' as const,
        span: instance.decl.span,
        text: `unit ${unit.name} of ${instance.name} is spare: inputs tied low, outputs open`,
      };
      const used = own.flatMap((row) => statementsOf(context, instance, row));
      const life: Stretch[] = [{ stage: instance.stage, until: instance.until }];
      const spare = used.reduce((left, statement) => left.flatMap((piece) => without(piece, statement)), life);
      for (const stretch of spare) {
        for (const row of own) {
          if (tied.has(row.name)) continue;
          if (row.kind === 'input')
            connect(context, { instance, row, net: netName(context, 'GND'), origin, explicit: false, ...stretch });
          else if (row.kind === 'output' || row.kind === 'three-state')
            connect(context, { instance, row, net: undefined, origin, explicit: false, ...stretch });
        }
      }
    }
  }
}

/** Whether a unit makes nothing yet in the stages that it shares with `during`, and shares any. */
export function isFree(unit: GateUnit, during: Stretch): boolean {
  return overlap(unit.instance, during) && !unit.used.some((stretch) => overlap(stretch, during));
}

/** Joins a unit's pins to the nets of a match, for the stages that its part and `during` share. */
export function useUnit(
  context: Context,
  match: UnitMatch,
  net: string,
  during: Stretch,
  text: string,
  span: { file: string; start: number; end: number } | undefined,
): void {
  const { unit, nets } = match;
  const { instance } = unit;
  const stretch = meet(instance, during);
  if (stretch === undefined) return;
  unit.used.push(stretch);
  const origin = {
    by: 'logic' as const,
    text: `${text}, in unit ${unit.name} of ${instance.name}`,
    ...(span === undefined ? {} : { span }),
  };
  unit.inputs.forEach((row, k) => {
    const source = nets[k]!;
    const name =
      source === 0 ? netName(context, 'GND') : source === 1 ? supplyOf(context, instance) : netName(context, source);
    connect(context, { instance, row, net: name, origin, explicit: false, ...stretch });
  });
  connect(context, { instance, row: unit.output, net: netName(context, net), origin, explicit: false, ...stretch });
}
