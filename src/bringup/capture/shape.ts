// Channels told by what they show: a capture that lies on the prediction tells which net an unnamed channel is on, which probe is
// inverted and which two are exchanged. What could as well be a wrong wire is said as that.

import type { Finding, Result } from '../../base/index.ts';
import { foldName } from '../../base/index.ts';
import type { Capture, ChannelMatch, Observed, ObservedNet, Predicted } from '../model.ts';
import { findPlace } from './compare.ts';
import { finding } from './find.ts';
import type { Grid } from './grid.ts';
import { observeChannel } from './observe.ts';

/** Half clocks after reset that are compared: a faulty machine soon goes another way. */
const STRETCH = 3000;
/** Share of half clocks that must agree, and changes there must be, before a shape tells anything. */
const AGREES = 0.985;
const LEAST_CHANGES = 6;

interface Fit {
  readonly agreement: number;
  readonly compared: number;
  readonly changes: number;
}

function fitOf(seen: ObservedNet, told: Uint8Array, offset: number, from: number, to: number): Fit {
  let compared = 0;
  let agreeing = 0;
  let changes = 0;
  let last = 2;
  for (let h = Math.max(from, -offset); h < to && h + offset < told.length; h++) {
    const want = told[h + offset]!;
    if (want > 1 || seen.strong[h] !== 1) continue;
    compared++;
    if (want === seen.level[h]) agreeing++;
    if (last !== 2 && want !== last) changes++;
    last = want;
  }
  return { agreement: compared === 0 ? 0 : agreeing / compared, compared, changes };
}

/** The matches with what shapes tell, and what is to be said about it. */
export function matchByShape(
  capture: Capture,
  matches: readonly ChannelMatch[],
  observed: Observed,
  predicted: Predicted,
): Result<readonly ChannelMatch[]> {
  const findings: Finding[] = [];
  const out = [...matches];
  const offset = findPlace(observed, predicted)?.offset;
  if (offset === undefined) return { value: out, findings };
  const from = Math.max(0, -(observed.sinceReset ?? 0), -offset);
  const to = Math.min(observed.halves, from + STRETCH, predicted.halves - offset, ...(observed.gaps ?? []));
  const grid = gridOf(observed);
  const fits = new Map<number, { readonly seen: ObservedNet; readonly own: Fit | undefined }>();
  const told = new Map(predicted.nets.map((net) => [foldName(net.net), net]));
  const matched = new Map(out.map((match) => [match.channel, match]));
  capture.channels.forEach((channel, k) => {
    const match = matched.get(k);
    const seen = observeChannel(channel, match?.inverted ?? false, match?.net ?? '', grid);
    const want = match === undefined ? undefined : told.get(foldName(match.net));
    fits.set(k, { seen, own: want === undefined ? undefined : fitOf(seen, want.level, offset, from, to) });
  });
  // The rest must fit, or the shapes of a machine that goes wrong from the start are taken for probes.
  const isWrong = (fit: Fit | undefined): boolean => fit !== undefined && fit.compared > 100 && fit.agreement < 0.8;
  const wrong = out.filter((match) => isWrong(fits.get(match.channel)?.own));
  const right = out.filter((match) => (fits.get(match.channel)?.own?.agreement ?? 0) >= AGREES);
  const isMostlyRight = right.length >= 2 && right.length >= out.length - wrong.length - 1;
  const replace = (before: ChannelMatch, after: ChannelMatch): void => {
    out[out.indexOf(before)] = after;
  };
  if (isMostlyRight) {
    const settled = new Set<ChannelMatch>();
    for (const match of wrong) {
      const { own } = fits.get(match.channel)!;
      if (own === undefined || 1 - own.agreement < AGREES || own.changes < LEAST_CHANGES) continue;
      settled.add(match);
      replace(match, { ...match, inverted: !match.inverted });
      findings.push(
        finding(
          'bringup/probe-inverted',
          `Channel ${capture.channels[match.channel]!.name} shows the opposite of ${match.net}; it is read turned over.`,
          'Look at the setting of that channel. If it is not inverted there, the net itself is: tell the channel so by hand.',
          { about: [match.net] },
        ),
      );
    }
    for (const one of wrong) {
      if (settled.has(one)) continue;
      const other = wrong.find((candidate) => {
        if (candidate === one || settled.has(candidate)) return false;
        const a = fitOf(fits.get(one.channel)!.seen, told.get(foldName(candidate.net))!.level, offset, from, to);
        const b = fitOf(fits.get(candidate.channel)!.seen, told.get(foldName(one.net))!.level, offset, from, to);
        return a.agreement >= AGREES && b.agreement >= AGREES && a.changes + b.changes >= LEAST_CHANGES;
      });
      if (other === undefined) continue;
      settled.add(one);
      settled.add(other);
      replace(one, { ...one, net: other.net });
      replace(other, { ...other, net: one.net });
      findings.push(
        finding(
          'bringup/probes-exchanged',
          `Channels ${capture.channels[one.channel]!.name} and ${capture.channels[other.channel]!.name} show each other's nets, ${one.net} and ${other.net}; they are read exchanged.`,
          'Follow both leads to their holes. If they are where they belong, the two wires are exchanged, not the leads: tell the channels by hand.',
          { about: [one.net, other.net], why: 'All other channels fit, so the machine itself seems to run right.' },
        ),
      );
    }
  }
  // Channels that nobody named: the one net that fits, if only one does.
  const taken = new Set(out.map((match) => foldName(match.net)));
  capture.channels.forEach((_, k) => {
    if (matched.has(k)) return;
    const { seen } = fits.get(k)!;
    const found = predicted.nets.flatMap(({ net, level }) => {
      if (taken.has(foldName(net))) return [];
      const fit = fitOf(seen, level, offset, from, to);
      if (fit.compared < 200 || fit.changes < LEAST_CHANGES) return [];
      const inverted = fit.agreement < 0.5;
      const agreement = inverted ? 1 - fit.agreement : fit.agreement;
      return agreement >= AGREES ? [{ net, inverted, agreement }] : [];
    });
    found.sort((a, b) => b.agreement - a.agreement);
    const [best, next] = found;
    if (best === undefined || (next !== undefined && best.agreement - next.agreement < 0.005)) return;
    taken.add(foldName(best.net));
    out.push({ channel: k, net: best.net, inverted: best.inverted, how: 'shape' });
  });
  return { value: out.sort((a, b) => a.channel - b.channel), findings };
}

/** The grid that an observation was made on. */
function gridOf(observed: Observed): Grid {
  const edges = new Float64Array(observed.halves + 1);
  edges.set(observed.times, 1);
  const step = observed.halves > 2 ? observed.times[2]! - observed.times[1]! : 0;
  edges[0] = observed.times[0]! - step;
  return {
    edges,
    firstHigh: observed.firstHigh,
    gaps: [],
    period: 2 * step,
    sample: 0,
    origin: null,
    samplesPerClock: 0,
    found: 1,
    knowsHigh: true,
  };
}
