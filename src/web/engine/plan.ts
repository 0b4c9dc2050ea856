// The steps as Build shows them, and the drawings of one step's places. Drawn with only what is on the boards.

import {
  effectiveRecords,
  lastAct,
  markDone,
  mendsBy,
  netlistAt,
  planTouches,
  meterRows,
  meterWords,
  powerCard,
  suspectsOf,
  touchEntry,
  touchStates,
  type JournalEntry,
  type Step,
  whereWasI,
  wordEntry,
  wrongEntries,
} from '../../app/index.ts';
import { pinsAt, renderBoards, type Scene, stepView } from '../../drawing/index.ts';
import type { Asks, JournalLine, PlanAnswer, StepAnswer, UiStep } from '../protocol.ts';
import type { Bench } from './bench.ts';

const PITCH = 2.54;

function uiStep(step: Step): UiStep {
  const end = (at: Step['from']): UiStep['from'] => (at === undefined ? undefined : { hole: at.hole, pins: at.pins });
  return {
    id: step.id,
    do: step.do,
    stage: step.stage,
    stageName: step.stageName,
    group: step.group,
    text: step.text,
    take: step.take ?? '',
    notes: step.notes,
    part: step.part ?? '',
    type: [step.type, step.value].filter((text) => text !== undefined).join(', '),
    wire: step.wire ?? '',
    net: step.net ?? '',
    colour: step.colour ?? '',
    cutMm: step.cutMm,
    from: end(step.from),
    to: end(step.to),
    leads: (step.leads ?? []).map(({ number, pin, hole }) => ({ number, pin, hole })),
    was: step.was ?? [],
    expect: step.expect ?? '',
    file: step.file ?? '',
  };
}

/** What is left to do up to a stage, and what was done last. */
export function plan(bench: Bench, ask: Asks['plan'][0]): PlanAnswer {
  const planned = bench.build.plan(ask.stage);
  const built = bench.build.built().value;
  const steps = (planned?.value.steps ?? []).map(uiStep);
  const whole = bench.build.wholePlan()?.value.steps ?? [];
  const byId = new Map(whole.map((step) => [step.id, step]));
  const stage = steps[0]?.stage ?? ask.stage;
  const ofStage = whole.filter((step) => step.stage === stage);
  const left = steps.filter((step) => step.stage === stage).length;
  const before = effectiveRecords(built.records)
    .filter((record) => record.act === 'done')
    .toReversed()
    .slice(0, 400)
    .flatMap((record): UiStep[] => {
      const step = record.step === undefined ? undefined : byId.get(record.step);
      return step === undefined ? [] : [uiStep(step)];
    });
  const journal = bench.build.journal();
  const refused = journal.value.refused ? journal.findings[0]?.message : undefined;
  const power = effectiveRecords(built.records).findLast((record) => record.act === 'power')?.on ?? false;
  return {
    steps,
    reached: planned?.value.reached ?? 0,
    done: Math.max(0, ofStage.length - left),
    total: Math.max(ofStage.length, left),
    before,
    problem:
      planned === undefined
        ? 'Nothing is laid out yet, so there are no holes to name.'
        : (refused ?? bench.build.stale()[0]?.message),
    power,
  };
}

/** The places of one step, enlarged; from and to for a wire, one for the rest. */
export function step(bench: Bench, ask: Asks['step'][0]): StepAnswer {
  const scene = bench.scene(ask.stage);
  const none: StepAnswer = { from: '', to: '', whole: '' };
  if (scene === undefined) return none;
  const wanted =
    (bench.build.plan(bench.lastStage())?.value.steps ?? []).find((item) => item.id === ask.step) ??
    (bench.build.wholePlan()?.value.steps ?? []).find((item) => item.id === ask.step);
  if (wanted === undefined) return none;
  const { design, layout, stage } = scene.input;
  const base = { design, layout, stage, scene };
  if (wanted.from !== undefined && wanted.to !== undefined && wanted.part === undefined) {
    return {
      from: around(scene, wanted.from.hole, ask, wanted),
      to: around(scene, wanted.to.hole, ask, wanted),
      whole: '',
    };
  }
  if (wanted.part !== undefined) {
    const drawn = stepView({ ...base, part: wanted.part, width: ask.width });
    return { ...none, whole: cropPart(scene, wanted.part, ask) ?? drawn };
  }
  const hole = wanted.to?.hole ?? wanted.from?.hole;
  return hole === undefined ? none : { ...none, whole: around(scene, hole, { ...ask, width: ask.width }, wanted) };
}

