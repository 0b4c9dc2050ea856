// Writes: the part's set-up, hold and pulse widths, and what it has to state of them.

import { type NetPart, type NetPin, viewOf } from '../../netlist/index.ts';
import { expandPins, pinsNamed } from '../../parts/index.ts';
import type { PartArc } from './arcs.ts';
import { type BusCycleCheck, isOwnHold } from './cycle-check.ts';
import { recoveryRows, switchRows } from './pause-rows.ts';
import type { Arrival } from './trace.ts';
import { arcNs, arcsIn } from './trace.ts';
import type { Requirement } from './row.ts';

/** All requirements of a write with one part. */
export function writeRows(check: BusCycleCheck, target: NetPart): Requirement[] {
  const { processor } = check.context;
  const side = check.dataSide(target);
  const listeners = side.pins.filter(({ pin }) => pin.kind === 'input' || pin.kind === 'bidirectional');
  if (side.pins.length === 0)
    return [check.open(target, 'data', `a way of data from ${processor.name} to ${target.name}`)];
  if (listeners.length === 0) return [];
  const dataNames = new Set(side.pins.map(({ pin }) => pin.name));
  const moved = check.moved(target, dataNames);
  const strobe = writeStrobe(check, target, moved);
  if (strobe === undefined) return [];
  const data = new Map(
    listeners.map(({ pin }) => [
      pin.name,
      {
        begin: check.tracer.arrivals(pin.net, 'begin', 'data'),
        end: check.tracer.arrivals(pin.net, 'end', 'data'),
      },
    ]),
  );
  if (strobe === 'none')
    return [
      check.open(target, 'write', `nothing of ${processor.name} is seen to write to ${target.name} in this cycle`),
    ];
  const rows = check.strobes(target, moved, data);
  const isData = (end: PartArc['from']): boolean => [...end.pins].some((name) => dataNames.has(name));
  const arcs = arcsIn(check.context, target);
  const has = (kind: string, test: (item: PartArc) => boolean): boolean =>
    arcs.some((item) => item.arc.kind === kind && arcNs(item.arc, 'min') !== null && test(item));
  const onStrobe = (end: PartArc['from']): boolean => end.pins.has(strobe.name);
  if (!has('setup', ({ from, to }) => isData(from) && onStrobe(to)))
    rows.push(check.open(target, 'data set-up', `set-up of data of ${target.name} to ${strobe.name}`));
  if (!has('hold', ({ arc, from, to }) => onStrobe(from) && isData(to) && !isOwnHold(arc)))
    rows.push(check.open(target, 'data hold', `hold of data of ${target.name} after ${strobe.name}`));
  if (!has('width', ({ from }) => onStrobe(from)))
    rows.push(check.open(target, 'write pulse', `width of ${strobe.name} of ${target.name}`));
  rows.push(...recoveryRows(check, target, moved), ...switchRows(check, target, moved, listeners));
  rows.push(...check.siblings(target, ['setup', 'hold', 'width'], moved, dataNames));
  rows.push(
    ...check.rules(
      target,
      moved,
      target.record.bus?.style === 'e-clock' ? target.record.bus.signals?.e : target.record.bus?.signals?.write,
    ),
  );
  return rows;
}

/** The pin that takes the data in: the write pin, or the clock of a latch; undefined where it is tied off. */
function writeStrobe(
  check: BusCycleCheck,
  target: NetPart,
  moved: readonly { readonly pin: NetPin; readonly begin: readonly Arrival[] }[],
): NetPin | 'none' | undefined {
  const bus = target.record.bus;
  const text =
    bus?.signals?.write ??
    (bus?.role === 'peripheral' ? bus.signals?.e : undefined) ??
    bus?.signals?.clock2 ??
    (bus?.role === 'latch' ? bus.signals?.clock : undefined) ??
    bus?.signals?.e;
  const names =
    text === undefined ? [] : expandPins(target.record, text).flatMap((name) => pinsNamed(target.record, name));
  const reached = moved.find(({ pin, begin }) => begin.length > 0 && names.some((row) => row.name === pin.name));
  if (reached !== undefined) return reached.pin;
  const pins = check.pinsOf(target).filter((pin) => names.some((row) => row.name === pin.name));
  const view = viewOf(check.context.netlist);
  const isTied = pins.length > 0 && pins.every((pin) => pin.net < 0 || view.nets[pin.net]!.net.kind !== 'signal');
  if (isTied || (pins.length === 0 && bus?.role === 'buffer')) return undefined;
  return 'none';
}
