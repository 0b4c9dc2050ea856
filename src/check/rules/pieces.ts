// Single parts: grades, values and families that mean nothing to the library, parts joined to nothing or to themselves.

import { foldName, nearestName, parseValue } from '../../base/index.ts';
import type { NameRef, PartDecl } from '../../machine/index.ts';
import type { NetPart } from '../../netlist/index.ts';
import { gradeOf } from '../../parts/index.ts';
import { pinsOf, speedGrades } from '../electric.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';

/** The line that a part comes from; where it is replaced later, the line that holds in this stage. */
function declOf(context: RuleContext, part: NetPart): PartDecl | undefined {
  const span = part.origin.span;
  const all = [...context.machine.parts, ...context.design.stages.flatMap((stage) => stage.decl.replaces)];
  return all.find(
    (decl) =>
      decl.span.start === span?.start && decl.span.file === span.file && foldName(decl.name) === foldName(part.name),
  );
}

function fixTo(ref: NameRef | undefined, name: string): Pick<Fact, 'fixes'> {
  if (ref === undefined) return {};
  return { fixes: [{ title: `Change it to ${name}`, edits: [{ span: ref.span, text: name }] }] };
}

export const unknownGrade: Rule = {
  code: 'check/unknown-grade',
  title: 'A grade that the part record does not list',
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      const grades = speedGrades(part);
      if (part.grade === undefined || gradeOf(part.record, part.grade) !== undefined) return [];
      const near = nearestName(part.grade, grades);
      const ref = declOf(context, part)?.grade;
      return [
        {
          about: [part.name],
          severity: 'warning',
          message: `${part.name} has the grade ${part.grade}, which the record of ${part.type} does not list${near === undefined ? '' : `; did you mean ${near}?`}`,
          why: 'Limits, levels and delays are looked up by grade; without one the margins are unknown.',
          help: grades.length === 0 ? 'This type has no grades: leave it out.' : `Write one of: ${grades.join(', ')}.`,
          where: ref?.span ?? part.origin.span,
          ...(near === undefined ? {} : fixTo(ref, near)),
        },
      ];
    });
  },
};

export const noGrade: Rule = {
  code: 'check/no-grade',
  title: 'A part that exists in several grades, with none named',
  wholeOnly: true,
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      const grades = speedGrades(part);
      if (part.grade !== undefined || part.implied !== undefined || grades.length < 2) return [];
      return [
        {
          about: [part.name],
          severity: 'note',
          message: `${part.name} (${part.type}) comes in ${grades.length} grades, and none is named`,
          why: 'Its delays, limits and currents depend on the grade, so its margins stay unknown.',
          help: `Read the suffix on the chip and write one of: ${grades.join(', ')}.`,
          where: part.origin.span,
        },
      ];
    });
  },
};

export const noValue: Rule = {
  code: 'check/no-value',
  title: 'A resistor, capacitor or crystal with no value',
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      const { value } = part.record;
      if (value === undefined || !value.required || part.value !== undefined) return [];
      const decl = declOf(context, part);
      if (value.dimension === 'frequency' && decl?.rateHz !== undefined) return [];
      const [key, example] =
        value.dimension === 'frequency'
          ? ['rate', '3.6864 MHz']
          : [
              'value',
              value.dimension === 'resistance' ? '10 kohm' : value.dimension === 'capacitance' ? '100 nF' : '1 A',
            ];
      return [
        {
          about: [part.name],
          severity: 'warning',
          message: `${part.name} has no value`,
          why: 'Nobody can pick it from a drawer, and nothing can be worked out with it.',
          help: `Write ${key}: ${example}.`,
          where: part.origin.span,
        },
      ];
    });
  },
};

export const unreadableValue: Rule = {
  code: 'check/unreadable-value',
  title: 'A value that is no quantity of its kind',
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      const { value } = part.record;
      if (value === undefined || part.value === undefined || part.implied !== undefined) return [];
      const read = parseValue(part.value, value.dimension);
      if (read !== undefined && read > 0) return [];
      return [
        {
          about: [part.name],
          severity: 'warning',
          message: `The value ${part.value} of ${part.name} is no ${value.dimension}`,
          why: 'What is worked out with it would be wrong or missing.',
          help: 'Write a number and a unit, or the mark on the part: 4.7 kohm, 4k7, 100 nF, 100n.',
          where: declOf(context, part)?.value?.span ?? part.origin.span,
        },
      ];
    });
  },
};

export const unknownFamily: Rule = {
  code: 'check/unknown-family',
  title: 'A logic family in which the type does not exist',
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      const families = part.record.families ?? [];
      if (families.length === 0 || part.implied !== undefined) return [];
      const decl = declOf(context, part);
      const wanted = decl?.family ?? context.machine.defaults.family;
      // A family in the type's own name stands before any other.
      if (wanted === undefined || part.family === undefined || foldName(wanted.name) === foldName(part.family))
        return [];
      if (decl !== undefined && foldName(decl.type) === foldName(part.type)) return [];
      if (families.some((family) => foldName(family) === foldName(wanted.name))) return [];
      const own = decl?.family !== undefined;
      const near = nearestName(wanted.name, families);
      return [
        {
          about: [part.name],
          severity: own ? 'warning' : 'note',
          message: `${decl?.type ?? part.type} is not known in family ${wanted.name}; ${part.name} is taken as ${part.type}`,
          why: 'Levels, drive and speed are those of the family that is taken.',
          help: `Write one of ${families.join(', ')}.`,
          where: own ? wanted.span : part.origin.span,
          ...(own && near !== undefined ? fixTo(wanted, near) : {}),
        },
      ];
    });
  },
};

export const unconnectedPart: Rule = {
  code: 'check/unconnected-part',
  title: 'A part with nothing but its supply connected',
  wholeOnly: true,
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      const signals = pinsOf(context, part).filter(
        (pin) => pin.kind !== 'supply' && pin.kind !== 'ground' && pin.kind !== 'unconnected',
      );
      if (signals.length === 0 || signals.some((pin) => pin.net >= 0 && context.view.nets[pin.net]!.pins.length > 1))
        return [];
      return [
        {
          about: [part.name],
          severity: 'warning',
          message: `${part.name} (${part.type}) is joined to nothing but its supply`,
          why: 'It takes room and current, and does nothing.',
          help: 'Connect it, or take it out.',
          where: part.origin.span,
        },
      ];
    });
  },
};

export const shortedPart: Rule = {
  code: 'check/shorted-part',
  title: 'A part with two leads, both in one net',
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      const pins = pinsOf(context, part);
      if (pins.length !== 2 || pins[0]!.net < 0 || pins[0]!.net !== pins[1]!.net) return [];
      return [
        {
          about: [part.name],
          severity: 'warning',
          message: `Both leads of ${part.name} are in ${context.netlist.nets[pins[0]!.net]!.name}`,
          why: 'Nothing flows through it: one of the two nets is misnamed, or two nets have become one.',
          help: 'Give each lead its own net.',
          where: part.origin.span,
        },
      ];
    });
  },
};