/** Six columns either side of a hole, from the outer edge of its half of the board inward to the pin. */
function around(
  scene: Scene,
  hole: string,
  ask: { readonly width: number; readonly height: number },
  wanted: Step,
): string {
  const at = scene.places.hole(hole);
  if (at === undefined) return '';
  const scale = ask.width / 13 / PITCH;
  const height = ask.height / scale;
  const gutter = 34 / scale;
  const upper = at.row.length === 1 ? at.row >= 'f' : at.row.startsWith('t');
  const strip = scene.places.strip(at);
  const tall = strip.rail ? 0 : strip.y1 - strip.y0;
  // Where the place is taller than the strip needs, the hole lies in the middle of what is shown.
  const spare = Math.max(0, height - gutter - tall - 6 * PITCH) / 2;
  const y = upper ? strip.y0 - gutter - 2 - spare : strip.y1 + gutter + 2 + spare - height;
  const leaving = wanted.do === 'take-out' || wanted.do === 'detach';
  const { design, layout, stage } = scene.input;
  return renderBoards({
    design,
    layout,
    stage,
    scene,
    crop: { x: at.x - 6.5 * PITCH - gutter / 2, y, width: 13 * PITCH, height },
    scale,
    hand: leaving ? undefined : wanted.wire,
    select: leaving && wanted.wire !== undefined ? { wire: wanted.wire } : undefined,
    onlyBuilt: true,
    later: false,
    coordinates: 'gutter',
    gutterAt: upper ? 'top' : 'bottom',
    marks: [{ kind: 'aim', hole }],
    title: `Around hole ${hole}: ${pinsAt(scene, hole).join(', ')}`,
  });
}

/** The place of a part, with nothing but what is in around it. */
function cropPart(
  scene: Scene,
  name: string,
  ask: { readonly width: number; readonly height: number },
): string | undefined {
  const part = scene.parts.find((item) => item.name === name);
  const first = part?.leads[0];
  if (part === undefined || first === undefined) return undefined;
  const xs = part.leads.map((lead) => lead.at.x);
  const ys = part.leads.map((lead) => lead.at.y);
  const box = {
    x: Math.min(...xs),
    y: Math.min(...ys),
    width: Math.max(...xs) - Math.min(...xs),
    height: Math.max(...ys) - Math.min(...ys),
  };
  const scale = Math.min(15.5, ask.width / (box.width + 9 * PITCH), ask.height / (box.height + 6 * PITCH));
  const crop = {
    x: box.x + box.width / 2 - ask.width / scale / 2 - 17 / scale,
    y: box.y + box.height / 2 - ask.height / scale / 2 - 17 / scale,
    width: ask.width / scale,
    height: ask.height / scale,
  };
  const { design, layout, stage } = scene.input;
  const shown = {
    ...scene,
    parts: scene.parts.map((item) =>
      item.name === name && item.state === 'planned' ? { ...item, state: 'built' as const } : item,
    ),
  };
  return renderBoards({
    design,
    layout,
    stage,
    scene: shown,
    crop,
    scale,
    select: { part: name },
    dim: false,
    onlyBuilt: true,
    later: false,
    coordinates: 'gutter',
    marks: [{ kind: 'aim', hole: part.placed.leads[0]!.hole }],
    title: `Where ${name} goes`,
  });
}

