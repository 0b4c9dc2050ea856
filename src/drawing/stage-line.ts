// The stage line: a rule for the whole build with one graduation per step, tall where the step is done. The base thickens as
// far as wiring has come, a needle stands at the next step, a lozenge closes each stage with the state of its proof.

import { wrapSvg } from './page-frame.ts';
import { escapeXml, fitSans, num, sansWidth } from './text.ts';
import type { Ground } from './tokens.ts';

/** built: done. planned: to do. out: a taking-out still to do. gone: a taking-out done. none: not designed yet. */
export type StepMark = 'built' | 'planned' | 'out' | 'gone' | 'none';

export interface StageSteps {
  readonly number: number;
  readonly name: string;
  /** One short sentence of state, such as `39 of 94 steps in, not yet proved`. */
  readonly state: string;
  /** In the order of work; a gap is left where the group changes. */
  readonly steps: readonly { readonly mark: StepMark; readonly group: string; readonly fault?: boolean }[];
  readonly proof: 'open' | 'proved' | 'changed' | 'failed';
  /** Findings that first bite in this stage. */
  readonly faults?: number;
  readonly doubts?: number;
}

export interface TickOptions {
  /** px from one graduation to the next; 3.95 where absent. */
  readonly spacing?: number;
  /** px between groups; 2.8 where absent. */
  readonly gap?: number;
  /** Whether a needle stands at the first step that is to be done. */
  readonly needle?: boolean;
}

const BASE = 26;
const TALL = 19;
const SHORT = 11;

/** The graduations of one stage as SVG elements with the base at y 26 of 42 px, and their width. */
export function stageTicks(
  stage: StageSteps,
  options: TickOptions = {},
): { readonly svg: string; readonly width: number } {
  const { spacing = 3.95, gap = 2.8, needle = true } = options;
  const paths = { built: '', planned: '', out: '', faults: '', none: '' };
  const xs: number[] = [];
  let x = 1;
  stage.steps.forEach((step, i) => {
    if (i > 0 && stage.steps[i - 1]!.group !== step.group) x += gap;
    xs.push(x);
    const at = num(x);
    if (step.mark === 'built') paths.built += `M${at} ${BASE}V${BASE - TALL}`;
    else if (step.mark === 'planned') paths.planned += `M${at} ${BASE}V${BASE - SHORT}`;
    else if (step.mark === 'out') paths.out += `M${at} ${BASE}V${BASE + 12}`;
    else if (step.mark === 'gone') paths.built += `M${at} ${BASE}V${BASE + 7}`;
    if (step.fault === true) paths.faults += `M${at} ${BASE}V${BASE - TALL - 4}`;
    x += spacing;
  });
  const end = x + 2;
  const isDone = (mark: StepMark): boolean => mark === 'built' || mark === 'gone';
  const lastDone = stage.steps.findLastIndex((step) => isDone(step.mark));
  const lastKnown = stage.steps.findLastIndex((step) => step.mark !== 'none');
  const upTo = (index: number): number => (index < 0 ? 0 : index === stage.steps.length - 1 ? end : xs[index]! + 1.1);
  const known = stage.steps.length === 0 ? 0 : upTo(lastKnown);
  let svg = '';
  if (known < end) svg += `<path class="pb-base none" d="M${num(known + 4)} ${BASE}H${num(end)}"/>`;
  if (known > 0) svg += `<path class="pb-base" d="M0 ${BASE}H${num(known)}"/>`;
  if (lastDone >= 0) svg += `<path class="pb-base built" d="M0 ${BASE}H${num(upTo(lastDone))}"/>`;
  for (const [cls, d] of [
    ['planned', paths.planned],
    ['built', paths.built],
    ['out', paths.out],
  ])
    if (d !== '') svg += `<path class="pb-tick ${cls}" d="${d}"/>`;
  if (paths.faults !== '') svg += `<path class="pb-tick built" d="${paths.faults}" style="stroke:var(--fault)"/>`;
  const next = stage.steps.findIndex((step) => step.mark === 'planned' || step.mark === 'out');
  if (needle && next >= 0 && lastDone >= 0) {
    const at = num(xs[next]!);
    svg += `<path class="pb-tick" d="M${at} ${BASE + 3}V${BASE - TALL - 4}" style="stroke-width:1.6px"/><circle class="inkfill" cx="${at}" cy="${BASE - TALL - 5}" r="3.4"/>`;
  }
  svg += lozenge(stage.proof, end + 9, BASE);
  return { svg, width: end + 20 };
}

/** The state of a proof as a lozenge of 18 px about (x, y): open, filled with a tick, half filled, or crossed. */
export function lozenge(proof: StageSteps['proof'], x: number, y: number): string {
  const shape = `M${num(x)} ${num(y - 9)}l9 9-9 9-9-9z`;
  const body = `<path class="pb-loz ${proof === 'changed' ? 'half' : proof}" d="${shape}"/>`;
  if (proof === 'proved')
    return `${body}<path class="pb-loz-mark" d="M${num(x - 3.6)} ${num(y + 0.2)}l2.6 2.8 4.4 -5"/>`;
  if (proof === 'changed') return `${body}<path class="pb-loz-half" d="M${num(x)} ${num(y - 9)}v18l-9 -9z"/>`;
  if (proof === 'failed')
    return `${body}<path class="pb-loz-mark failed" d="M${num(x - 3)} ${num(y - 3)}l6 6m0 -6l-6 6"/>`;
  return body;
}

