// Lays a capture on the half clocks of the machine: by the edges of its clock where that is a channel, else by the rate and by what
// changes; counted from the release of reset where that is seen. Says how sure it is, and what it had to assume.

import { type Finding, foldName, type Result } from '../../base/index.ts';
import type { Capture, ChannelMatch, Observed, Predicted } from '../model.ts';
import { findPlace } from './compare.ts';
import { finding } from './find.ts';
import { type Grid, gridByChanges, gridByClock } from './grid.ts';
import { observeChannel } from './observe.ts';

/** What alignment has to know of the machine. */
export interface AlignOptions {
  /** Net at the processor's clock input. */
  readonly clock: string | undefined;
  readonly rateHz: number;
  /** Net at the processor's reset input, and the level that resets. */
  readonly reset: { readonly net: string; readonly active: 0 | 1 } | undefined;
  /** What the machine should do: finds the place of captures that have no clock or reset, and the clock in which reset counted. */
  readonly predicted?: Predicted;
}

/** Samples a clock below which levels are too often wrong: with 5 one bit in 3,000 was, with 6.3 one in 100,000 (trials). */
export const LEAST_SAMPLES = 6;
/** Half clocks that a level of reset must last to count. */
const DEBOUNCE = 6;
/** Of the rate: what is more is said. */
const RATE_TOLERANCE = 0.02;

const hertz = (value: number): string =>
  value >= 1e6
    ? `${Number((value / 1e6).toPrecision(4))} MHz`
    : value >= 1e3
      ? `${Number((value / 1e3).toPrecision(4))} kHz`
      : `${Number(value.toPrecision(4))} Hz`;

/** The capture as observed, undefined where it cannot be laid on anything. */
export function alignCapture(
  capture: Capture,
  matches: readonly ChannelMatch[],
  options: AlignOptions,
): Result<Observed | undefined> {
  const findings: Finding[] = [];
  const isNet = (match: ChannelMatch, net: string | undefined): boolean =>
    net !== undefined && foldName(match.net) === foldName(net);
  const clock = matches.find((match) => isNet(match, options.clock));
  let grid: Grid | undefined;
  if (clock !== undefined) {
    grid = gridByClock(capture, capture.channels[clock.channel]!, clock.inverted);
    if (grid === undefined)
      findings.push(
        finding(
          'bringup/clock-still',
          `The channel of ${clock.net} does not swing.`,
          `Is the probe on ${clock.net}, and does the clock run? A counter or a meter shows it.`,
          {
            about: [clock.net],
            why: 'The capture is laid on the nominal rate instead, which is less sure.',
          },
        ),
      );
    else {
      const rate = 1 / grid.period;
      const ratio = rate / options.rateHz;
      if (Math.abs(ratio - 1) > RATE_TOLERANCE) findings.push(rateFinding(clock.net, rate, options.rateHz));
    }
  }
  const others = matches.filter((match) => match !== clock);
  grid ??= gridByChanges(
    capture,
    others.map((match) => capture.channels[match.channel]!),
    options.rateHz,
  );
  if (grid === undefined) {
    findings.push(
      finding(
        'bringup/no-alignment',
        'Too little changes in the capture to lay it on the clock.',
        'Put a channel on the clock, start the capture at the release of reset, and see that the machine runs at all.',
        {
          why:
            others.length === 0
              ? 'No channel is told its net.'
              : 'Fewer than 40 changes on the channels that are told their nets.',
        },
      ),
    );
    return { value: undefined, findings };
  }
  if (grid.samplesPerClock < LEAST_SAMPLES)
    findings.push(
      finding(
        'bringup/few-samples',
        `The capture has ${grid.samplesPerClock.toFixed(1)} samples a clock; fewer than ${LEAST_SAMPLES} lose levels.`,
        `Sample at ${hertz(Math.ceil(8 / grid.period / 1e6) * 1e6)} or more, or slow the clock down for the measurement.`,
        {
          why: 'Short strobes fall between samples, and a level that is read wrong looks like a fault.',
        },
      ),
    );
  if (grid.gaps.length > 0)
    findings.push(
      finding(
        'bringup/skipped-clocks',
        `The capture skips clocks in ${grid.gaps.length} place${grid.gaps.length === 1 ? '' : 's'}; how many is not known.`,
        'Nothing, unless the fault lies behind it; then record a shorter capture.',
      ),
    );
  const own = grid;
  let observed: Observed = {
    halves: own.edges.length - 1,
    sinceReset: null,
    firstHigh: own.firstHigh,
    times: own.edges.slice(1),
    nets: matches.map((match) => observeChannel(capture.channels[match.channel]!, match.inverted, match.net, own)),
    by: own.knowsHigh ? 'clock' : 'correlation',
    sure: Math.min(1, own.found * Math.min(1, own.samplesPerClock / LEAST_SAMPLES)),
    ...(own.gaps.length === 0 ? {} : { gaps: own.gaps }),
  };
  observed = countFromReset(observed, options.reset);
  if (observed.sinceReset === null)
    findings.push(
      finding(
        'bringup/no-reset',
        'The release of reset is not in the capture.',
        'Trigger on the release of reset if you can: what happens first is what tells most.',
        {
          why: 'The state of the machine at the start of the capture is not known, so its place has to be searched.',
        },
      ),
    );
  else if (!own.knowsHigh) observed = { ...observed, by: 'reset' };
  if (options.predicted !== undefined) observed = place(observed, options.predicted, own.knowsHigh);
  return { value: observed, findings };
}

