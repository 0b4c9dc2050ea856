// The bench beside the steps: `touch` (meter plan before power), `card` (power-on card), `proofs` (which still stand, and in
// which order to prove again), `where` (where was I), `note` and `fault` (words for the journal).

import { foldName } from '../../base/index.ts';
import { netlistAt } from '../../netlist/index.ts';
import {
  faultList,
  minutesByStage,
  planTouches,
  powerCard,
  proveAgain,
  suspectsOf,
  type Touch,
  whereWasI,
  touchEntry,
  checkOver,
  GROUPS,
} from '../../stage/index.ts';
import type { Build } from '../build.ts';
import { meterRows } from '../margins.ts';
import { counted, textTable } from '../table.ts';
import { refuse, type VerbResult } from '../verb.ts';
import { appendEffects, noLayout, refusedJournal } from './steps.ts';

function touchValue(touch: Touch): object {
  return {
    id: touch.id,
    from: touch.from,
    to: touch.to,
    expect:
      'open' in touch.expect
        ? { open: true, above: touch.expect.above }
        : { ohms: touch.expect.ohms, least: touch.expect.least, most: touch.expect.most },
    proves: touch.proves,
    text: touch.text,
    notes: touch.notes,
  };
}

/** The meter plan of a stage, before it first gets power. */
export function touchVerb(build: Build, options: { readonly stage: number }): VerbResult {
  const layout = build.layout().value;
  const design = build.design();
  if (layout === undefined) return noLayout(build);
  const plan = planTouches({
    layout,
    stage: options.stage,
    facts: build.facts()!,
    netlist: netlistAt(design, options.stage),
  });
  const { touches, byEye, counts } = plan.value;
  const ends = new Map(layout.wires.map((wire) => [wire.id, `${wire.from} to ${wire.to}`]));
  return {
    value: { stage: options.stage, touches: touches.map(touchValue), byEye, counts },
    findings: [...build.stale(), ...plan.findings],
    text: [
      `Supply off. ${counted(touches.length, 'touch', 'touches')} for ${counted(counts.wires, 'new wire')}, ${counted(counts.resistors, 'resistor')} and ${counted(counts.bridges, 'possible bridge')}.`,
      ...touches.map(
        (touch, index) =>
          `  ${String(index + 1).padStart(4)}  ${touch.id}  ${touch.text}${touch.notes.map((note) => `\n        ${note}`).join('')}`,
      ),
      ...(byEye.length === 0
        ? []
        : [
            '',
            'To be looked at by eye, since no reading tells:',
            ...byEye.map(
              (entry) =>
                `        ${[...entry.wires.map((wire) => ends.get(wire) ?? wire), ...entry.strips].join(', ')}: ${entry.why}`,
            ),
          ]),
    ].join('\n'),
  };
}

/** A reading of a touch goes into the journal; one that is not as expected says what to look at. Infinity is an open meter. */
export function readingVerb(
  build: Build,
  options: { readonly stage: number; readonly id: string; readonly ohms: number; readonly time: string },
): VerbResult {
  const layout = build.layout().value;
  const design = build.design();
  if (layout === undefined) return noLayout(build);
  const plan = planTouches({
    layout,
    stage: options.stage,
    facts: build.facts()!,
    netlist: netlistAt(design, options.stage),
  });
  const touch = plan.value.touches.find((candidate) => candidate.id === options.id);
  if (touch === undefined)
    return refuse(
      'touch/unknown',
      `There is no touch ${options.id} in the plan of stage ${options.stage}.`,
      'List them with `proofboard touch`.',
    );
  const suspects = suspectsOf(touch, options.ohms);
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  const stage = design.stages[options.stage - 1]?.name ?? '';
  const none = suspects.wires.length + suspects.parts.length + suspects.bridges.length === 0;
  const wire = (id: string): string => {
    const found = layout.wires.find((candidate) => candidate.id === id);
    return found === undefined ? id : `wire ${id} on ${found.net}, ${found.from} to ${found.to}`;
  };
  return {
    value: { touch: touch.id, right: none, suspects },
    findings: [],
    effects: appendEffects(build, [touchEntry(touch, options.ohms, options.time, stage)], options.time),
    text: none
      ? 'That is what should be read.'
      : [
          'That is not what should be read. Look at:',
          ...suspects.wires.map((id) => `  - ${wire(id)}: absent, or an end in another hole`),
          ...suspects.parts.map((part) => `  - ${part}: absent, or of another value`),
          ...suspects.bridges.map(([a, b]) => `  - a bridge between ${a} and ${b}`),
        ].join('\n'),
  };
}