/** The journal, newest first. */
export function journal(bench: Bench): readonly JournalLine[] {
  return bench.build
    .journal()
    .value.records.toReversed()
    .slice(0, 1000)
    .map((record) => ({
      id: record.id,
      time: record.time,
      act: record.act,
      stage: record.stage ?? '',
      text: record.text ?? '',
      file: record.file,
    }));
}

export function lastActOf(bench: Bench): { id: string; text: string } | undefined {
  const record = lastAct(bench.build.journal().value.records);
  return record === undefined ? undefined : { id: record.id, text: record.text ?? record.act };
}

/** The host gives the time; until it does, one that a journal could hold. */
const NO_TIME = '1970-01-01T00:00:00.000Z';

const basisOf = (basis: string | undefined): { basis?: string } => (basis === undefined ? {} : { basis });

/** Entries for the journal; problems say what can't be entered or is odd about it. */
export function entries(bench: Bench, ask: Asks['entries'][0]): Asks['entries'][1] {
  const { build } = bench;
  const journal = build.journal();
  const machine = bench.project.machine().value.name;
  const stageName = (number: number): string | undefined =>
    bench.build.design().stages.find((stage) => stage.number === number)?.name;
  const inStage = (number: number): { stage?: string } => {
    const name = stageName(number);
    return name === undefined ? {} : { stage: name };
  };
  const made: JournalEntry[] = [];
  const problems: string[] = [];
  if (journal.value.refused) problems.push(journal.findings[0]?.message ?? 'The journal can’t be read.');
  else if (ask.do === 'done') {
    const plan = build.plan(ask.stage) ?? build.wholePlan();
    if (plan === undefined) problems.push('Nothing is laid out yet.');
    else {
      const marked = markDone(plan.value, build.built().value, ask.ids, NO_TIME, (step) => build.basisOf(step));
      made.push(...marked.value, ...mendsBy(journal.value.records, marked.value));
      problems.push(...marked.findings.map((finding) => finding.message));
    }
  } else if (ask.do === 'measured') {
    const step = (build.plan(bench.lastStage())?.value.steps ?? []).find((item) => item.id === ask.step);
    if (step === undefined) problems.push('That step is no longer to be done.');
    else
      made.push({
        act: ask.pass ? 'done' : 'measure',
        time: NO_TIME,
        stage: step.stageName,
        step: step.id,
        do: step.do,
        text: step.text,
        measured: {
          what: step.id,
          expected: step.expect ?? '',
          found: ask.found,
          pass: ask.pass,
          ...basisOf(build.basisOf(step)),
        },
      });
  } else if (ask.do === 'reading') {
    const touch = touchPlan(bench, ask.stage)?.touches.find((item) => item.id === ask.touch);
    if (touch === undefined) problems.push('That touch is no longer in the plan.');
    else {
      made.push(touchEntry(touch, ask.ohms, NO_TIME, stageName(ask.stage) ?? ''));
      const { wires, parts, bridges } = suspectsOf(touch, ask.ohms);
      const look = [
        ...wires.map((id) => {
          const wire = build.layout().value?.wires.find((item) => item.id === id);
          return wire === undefined ? `wire ${id}` : `the wire ${wire.from} to ${wire.to}`;
        }),
        ...parts,
        ...bridges.map(([a, b]) => `a bridge between ${a} and ${b}`),
      ];
      if (look.length > 0) problems.push(`That is not what should be read. Look at: ${look.slice(0, 6).join('; ')}.`);
    }
  } else if (ask.do === 'wrong') {
    const wrong = wrongEntries(journal.value.records, ask.step, NO_TIME);
    made.push(...wrong.value);
    problems.push(...wrong.findings.map((finding) => finding.message));
  } else if (ask.do === 'undo') {
    const known = new Map(journal.value.records.map((record) => [record.id, record]));
    for (const id of ask.records) {
      const record = known.get(id);
      if (record === undefined) problems.push('That act is not in the journal.');
      else
        made.push({
          act: 'undo',
          time: NO_TIME,
          undoes: id,
          ...(record.stage === undefined ? {} : { stage: record.stage }),
          ...(record.text === undefined ? {} : { text: record.text }),
        });
    }
  } else if (ask.do === 'power') made.push({ act: 'power', time: NO_TIME, on: ask.on, ...inStage(ask.stage) });
  else {
    const entry = wordEntry(ask.act, NO_TIME, {
      text: ask.text,
      ...inStage(ask.stage),
      ...(ask.file === undefined ? {} : { file: ask.file }),
    });
    made.push(entry.value);
    problems.push(...entry.findings.map((finding) => finding.message));
  }
  const opening: JournalEntry[] =
    made.length > 0 && journal.value.records.length === 0
      ? [{ act: 'open', time: NO_TIME, machine, build: build.name }]
      : [];
  return { build: build.name, machine, entries: [...opening, ...made], problems, opening: opening.length };
}

