// Fixed decoders (one of eight, two of four): which address bits and enables make the selects asked of them. A region must
// be exactly one output; what does not go that way is a finding, and the builder takes a programmable device or gates.

import { type Formula, foldName, parseFormula } from '../../base/index.ts';
import type { PartPinRow } from '../../parts/index.ts';
import type { DeviceOutput, DevicePlan, MapRegion } from '../model.ts';
import { type Block, bitAt, blocksOf, meetUnder } from './address.ts';
import type { Request } from './bus-lines.ts';
import { supplyOf } from './rails.ts';
import {
  type Context,
  connect,
  findPins,
  type Instance,
  netName,
  recordPin,
  report,
  type Stretch,
  statementsOf,
} from './context.ts';

export interface FixedDecoder {
  readonly instance: Instance;
  readonly name: string;
  /** Lowest bit first. */
  readonly inputs: readonly PartPinRow[];
  readonly enables: readonly PartPinRow[];
  readonly outputs: readonly PartPinRow[];
}

/** The decoders in an instance: the part as a whole, or its units (two of four). */
export function fixedDecoders(context: Context, instance: Instance): FixedDecoder[] {
  const record = instance.type.record;
  const free = (decoder: FixedDecoder): boolean =>
    ![...decoder.inputs, ...decoder.enables, ...decoder.outputs].some((row) =>
      statementsOf(context, instance, row).some((statement) => statement.explicit),
    );
  const units = (record.units ?? []).filter((unit) => /decoder/.test(unit.kind));
  if (units.length > 0) {
    return units
      .map((unit): FixedDecoder => {
        const rows = Object.entries(unit.pins).map(([letter, name]) => ({ letter, row: recordPin(record, name) }));
        return {
          instance,
          name: `${instance.name} unit ${unit.name}`,
          inputs: rows
            .filter(({ letter, row }) => row.kind === 'input' && /^(?:[A-D]|A\d|S\d)$/.test(letter))
            .map(({ row }) => row),
          enables: rows
            .filter(({ letter, row }) => row.kind === 'input' && !/^(?:[A-D]|A\d|S\d)$/.test(letter))
            .map(({ row }) => row),
          outputs: rows.filter(({ row }) => row.kind === 'output').map(({ row }) => row),
        };
      })
      .filter(free);
  }
  if (record.bus?.role !== 'decoder') return [];
  const rows = (names: readonly string[] | undefined): PartPinRow[] =>
    (names ?? []).flatMap((name) => findPins(record, name).slice(0, 1));
  const decoder: FixedDecoder = {
    instance,
    name: instance.name,
    inputs: rows(record.bus.inputs),
    enables: rows(record.bus.selects),
    outputs: rows(record.bus.outputs),
  };
  return free(decoder) ? [decoder] : [];
}

interface Choice {
  readonly bits: readonly number[];
  readonly enables: readonly { row: PartPinRow; net: string }[];
  readonly index: ReadonlyMap<Request, number>;
}

/**
 * The condition beside address and cycle under which all these regions answer, empty for none; undefined where it is not the
 * same for all of them.
 */
export function regionCondition(regions: readonly MapRegion[]): string | undefined {
  const all = regions.map((region) =>
    [region.decl.when?.name, region.gate].flatMap((text) => (text === undefined ? [] : [`(${text})`])).join(' & '),
  );
  return all.every((text) => text === all[0]) ? (all[0] ?? '') : undefined;
}

/** The literals of a condition that is a plain conjunction, or undefined. */
function literals(when: string): { net: string; level: 0 | 1 }[] | undefined {
  if (when.trim() === '') return [];
  const { formula } = parseFormula(when);
  return formula === undefined ? undefined : literalsOf(formula, 1);
}

