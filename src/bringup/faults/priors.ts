// How often each kind of slip happens, before anything is measured. From 76 public reports of faults in computers on solderless
// boards (63 pages, read 2026-11, counts indicative): 6 bad contacts, 6 faulty parts, 5 missing wires (3 of them a ground),
// 5 floating inputs, 4 rails not bridged, 4 images not in the device, 4 exchanged or reversed lines, 3 turned chips, 2 missing
// pull-ups, 2 wire ends in another strip, 1 one hole aside, 1 bent pin; what the reports name too seldom to count (bridged strips,
// ties to the wrong rail, straps left in) is common practice, no source.

/** Kinds of slips. */
export const FAULT_CLASSES = [
  'wire-absent',
  'end-open',
  'end-aside',
  'ends-exchanged',
  'bus-reversed',
  'strips-bridged',
  'chip-aside',
  'chip-turned',
  'leg-bent',
  'rail-dead',
  'pull-up-missing',
  'tie-wrong-rail',
  'part-dead',
  'output-stuck',
  'device-blank',
  'device-other-image',
  'strap-left-in',
] as const;
export type FaultClass = (typeof FAULT_CLASSES)[number];

/** Share of each kind; they sum to 1. */
const SHARES: Readonly<Record<FaultClass, number>> = {
  'wire-absent': 0.19,
  'end-open': 0.09,
  'end-aside': 0.08,
  'ends-exchanged': 0.08,
  'bus-reversed': 0.03,
  'strips-bridged': 0.03,
  'chip-aside': 0.02,
  'chip-turned': 0.06,
  'leg-bent': 0.05,
  'rail-dead': 0.07,
  'pull-up-missing': 0.06,
  'tie-wrong-rail': 0.03,
  'part-dead': 0.04,
  'output-stuck': 0.05,
  'device-blank': 0.06,
  'device-other-image': 0.04,
  'strap-left-in': 0.02,
};

/** How many faults of this build weigh as much as the public reports together. */
const REPORTS_WEIGH = 12;

/** What a builder's own faults may be counted as; kinds the journal does not know are left out. */
export type FaultHistory = ReadonlyMap<FaultClass, number>;

/** Share of each kind for a build with a history of found faults: the reports count as twelve faults of its own. */
export function classShares(history?: FaultHistory): Readonly<Record<FaultClass, number>> {
  const shares = { ...SHARES };
  let found = 0;
  for (const count of history?.values() ?? []) found += count;
  for (const name of FAULT_CLASSES)
    shares[name] = (SHARES[name] * REPORTS_WEIGH + (history?.get(name) ?? 0)) / (REPORTS_WEIGH + found);
  return shares;
}

/** How the sentence of a found fault tells its kind; the sentences are those of `makeFaults`. */
const PHRASES: readonly (readonly [RegExp, FaultClass])[] = [
  [/makes no contact in/, 'end-open'],
  [/, the other rail, and not in/, 'tie-wrong-rail'],
  [/, one aside of/, 'end-aside'],
  [/ are exchanged/, 'ends-exchanged'],
  [/the wrong way round/, 'bus-reversed'],
  [/ touches /, 'strips-bridged'],
  [/stands one hole to the/, 'chip-aside'],
  [/is turned round/, 'chip-turned'],
  [/is in no contact with/, 'leg-bent'],
  [/^The wire .* from \d+:[tb][+-]\d+ to \d+:[tb][+-]\d+ is missing/, 'rail-dead'],
  [/^The wire .* is missing/, 'wire-absent'],
  [/ is missing/, 'pull-up-missing'],
  [/does nothing/, 'part-dead'],
  [/^The output .* stands/, 'output-stuck'],
  [/is not programmed/, 'device-blank'],
  [/ holds /, 'device-other-image'],
  [/is still in/, 'strap-left-in'],
];

/** The kinds of faults found in a build, from the sentences kept of them; a sentence in other words counts as none. */
export function historyOf(texts: readonly string[]): FaultHistory {
  const counts = new Map<FaultClass, number>();
  for (const text of texts) {
    const kind = PHRASES.find(([phrase]) => phrase.test(text))?.[1];
    if (kind !== undefined) counts.set(kind, (counts.get(kind) ?? 0) + 1);
  }
  return counts;
}