function rateFinding(net: string, rate: number, nominal: number): Finding {
  const ratio = rate / nominal;
  const power = Math.round(Math.log10(ratio) / 3) * 3;
  const isUnit = power !== 0 && Math.abs(ratio / 10 ** power - 1) < 0.05;
  return finding(
    'bringup/clock-rate',
    `${net} swings at ${hertz(rate)} in the capture; the machine file says ${hertz(nominal)}.`,
    isUnit
      ? 'The unit of the time column is likely another one: write it into the heading.'
      : 'If the oscillator is another one, put its rate into the machine file: the margins depend on it.',
    {
      about: [net],
      why: isUnit
        ? `That is ${ratio > 1 ? 'faster' : 'slower'} by a factor of about 10 to the ${Math.abs(power)}.`
        : 'The capture is laid on the edges that are there; nothing else depends on the rate here.',
    },
  );
}

/** Counts half clocks from the longest run after a release of reset; what belongs to another run is cut off. */
function countFromReset(observed: Observed, reset: AlignOptions['reset']): Observed {
  const net = reset === undefined ? undefined : observed.nets.find((one) => foldName(one.net) === foldName(reset.net));
  if (net === undefined || reset === undefined) return observed;
  // Runs of one level; shorter ones than the debounce are glitches.
  const state = new Uint8Array(observed.halves);
  let now = 2;
  for (let h = 0; h < observed.halves; ) {
    if (net.known[h] !== 1) {
      state[h++] = now;
      continue;
    }
    let end = h;
    while (end < observed.halves && (net.known[end] !== 1 || net.level[end] === net.level[h])) end++;
    if (end - h >= DEBOUNCE || now === 2) now = net.level[h]!;
    state.fill(now, h, end);
    h = end;
  }
  let best = -1;
  let bestFrom = 0;
  let bestEnd = 0;
  let pressedAt = -1;
  for (let h = 0; h < observed.halves; h++) {
    const isActive = state[h] === reset.active;
    if (isActive && (h === 0 || state[h - 1] !== reset.active)) pressedAt = h;
    if (isActive || h === 0 || state[h - 1] !== reset.active) continue;
    let end = h;
    while (end < observed.halves && state[end] !== reset.active) end++;
    if (end - h > bestEnd - best || best < 0) {
      best = h;
      bestFrom = Math.max(0, pressedAt);
      bestEnd = end;
    }
  }
  if (best < 0) return observed;
  return { ...cut(observed, bestFrom, bestEnd), sinceReset: bestFrom - best };
}

/** The entries from `from` up to `to`. */
function cut(observed: Observed, from: number, to: number): Observed {
  if (from === 0 && to === observed.halves) return observed;
  const gaps = (observed.gaps ?? []).filter((gap) => gap > from && gap < to).map((gap) => gap - from);
  const { gaps: _before, ...rest } = observed;
  return {
    ...rest,
    halves: to - from,
    firstHigh: (from & 1) === 0 ? observed.firstHigh : !observed.firstHigh,
    times: observed.times.slice(from, to),
    nets: observed.nets.map(({ net, level, known, strong }) => ({
      net,
      level: level.slice(from, to),
      known: known.slice(from, to),
      strong: strong.slice(from, to),
    })),
    ...(gaps.length === 0 ? {} : { gaps }),
  };
}

/** Takes from the prediction what the capture leaves open: which half is high, and in which clock reset counted. */
function place(observed: Observed, predicted: Predicted, knowsHigh: boolean): Observed {
  const found = findPlace(observed, predicted, knowsHigh);
  if (found === undefined) return knowsHigh ? observed : { ...observed, sure: observed.sure * 0.3 };
  const isHigh = (found.offset & 1) === 0 ? predicted.firstHigh : !predicted.firstHigh;
  const sure = knowsHigh ? observed.sure : observed.sure * Math.max(0.3, found.agreement * found.agreement);
  const sinceReset =
    observed.sinceReset === null || predicted.sinceReset === null
      ? observed.sinceReset
      : found.offset + predicted.sinceReset;
  return { ...observed, firstHigh: knowsHigh ? observed.firstHigh : isHigh, sinceReset, sure };
}