function literalsOf(formula: Formula, level: 0 | 1): { net: string; level: 0 | 1 }[] | undefined {
  if (formula.kind === 'name') return [{ net: formula.name, level }];
  if (formula.kind === 'not') return literalsOf(formula.term, level === 1 ? 0 : 1);
  if (formula.kind !== (level === 1 ? 'and' : 'or')) return undefined;
  const all: { net: string; level: 0 | 1 }[] = [];
  for (const term of formula.terms) {
    const own = literalsOf(term, level);
    if (own === undefined) return undefined;
    all.push(...own);
  }
  return all;
}

function combinations(from: number, width: number, count: number): number[][] {
  if (count === 0) return [[]];
  const result: number[][] = [];
  for (let bit = width - 1; bit >= from + count - 1; bit--)
    for (const rest of combinations(from, bit, count - 1)) result.push([...rest, bit]);
  return result;
}

/**
 * Tries to make all `requests` (of one space, one condition) in one decoder; `regions` are all regions of the space. `prefer`
 * are address bits to try before others.
 */
function choose(
  decoder: FixedDecoder,
  requests: readonly Request[],
  regions: readonly MapRegion[],
  prefer: readonly number[] = [],
): Choice | string {
  const first = requests[0]!.select!;
  const width = first.address.length;
  const condition = regionCondition(requests.flatMap((request) => request.select!.regions));
  if (condition === undefined) return 'they answer under different conditions at different addresses';
  const whole = [first.when, condition].filter((text) => text !== '').join(' & ');
  const conditions = literals(whole);
  if (conditions === undefined) return `the condition ${whole} is more than its enable pins can look at`;
  const spare = [...decoder.enables];
  const enables: { row: PartPinRow; net: string }[] = [];
  for (const { net, level } of conditions) {
    const at = spare.findIndex((row) => (row.name.startsWith('/') ? 0 : 1) === level);
    if (at < 0) return `no enable pin is left for ${level === 0 ? 'low' : 'high'} ${net}`;
    enables.push({ row: spare.splice(at, 1)[0]!, net });
  }
  const blocks = new Map<Request, Block[]>(
    requests.map((request) => [
      request,
      request.select!.regions.flatMap((region) => blocksOf(region.at, region.bytes)),
    ]),
  );
  const all = [...blocks.values()].flat();
  const smallest = Math.min(...all.map((block) => block.size));
  const lowest = Math.log2(smallest);
  const constant = (bit: number): boolean =>
    all.every((block) => 2 ** bit >= block.size && bitAt(block.base, bit) === bitAt(all[0]!.base, bit));
  const foreign = regions.filter(
    (region) => !requests.some((request) => foldName(request.select!.part) === foldName(region.part)),
  );
  const most = Math.min(decoder.inputs.length, width - lowest);
  for (let count = most + 1; count >= 0; count--) {
    const known = prefer.length <= most && prefer.every((bit) => bit >= lowest && bit < width);
    for (const bits of count > most ? (known ? [prefer] : []) : combinations(lowest, width, count)) {
      const index = new Map<Request, number>();
      let fine = true;
      for (const [request, own] of blocks) {
        const values = new Set(
          own.map((block) =>
            bits.every((bit) => 2 ** bit >= block.size)
              ? bits.reduce((sum, bit, k) => sum + bitAt(block.base, bit) * 2 ** k, 0)
              : -1,
          ),
        );
        const value = [...values][0];
        fine &&= values.size === 1 && value !== undefined && value >= 0 && ![...index.values()].includes(value);
        if (!fine) break;
        index.set(request, value!);
      }
      if (!fine) continue;
      // Bits that are the same for all regions may go to enables that are left.
      const fixed: { row: PartPinRow; net: string }[] = [];
      const looked = [...bits];
      const left = [...spare];
      for (let bit = width - 1; bit >= lowest && left.length > 0; bit--) {
        if (bits.includes(bit) || !constant(bit)) continue;
        const at = left.findIndex((row) => (row.name.startsWith('/') ? 0 : 1) === bitAt(all[0]!.base, bit));
        if (at < 0) continue;
        fixed.push({ row: left.splice(at, 1)[0]!, net: first.address[bit]! });
        looked.push(bit);
      }
      const clash = foreign.some((region) =>
        blocksOf(region.at, region.bytes).some((block) => all.some((own) => meetUnder(block, own, looked))),
      );
      if (clash) continue;
      return { bits, enables: [...enables, ...fixed], index };
    }
  }
  return 'the regions do not fall on one output each';
}

