// Which channel shows which net: as it was told by hand and remembered, by the leads that the stage's steps clip on, by name.
// By shape comes later, when the capture lies on the clock (shape.ts).

import { type Finding, foldName, type Result } from '../../base/index.ts';
import type { Capture, ChannelMatch } from '../model.ts';
import { finding } from './find.ts';
import { bareName, netsNamed, runningNumbers } from './names.ts';

/** One channel's net as told by hand. `net` is null where the channel is to be left out. */
export interface ToldChannel {
  readonly channel: string;
  readonly net: string | null;
  readonly inverted?: boolean;
}

/** A lead of an instrument on a net. */
export interface Lead {
  readonly pod: string;
  /** Position in the pod, from 0. */
  readonly channel: number;
  readonly net: string;
}

export interface MatchOptions {
  /** Nets of the machine at the stage. */
  readonly nets: readonly string[];
  /** Leads of the stage, in the order of pods. */
  readonly leads: readonly Lead[];
  /** What was told before, by the channel's name. */
  readonly told: readonly ToldChannel[];
}

/** Tells channels their nets; at most one channel for a net and one net for a channel. */
export function matchChannels(
  capture: Pick<Capture, 'channels'>,
  options: MatchOptions,
): Result<readonly ChannelMatch[]> {
  const names = capture.channels.map(({ name }) => name);
  const findings: Finding[] = [];
  const matches = new Map<number, ChannelMatch>();
  const taken = new Set<string>();
  const left = new Set<number>(names.keys());
  const byFold = new Map(options.nets.map((net) => [foldName(net), net]));
  const put = (match: ChannelMatch): void => {
    if (!left.has(match.channel) || taken.has(foldName(match.net))) return;
    matches.set(match.channel, match);
    taken.add(foldName(match.net));
    left.delete(match.channel);
  };
  for (const { channel, net, inverted } of options.told) {
    const at = names.findIndex((name, k) => left.has(k) && foldName(name) === foldName(channel));
    if (at < 0) continue;
    if (net === null) {
      left.delete(at);
      continue;
    }
    const known = byFold.get(foldName(net));
    if (known === undefined)
      findings.push(
        finding(
          'bringup/unknown-net',
          `Channel ${channel} was told to show ${net}, and this stage has no such net.`,
          'Tell the channel its net again.',
          { about: [net] },
        ),
      );
    else put({ channel: at, net: known, inverted: inverted === true, how: 'hand' });
  }
  const running = runningNumbers(names);
  const byName = names.map((name) => netsNamed(name, options.nets));
  // D0 to D15 of an instrument are no data lines, though D0 to D7 of a machine are: names that run on past the machine's own, or
  // where the leads say otherwise, are numbers of channels.
  const named = byName.filter((list) => list.length > 0).length;
  const leadsSay = options.leads.length > 0 && options.leads.length >= names.length;
  const isNumbered =
    running !== undefined && (named < names.length || (leadsSay && !sameNets(byName, options.leads, running)));
  if (isNumbered && options.leads.length > 0)
    for (const k of [...left]) {
      const lead = options.leads[running[k]!];
      const net = lead === undefined ? undefined : byFold.get(foldName(lead.net));
      if (net !== undefined) put({ channel: k, net, inverted: false, how: 'lead' });
    }
  for (const k of [...left]) {
    const lead = leadOf(names[k]!, options.leads);
    const net = lead === undefined ? undefined : byFold.get(foldName(lead.net));
    if (net !== undefined) put({ channel: k, net, inverted: false, how: 'lead' });
  }
  if (!isNumbered)
    for (const k of [...left]) {
      const nets = byName[k]!.filter((net) => !taken.has(foldName(net)));
      if (nets.length === 1) {
        const net = nets[0]!;
        // The opposite mark on a net that has no other form: a name all the same, and the polarity is the machine's.
        put({ channel: k, net, inverted: false, how: 'name' });
      } else if (nets.length > 1)
        findings.push(
          finding(
            'bringup/channel-ambiguous',
            `Channel ${names[k]} could be ${nets.join(' or ')}.`,
            'Tell it its net by hand; that is kept for the next capture.',
            { about: nets },
          ),
        );
    }
  for (const k of left) {
    if (findings.some(({ message }) => message.startsWith(`Channel ${names[k]} could`))) continue;
    findings.push(
      finding(
        'bringup/channel-unmatched',
        `Nothing says which net channel ${names[k]} shows.`,
        'Tell it its net by hand, or leave it out; that is kept for the next capture.',
        { about: [names[k]!] },
      ),
    );
  }
  return { value: [...matches.values()].sort((a, b) => a.channel - b.channel), findings };
}

function sameNets(byName: readonly (readonly string[])[], leads: readonly Lead[], running: readonly number[]): boolean {
  return byName.every((nets, k) => {
    const lead = leads[running[k]!];
    return lead !== undefined && nets.some((net) => foldName(net) === foldName(lead.net));
  });
}

/** The lead that a name such as `pod 2.3`, `Pod2-D3` or `2:3` tells. */
function leadOf(name: string, leads: readonly Lead[]): Lead | undefined {
  const match = /^(.*?\d)\s*[.:\-_/ ]\s*(?:ch|channel|d|bit)?\s*(\d{1,3})$/i.exec(name.trim());
  if (match === null) return undefined;
  const pod = bareName(match[1]!).base;
  return leads.find(
    (lead) =>
      lead.channel === Number(match[2]) && (bareName(lead.pod).base === pod || bareName(lead.pod).base === `pod${pod}`),
  );
}
