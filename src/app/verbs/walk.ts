// `run --step`: a machine on a slow or hand clock. One line for each step: what stands on the buses, which controls are low, which
// lamps are lit, as one would read it off lamps on the bus.

import { type Finding, foldName, sortFindings } from '../../base/index.ts';
import { expandRange } from '../../parts/index.ts';
import type { Build } from '../build.ts';
import { MachineRun, type RunPin, type RunStep } from '../machine-run.ts';
import { textTable } from '../table.ts';
import { refuse, type VerbResult } from '../verb.ts';

export interface WalkOptions {
  readonly stage: number;
  /** `clock`, `cycle`, `instruction`, or the name of something to press: once down and up for each step. */
  readonly by: string;
  /** Steps. Default 16, 100,000 at most. */
  readonly count?: number;
  readonly from?: 'netlist';
  readonly seed?: number;
}

/** What a step left standing. */
export interface WalkRow {
  readonly clock: number;
  /** In hexadecimal; `?` for a digit of which a bit is floating or not known. Empty without a processor. */
  readonly address: string;
  readonly data: string;
  /** Outputs of the processor that are low, by name. */
  readonly low: readonly string[];
  readonly lamps: readonly string[];
  /** With steps by instruction: the one that comes next. */
  readonly instruction?: string;
}

const STEPS: ReadonlySet<string> = new Set(['clock', 'cycle', 'instruction']);
const PRESS_NS = 50e6;

/** Steps the machine of a stage from the end of reset on. */
export function walkVerb(build: Build, options: WalkOptions): VerbResult {
  const machine = new MachineRun(build, options.stage, {
    ...(options.from === undefined ? {} : { from: options.from }),
    ...(options.seed === undefined ? {} : { seed: options.seed }),
  });
  const hand = machine.hands.find(
    ({ name }) => foldName(name) === foldName(options.by) || foldName(name) === foldName(`${options.by}.PRESSED`),
  );
  if (!STEPS.has(options.by) && hand === undefined)
    return refuse(
      'run/unknown-step',
      `A step is by clock, cycle or instruction, or by something to press; ${options.by} is none.`,
      machine.hands.length === 0
        ? 'Nothing can be pressed at this stage.'
        : `To press: ${machine.hands.map(({ name }) => name).join(', ')}.`,
    );
  machine.toReset();
  machine.untilReset();
  const processor = machine.netlist.parts.find((part) => part.record.category === 'processor');
  const bus = processor?.record.bus;
  const rows: WalkRow[] = [];
  const count = Math.min(options.count ?? 16, 100_000);
  let isStill = false;
  for (let k = 0; k < count && !isStill; k++) {
    if (hand !== undefined) {
      machine.hand(hand.name, true);
      machine.runFor(PRESS_NS);
      machine.hand(hand.name, false);
      machine.runFor(PRESS_NS);
    } else if (!machine.step(options.by as RunStep)) {
      isStill = true;
      break;
    }
    const view = machine.view();
    const pins = processor === undefined ? [] : machine.pins({ part: processor.name });
    const named = new Map(pins.map((pin) => [pin.name, pin]));
    const word = (range: string | undefined): string =>
      hexOf((expandRange(range ?? '') ?? []).map((name) => named.get(name)));
    const outputs = new Set(
      processor?.record.pins
        .filter(({ kind, name }) => (kind === 'output' || kind === 'three-state') && name.startsWith('/'))
        .map(({ name }) => name),
    );
    rows.push({
      clock: view.clocks,
      address: word(bus?.address),
      data: word(bus?.data),
      low: pins.filter(({ name, level }) => outputs.has(name) && level === 0).map(({ name }) => name),
      lamps: view.lamps.filter(({ light }) => light > 0).map(({ name }) => name),
      ...(options.by === 'instruction' && view.processor !== undefined
        ? { instruction: view.processor.lost === '' ? view.processor.instruction : view.processor.lost }
        : {}),
    });
  }
  const findings: Finding[] = sortFindings([...machine.findings, ...machine.session.findings]);
  return {
    value: { stage: options.stage, from: machine.from, by: hand?.name ?? options.by, rows },
    findings,
    text: [
      `Stage ${options.stage}, read from the ${machine.from}, ${hand === undefined ? `by ${options.by}` : `each line one press of ${hand.name}`}.`,
      textTable(
        rows.map((row) => [
          String(row.clock),
          row.address,
          row.data,
          row.low.join(' '),
          row.instruction ?? '',
          row.lamps.length === 0 ? '' : `lit: ${row.lamps.join(' ')}`,
        ]),
      ),
      ...(isStill ? ['Nothing moves it on: it has no such clock or no processor that is simulated.'] : []),
    ].join('\n'),
  };
}

/** Levels, the highest bit first, as hexadecimal. */
function hexOf(pins: readonly (RunPin | undefined)[]): string {
  let text = '';
  const first = pins.length % 4 === 0 ? 4 : pins.length % 4;
  for (let k = 0; k < pins.length; k += k === 0 ? first : 4) {
    const four = pins.slice(k, k === 0 ? first : k + 4);
    const isKnown = four.every((pin) => pin?.level === 0 || pin?.level === 1);
    text += isKnown
      ? four
          .reduce((sum, pin) => sum * 2 + (pin!.level as number), 0)
          .toString(16)
          .toUpperCase()
      : '?';
  }
  return text;
}
