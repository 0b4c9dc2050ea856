// Parts whose selects must be there before their strobes, on buses where the line that names the space falls together with the
// strobes: they are selected by the address alone, and strobes that have the space in them say when. Which parts those are
// follows from the timing in their records; which line of the machine file overrides it, from what it says of their strobe pins.

import { foldName } from '../../base/index.ts';
import type { MapDecl } from '../../machine/index.ts';
import type { PartRecord } from '../../parts/index.ts';
import type { Bus } from './bus-lines.ts';
import {
  type Context,
  type Instance,
  instancesOf,
  overlap,
  pinList,
  recordPin,
  type Stretch,
  statementsOf,
  stretchOf,
} from './context.ts';

/** The strobes that a part may have by its record: reads and writes, or the E of parts of that style. */
const STROBES = ['read', 'write', 'e'] as const;

/**
 * The strobes, with the space in them, of a part on this bus that is selected by the address alone; undefined where its select
 * says the space as those of other parts do.
 */
export function earlyStrobes(
  context: Context,
  bus: Bus,
  member: Instance,
  stretch: Stretch,
  entries: readonly MapDecl[],
): readonly string[] | undefined {
  if (bus.style.isSpaceLate === undefined || context.areSelectsLate || entries.length === 0) return undefined;
  const { record } = member.type;
  if (record.bus?.role !== 'peripheral' || !precedesStrobes(record)) return undefined;
  // A part that answers to reads only, or to writes only, at some address has that strobe in its select.
  if (entries.some((entry) => entry.access !== undefined)) return undefined;
  const prefix = entries[0]!.space === 'memory' ? 'memory' : 'io';
  const strobes: string[] = [];
  for (const key of STROBES) {
    const pin = record.bus.signals?.[key];
    if (pin === undefined) continue;
    const line = bus.style.lines[key === 'e' ? `${prefix}-e` : `${prefix}-${key}-alone`];
    if (line === undefined || 'signal' in line) return undefined;
    // Strobe pins that the machine file joins to something else leave the select to say the space.
    const stated = statementsOf(context, member, recordPin(record, pin), stretch)[0];
    if (stated !== undefined && foldName(stated.net ?? '') !== foldName(line.net)) return undefined;
    strobes.push(line.net);
  }
  return strobes;
}

/** Whether any member of the bus in this space is selected by the address alone in these stages. */
export function hasEarlySelects(context: Context, bus: Bus, space: MapDecl['space'], stretch: Stretch): boolean {
  return bus.decl.members
    .flatMap((ref) => instancesOf(context, ref.name, stretch))
    .some((member) => {
      const entries = entriesOf(context, bus, member, stretch);
      return entries[0]?.space === space && earlyStrobes(context, bus, member, stretch, entries) !== undefined;
    });
}

/** The entries of the maps for a member of this bus. */
export function entriesOf(context: Context, bus: Bus, member: Instance, stretch: Stretch): MapDecl[] {
  return context.machine.map.filter(
    (entry) =>
      foldName(entry.part.name) === foldName(member.name) &&
      overlap(stretchOf(context, entry.lifetime), stretch) &&
      (entry.bus === undefined || foldName(entry.bus.name) === foldName(bus.decl.name)),
  );
}

/** Whether the record asks for the selects, by any of its grades, before a strobe begins. A set-up time of 0 asks too. */
export function precedesStrobes(record: PartRecord): boolean {
  const { selects = [], signals = {} } = record.bus ?? {};
  const strobes = STROBES.flatMap((key) => pinList(signals[key]));
  // E begins every access to a part that has it, and its makers count the selects among the address.
  const early = [...selects, ...(signals.e === undefined ? [] : ['address'])];
  const arcs = [...(record.arcs ?? []), ...Object.values(record.grades ?? {}).flatMap((grade) => grade.arcs ?? [])];
  return arcs.some(
    ({ kind, from, to }) =>
      kind === 'setup' &&
      pinsOf(from).some((pin) => early.includes(pin)) &&
      pinsOf(to).some((pin) => strobes.includes(pin)) &&
      isBeginning(to, signals.e !== undefined),
  );
}

function pinsOf(text: string | undefined): string[] {
  return (text ?? '').split(',').map((part) => part.trim().replace(/^(?:rise|fall) /, ''));
}

/** Whether the edge begins an access: strobes for reads and writes are active low, E is active high. */
function isBeginning(to: string | undefined, isHigh: boolean): boolean {
  return (to ?? '').trimStart().startsWith(isHigh ? 'rise' : 'fall');
}