/** What to mind and to expect when a stage gets power. */
export function card(bench: Bench, ask: Asks['card'][0]): Asks['card'][1] {
  const made = powerCard(bench.build.design(), ask.stage);
  if (made === undefined) return undefined;
  const mA = (value: number | undefined): string => (value === undefined ? 'not known' : `${Math.round(value)} mA`);
  const { expected, limit } = made;
  const meter = meterWords(meterRows(bench.build, ask.stage));
  return {
    cautions: made.cautions,
    limit: `Set the current limit to ${mA(limit.mA)}: ${limit.why}`,
    expected: `Expect ${mA(expected.typMa)} typically, at most ${mA(expected.maxMa)}. ${expected.note}${expected.unknown.length === 0 ? '' : ` No figure for ${expected.unknown.join(', ')}.`}`,
    supplies: [
      ...made.supplies.map(
        (supply) =>
          `${supply.name}: ${supply.volts} V; at the boards ${supply.leastVolts.toFixed(2)} to ${supply.mostVolts.toFixed(2)} V`,
      ),
      ...(meter === undefined ? [] : [meter]),
    ],
    ifNot: made.ifNot,
  };
}

/** Where the builder was, in sentences. */
export function where(bench: Bench, ask: Asks['where'][0]): readonly string[] {
  const planned = bench.build.plan(bench.lastStage());
  if (planned === undefined) return [];
  const { records } = bench.build.journal().value;
  return records.length === 0 ? [] : whereWasI(records, bench.build.built().value, planned.value, ask.now).text;
}

function touchPlan(bench: Bench, stage: number) {
  const { build } = bench;
  const layout = build.layout().value;
  const facts = build.facts();
  const design = build.design();
  return layout === undefined || facts === undefined
    ? undefined
    : bench.project.memo(`touches ${build.name} ${stage}`, [layout, design, facts], () =>
        planTouches({ layout, stage, facts, netlist: netlistAt(design, stage) }),
      ).value;
}

/** The meter plan of a stage, with what has been read. */
export function touches(bench: Bench, ask: Asks['touches'][0]): Asks['touches'][1] {
  const made = touchPlan(bench, ask.stage);
  if (made === undefined) return [];
  const states = touchStates(made, bench.build.journal().value.records);
  return made.touches.map((touch, i) => {
    const state = states[i];
    const read = state?.status === 'right' || state?.status === 'wrong';
    return {
      id: touch.id,
      text: touch.text,
      expect:
        'open' in touch.expect ? `over ${touch.expect.above} ohm` : `${touch.expect.least} to ${touch.expect.most} ohm`,
      notes: touch.notes,
      found: read ? (bench.build.built().value.measured.get(touch.id)?.found ?? '') : '',
      // What was read before a wire was put in anew is to be read again.
      status: state?.status === 'right' || state?.status === 'wrong' ? state.status : 'open',
    };
  });
}
