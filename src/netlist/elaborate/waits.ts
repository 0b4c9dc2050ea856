// Wait states for slow parts: registers in a row count the clocks of an access, and the processor is held until the one that
// stands for the number of waits has come. Where it makes no sense on a bus, that is said.

import { foldName } from '../../base/index.ts';
import type { MapDecl } from '../../machine/index.ts';
import type { Origin } from '../model.ts';
import { type Bus, type Request, signalNet } from './bus-lines.ts';
import { type Context, netName, overlap, report, stretchOf } from './context.ts';

/**
 * Asks for the wait line and its registers where entries of the map want waits. A register follows the access, the next one
 * that register, and so on; the processor waits until register n + 1 is set for n waits, since it looks half a clock after the
 * first has been. All fall back with the access.
 */
export function makeWaits(context: Context, bus: Bus, requests: Request[]): void {
  const wanted = requests.filter(
    ({ select }) =>
      select?.regions.some((region) => region.decl.wait !== undefined && isOn(context, bus, region.decl)) === true,
  );
  const all = context.machine.map.filter((entry) => entry.wait !== undefined && isOn(context, bus, entry));
  if (all.length === 0) return;
  const unmade = all.filter(
    (entry) => !wanted.some(({ select }) => foldName(select!.part) === foldName(entry.part.name)),
  );
  const { wait } = bus.style;
  const line = wait === undefined ? undefined : signalNet(context, bus, wait.signal, [bus.processor]);
  const clock = signalNet(context, bus, 'clock', [bus.processor]);
  for (const entry of line === undefined || clock === undefined ? all : unmade)
    report(
      context,
      'netlist/no-wait-derived',
      'error',
      line === undefined || clock === undefined
        ? `Waits of ${bus.processor.type.name} are not derived, so ${entry.part.name} gets none.`
        : `${entry.part.name} has no select of its own to wait by.`,
      entry.span,
      {
        help: 'Make the line under `logic`, and leave `wait` out of the map.',
        about: [entry.part.name],
      },
    );
  if (line === undefined || clock === undefined || wanted.length === 0) return;
  // By number of waits: when such a part is addressed.
  const conditions = new Map<number, string[]>();
  for (const { net, select } of wanted) {
    const active = `${select!.activeLow ? '~' : ''}${net}`;
    const condition = select!.cycle === undefined ? active : `(${active} & ${select!.cycle})`;
    const waits = Math.max(...select!.regions.map((region) => region.decl.wait ?? 0));
    conditions.set(waits, [...(conditions.get(waits) ?? []), condition]);
  }
  const most = Math.max(...conditions.keys());
  const access = [...conditions.values()].flat().join(' | ');
  const parts = wanted.map(({ select }) => select!.part).join(', ');
  const origin: Origin = {
    by: 'bus',
    span: all[0]!.span,
    text: `bus ${bus.decl.name}: wait states for ${parts}`,
  };
  const common = {
    origin,
    decoders: bus.decl.selects.map((select) => select.name),
    during: stretchOf(context, bus.decl.lifetime),
    ...bus.stretch,
  };
  const name = (k: number): string => netName(context, `waited-${k}`);
  for (let k = 1; k <= most + 1; k++)
    requests.push({
      ...common,
      net: name(k),
      formula: k === 1 ? access : `(${access}) & ${name(k - 1)}`,
      clock,
    });
  const held = [...conditions].map(([waits, list]) => `(${list.join(' | ')}) & ~${name(waits + 1)}`);
  requests.push({ ...common, net: line, formula: `~(${held.map((one) => `(${one})`).join(' | ')})` });
}

function isOn(context: Context, bus: Bus, entry: MapDecl): boolean {
  return (
    (entry.bus === undefined || foldName(entry.bus.name) === foldName(bus.decl.name)) &&
    bus.decl.members.some((member) => foldName(member.name) === foldName(entry.part.name)) &&
    overlap(stretchOf(context, entry.lifetime), bus.stretch)
  );
}
