// The selects of a programmable device once more, of decoders and gates from the library: how many chips, how slow, how much
// current, beside the device itself. Figures are those of the part records; an unknown one makes the sum unknown.

import { foldName } from '../base/index.ts';
import {
  type DiscreteFigures,
  type DiscreteType,
  deviceTask,
  discreteSelects,
  planFunctions,
} from '../decode/index.ts';
import type { Machine } from '../machine/index.ts';
import type { Design } from '../netlist/index.ts';
import { gradeOf, type Library, type PartGrade, type PartRecord } from '../parts/index.ts';

/** Chips, slowest way and current of one way to make the selects; null where a figure is unknown. */
export interface WayFigures {
  readonly chips: number;
  readonly delayNs: number | null;
  readonly currentMa: number | null;
}

export interface DiscreteForm extends WayFigures {
  /** Packages by type: `74HCT138`. */
  readonly packages: readonly { readonly type: string; readonly count: number }[];
  /** The device itself. */
  readonly device: WayFigures;
}

const TYPES: readonly DiscreteType[] = ['138', '139', '04', '08', '32'];

/** The discrete form of a device's selects as of a stage; undefined where it has none, or they take too many levels. */
export function discreteForm(
  design: Design,
  machine: Machine,
  library: Library,
  part: string,
  stage: number,
  passes: number,
): DiscreteForm | undefined {
  const plan = design.devices.find((one) => foldName(one.part) === foldName(part));
  const task = plan === undefined ? undefined : deviceTask(design, plan, stage).value;
  if (task === undefined || task.plan.selects.length === 0) return undefined;
  const functions = planFunctions(task.plan).value;
  if (functions === undefined) return undefined;
  const family = machine.defaults.family?.name ?? 'HCT';
  const figures = Object.fromEntries(TYPES.map((type) => [type, figuresOf(library, type, family)])) as Record<
    DiscreteType,
    DiscreteFigures
  >;
  const made = discreteSelects(functions, figures).value;
  if (made === undefined) return undefined;
  const record = library.find(plan!.type)?.record;
  const grade = record === undefined ? undefined : gradeOf(record, task.device.grade);
  const once = record === undefined ? undefined : slowest(record, grade);
  return {
    packages: made.packages.map(({ type, count }) => ({ type: `74${family}${type}`, count })),
    chips: made.chips,
    delayNs: made.delayNs ?? null,
    currentMa: made.currentMa ?? null,
    device: {
      chips: 1,
      delayNs: once === undefined ? null : once * passes,
      currentMa: (grade?.current ?? record?.current)?.max ?? null,
    },
  };
}

function figuresOf(library: Library, type: DiscreteType, family: string): DiscreteFigures {
  const record = library.find(`74${family}${type}`)?.record;
  if (record === undefined) return { delayNs: undefined, currentMa: undefined };
  const grade = gradeOf(record, family);
  return { delayNs: slowest(record, grade), currentMa: (grade?.current ?? record.current)?.max };
}

/** The longest delay from an input to an output, in ns; clocks and enables of registers aside. */
function slowest(record: PartRecord, grade: PartGrade | undefined): number | undefined {
  const all = [...(grade?.arcs ?? []), ...(record.arcs ?? [])].filter(
    ({ kind, from, max, unit }) =>
      kind === 'delay' && max !== undefined && unit === undefined && !/CLK|clock|rise|fall/i.test(from ?? ''),
  );
  // A programmable device has others, of its enables and its reset; through the array it is this one.
  const through = all.filter(({ symbol }) => /^tpd$/i.test(symbol ?? ''));
  const delays = (record.category === 'logic-device' && through.length > 0 ? through : all).map(({ max }) => max!);
  return delays.length === 0 ? undefined : Math.max(...delays);
}

/** Both ways in one sentence. */
export function discreteText(form: DiscreteForm, device: string): string {
  const way = ({ chips, delayNs, currentMa }: WayFigures): string =>
    `${chips} ${chips === 1 ? 'chip' : 'chips'}, ${delayNs === null ? 'delay not known' : `${delayNs} ns`}, ${currentMa === null ? 'current not known' : `${Number(currentMa.toPrecision(3))} mA at most`}`;
  const packages = form.packages.map(({ type, count }) => `${count} ${type}`).join(', ');
  return `the selects of decoders and gates: ${packages}: ${way(form)}; the ${device}: ${way(form.device)}`;
}