export interface StageLineView {
  readonly machine: string;
  readonly stages: readonly StageSteps[];
  /** Number of the chosen stage. */
  readonly selected?: number | undefined;
  readonly ticks?: TickOptions | undefined;
  readonly ground?: Ground | undefined;
}

/** The whole line, 96 px high: machine and the three fronts at the left, then the stages. */
export function stageLine(view: StageLineView): string {
  const fronts = frontsOf(view.stages);
  let x = 168;
  let out = `<text class="s b" x="24" y="27" style="font-size:18px">${escapeXml(fitSans(view.machine, 18, 136, 700))}</text>`;
  const key = (y: number, sample: string, text: string): string =>
    `<g transform="translate(24 ${y - 9})">${sample}</g><text class="s" x="56" y="${y}" style="font-size:13px">${escapeXml(text)}</text>`;
  const rule = (cls: string, h: number): string =>
    `<path class="pb-base${cls === 'built' ? ' built' : ''}" d="M0 8H26"/><path class="pb-tick ${cls}" d="M3 8V${8 - h}M8 8V${8 - h}M13 8V${8 - h}M18 8V${8 - h}M23 8V${8 - h}"/>`;
  out += key(48, rule('planned', 5), fronts.designed);
  out += key(66, rule('built', 8), fronts.wired);
  out += key(84, `<g transform="translate(13 5)scale(.56)">${lozenge('proved', 0, 0)}</g>`, fronts.proved);
  for (const stage of view.stages) {
    const ticks = stageTicks(stage, view.ticks);
    const weight = stage.number === view.selected || stage.number < (view.selected ?? 0) ? 700 : 400;
    const marks = [
      ...(stage.faults ? [['fault', stage.faults]] : []),
      ...(stage.doubts ? [['doubt', stage.doubts]] : []),
    ] as [string, number][];
    const marksWidth = marks.length * 30;
    const nameWide = sansWidth(`${stage.number} ${stage.name}`, 16, 700) + 10;
    const width = Math.max(ticks.width, nameWide, sansWidth(stage.state, 13) + 10 + marksWidth) + 12;
    if (stage.number === view.selected)
      out += `<rect class="hl" x="${num(x - 10)}" y="0" width="${num(width)}" height="96"/><rect class="inkfill" x="${num(x - 10)}" y="92" width="${num(width)}" height="4"/>`;
    out += `<g data-stage="${stage.number}"><title>${escapeXml(`stage ${stage.number}, ${stage.name}: ${stage.state}`)}</title>`;
    out += `<text class="s" x="${num(x)}" y="25" style="font-size:16px;font-weight:${weight}"><tspan class="b">${stage.number}</tspan> ${escapeXml(stage.name)}</text>`;
    out += `<text class="s" x="${num(x)}" y="43" style="font-size:13px">${escapeXml(stage.state)}</text>`;
    marks.forEach(([kind, count], i) => {
      const mx = x + sansWidth(stage.state, 13) + 10 + i * 30;
      out +=
        kind === 'fault'
          ? `<path class="pb-fault" d="M${num(mx)} 34l9 9m0 -9l-9 9" style="stroke-width:2.2px"/>`
          : `<path d="M${num(mx + 5)} 33l5.5 10h-11z" style="fill:none;stroke:var(--doubt);stroke-width:1.7px"/>`;
      out += `<text class="s b" x="${num(mx + 14)}" y="43" style="font-size:13px;fill:var(--${kind})">${count}</text>`;
    });
    out += `<g transform="translate(${num(x)} 48)">${ticks.svg}</g></g>`;
    x += width + 4;
  }
  out += `<path class="rule" d="M0 95.5H${num(x)}"/>`;
  return wrapSvg(out, x, 96, `Stages of ${view.machine}`, view.ground);
}

/** How far the build has come, in words: the last stage that is designed, wired and proved without a gap before it. */
export function frontsOf(stages: readonly StageSteps[]): { designed: string; wired: string; proved: string } {
  const run = (holds: (stage: StageSteps) => boolean): number => {
    const stop = stages.findIndex((stage) => !holds(stage));
    return stop < 0 ? stages.length : stop;
  };
  const words = (whole: number, begun: boolean): string =>
    begun ? `into ${stages[whole]!.number}` : whole === 0 ? 'nothing yet' : `to ${stages[whole - 1]!.number}`;
  const designed = run((stage) => stage.steps.every((step) => step.mark !== 'none'));
  const wired = run((stage) => stage.steps.every((step) => step.mark === 'built' || step.mark === 'gone'));
  const proved = run((stage) => stage.proof === 'proved');
  const begun = (index: number, holds: (mark: StepMark) => boolean): boolean =>
    stages[index]?.steps.some((step) => holds(step.mark)) ?? false;
  return {
    designed: `designed ${words(
      designed,
      begun(designed, (mark) => mark !== 'none'),
    )}`,
    wired: `wired ${words(
      wired,
      begun(wired, (mark) => mark === 'built' || mark === 'gone'),
    )}`,
    proved: `proved ${words(proved, false)}`,
  };
}