/** The address bits that the decoder looks at to make the requests, or why it can't. */
export function bitsFor(
  decoder: FixedDecoder,
  requests: readonly Request[],
  regions: readonly MapRegion[],
  prefer?: readonly number[],
): readonly number[] | string {
  if (requests.some((request) => !request.select!.activeLow))
    return 'its outputs are active low, and an active-high select is asked for';
  const choice = choose(decoder, requests, regions, prefer);
  return typeof choice === 'string' ? choice : choice.bits;
}

/** Makes the requests in the decoder for these stages, or says why it can't. */
export function fillDecoder(
  context: Context,
  decoder: FixedDecoder,
  requests: readonly Request[],
  regions: readonly MapRegion[],
  stretch: Stretch,
  prefer?: readonly number[],
): DevicePlan | string {
  if (requests.some((request) => !request.select!.activeLow))
    return 'its outputs are active low, and an active-high select is asked for';
  const choice = choose(decoder, requests, regions, prefer);
  if (typeof choice === 'string') return choice;
  const { instance } = decoder;
  const origin = {
    by: 'select' as const,
    span: instance.decl.span,
    text: `${decoder.name} decodes ${requests.map((request) => request.net).join(', ')}`,
  };
  const inputs: { pin: string; net: string }[] = [];
  const join = (row: PartPinRow, net: string): void => {
    connect(context, { instance, row, net: netName(context, net), origin, explicit: false, ...stretch });
    inputs.push({ pin: row.name, net });
  };
  const address = requests[0]!.select!.address;
  decoder.inputs.forEach((row, k) => {
    join(row, choice.bits[k] === undefined ? 'GND' : address[choice.bits[k]]!);
  });
  for (const { row, net } of choice.enables) join(row, net);
  for (const row of decoder.enables) {
    if (!choice.enables.some((used) => used.row === row))
      join(row, row.name.startsWith('/') ? 'GND' : supplyOf(context, instance));
  }
  const outputs: DeviceOutput[] = [];
  for (const [request, index] of choice.index) {
    const row = decoder.outputs[index]!;
    connect(context, {
      instance,
      row,
      net: netName(context, request.net),
      origin: request.origin,
      explicit: false,
      ...stretch,
    });
    outputs.push({
      pin: row.name,
      net: request.net,
      formula: undefined,
      select: request.select,
      clock: undefined,
      enable: undefined,
      reset: undefined,
      preset: undefined,
      stage: request.stage,
      until: request.until,
      origin: request.origin,
    });
  }
  for (const row of decoder.outputs) {
    if (!outputs.some((output) => output.pin === row.name)) {
      connect(context, {
        instance,
        row,
        net: undefined,
        origin: { by: 'select', span: instance.decl.span, text: 'output not needed' },
        explicit: false,
        ...stretch,
      });
    }
  }
  return { part: instance.name, type: instance.type.name, inputs, outputs };
}

/** Reports that a fixed decoder can't make what is asked. */
export function reportUndecodable(
  context: Context,
  instance: Instance,
  requests: readonly Request[],
  why: string,
): void {
  report(
    context,
    'netlist/decoder-does-not-fit',
    'error',
    `${instance.name} (${instance.type.name}) can't make ${requests.map((request) => request.net).join(', ')}: ${why}.`,
    requests[0]!.origin.span,
    {
      help: 'Move the regions so that each is one output, decode them in another part, or take a programmable device.',
      about: [instance.name, ...requests.map((request) => request.net)],
    },
  );
}