/** The power-on card of a stage. */
export function cardVerb(build: Build, options: { readonly stage: number }): VerbResult {
  const card = powerCard(build.design(), options.stage);
  if (card === undefined)
    return refuse('card/no-stage', 'The empty bench has no power-on card.', 'Name a stage with --stage.');
  const { expected } = card;
  const meter = meterRows(build, options.stage);
  const findings = build.project.findings();
  const faulty = findings.filter((finding) => finding.severity === 'error').length;
  const sum = (value: number | undefined): string =>
    value === undefined ? 'unknown' : value > 0 && value < 1 ? 'under 1 mA' : `${Math.round(value)} mA`;
  return {
    value: { ...card, meter },
    findings: [...findings, ...build.stale()],
    text: [
      `Stage ${card.stage}, ${card.name}: before the power`,
      ...(faulty === 0
        ? []
        : [`  - ${counted(faulty, 'error')} in the design, listed below: the power stays off until they are mended.`]),
      ...card.cautions.map((caution) => `  - ${caution}`),
      ...card.supplies.map(
        (supply) =>
          `Supply ${supply.name}: ${supply.volts} V; at the boards ${supply.leastVolts.toFixed(2)} to ${supply.mostVolts.toFixed(2)} V`,
      ),
      `Current limit: ${card.limit.mA === undefined ? 'not known' : `${card.limit.mA} mA`}: ${card.limit.why}`,
      `Expected: typical ${sum(expected.typMa)}, at most ${sum(expected.maxMa)}. ${expected.note}`,
      ...(expected.unknown.length === 0 ? [] : [`No figure for ${expected.unknown.join(', ')}.`]),
      ...(meter.length === 0
        ? []
        : [
            'On the meter, the supply as set at the entry (typical currents, and the most):',
            textTable(
              meter.map((row) => [
                row.part,
                `${row.plus} to ${row.ground}`,
                `${row.volts.toFixed(2)} V`,
                `${row.leastVolts.toFixed(2)} V`,
              ]),
              '  ',
            ),
          ]),
      'If it is not so:',
      ...card.ifNot.map((entry) => `  - ${entry.seen}: ${entry.remedy}`),
      ...(card.proofs.length === 0
        ? []
        : [
            'It must then show:',
            ...card.proofs.map((proof) => `  - ${proof.given === '' ? '' : `given ${proof.given}: `}${proof.expect}`),
          ]),
    ].join('\n'),
  };
}

/** Every proof and whether it still stands. */
export function proofsVerb(build: Build, options: { readonly stage: number }): VerbResult {
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  const layout = build.layout().value;
  if (layout === undefined) return noLayout(build);
  const states = build.proofs().filter((state) => state.stage <= options.stage);
  const again = proveAgain(states);
  return {
    value: {
      proofs: states.map(({ cone: _cone, record, time, ...rest }) => ({
        ...rest,
        record: record ?? null,
        time: time ?? null,
      })),
      again: { order: again.order.map((state) => state.id), setUps: again.setUps },
    },
    findings: build.journal().findings,
    text: textTable(
      states.map((state) => [
        `stage ${state.stage}`,
        state.status,
        `${state.given === '' ? '' : `given ${state.given}: `}${state.expect}`,
        state.reasons.map((reason) => reason.text).join('; '),
      ]),
    ),
  };
}

/** Where the builder was. `now` is the host's time. */
export function whereVerb(build: Build, options: { readonly stage: number; readonly now: string }): VerbResult {
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  const plan = build.plan(options.stage);
  if (plan === undefined) return noLayout(build);
  const { records } = build.journal().value;
  const where = whereWasI(records, build.built().value, plan.value, options.now);
  return {
    value: {
      ...where,
      minutes: minutesByStage(records),
      faults: faultList(records).map((entry) => ({
        text: entry.record.text ?? '',
        time: entry.record.time,
        mended: entry.mended?.time ?? null,
      })),
    },
    findings: build.journal().findings,
    text: where.text.join('\n'),
  };
}

/** What should be seen hole by hole in what a stage put in, for a second look; `group` narrows it to one group of steps. */
export function overVerb(build: Build, options: { readonly stage: number; readonly group?: string }): VerbResult {
  const layout = build.layout().value;
  const facts = build.facts();
  if (layout === undefined || facts === undefined) return noLayout(build);
  const group =
    options.group === undefined ? undefined : GROUPS.find((name) => foldName(name) === foldName(options.group!));
  if (options.group !== undefined && group === undefined) {
    return refuse('over/unknown-group', `There is no group ${options.group}.`, `Groups: ${GROUPS.join(', ')}.`);
  }
  const rows = checkOver({
    design: build.design(),
    layout,
    built: build.built().value,
    rules: facts.rules,
    onRail: facts.onRail,
    stage: options.stage,
    ...(group === undefined ? {} : { group }),
  });
  return {
    value: { rows: rows.map((row) => ({ ...row, other: row.other ?? null, journal: row.journal ?? null })) },
    findings: build.stale(),
    text: textTable(
      rows.map((row) => [
        row.group,
        row.hole,
        row.what,
        row.other === undefined ? '' : `to ${row.other}`,
        row.pins.join(', '),
        row.journal === undefined ? '' : `journal: ${row.journal}`,
      ]),
    ),
  };
}
