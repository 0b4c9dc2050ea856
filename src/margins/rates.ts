// How fast each net of a machine beats: from cans, crystals, generators and stated clocks, through gates and dividers, as wired.
// A divider's ratio comes from stepping its described behaviour; nothing is known of a part that only names a model.

import { foldName, parseValue } from '../base/index.ts';
import { type Design, type Netlist, netlistAt, type NetPart, type NetPin } from '../netlist/index.ts';
import { pinsNamed, type PlainPart, plainPart } from '../parts/index.ts';

/** A net that beats. */
export interface Rate {
  readonly hz: number;
  /** Part of a period that it is high, at least and at most; null where nobody says. */
  readonly dutyMin: number | null;
  readonly dutyMax: number | null;
  /** The way it comes, in words: `OSC, through DIVIDER by 8`. */
  readonly from: string;
}

/** Periods that a divider is stepped for; an output that is slower than that stays unknown. */
const MOST_PERIODS = 1100;

/** Rates by net id, as of a stage. */
export function ratesOf(design: Design, stage: number): ReadonlyMap<number, Rate> {
  const netlist = netlistAt(design, stage);
  const rates = new Map<number, Rate>();
  const put = (net: number | undefined, rate: Rate): void => {
    if (net !== undefined && net >= 0 && netlist.nets[net]!.kind === 'signal' && !rates.has(net)) rates.set(net, rate);
  };
  const pinOf = (part: NetPart, name: string | undefined): NetPin | undefined => {
    if (name === undefined) return undefined;
    const names = new Set(pinsNamed(part.record, name).map((row) => row.name));
    return part.pins.map((id) => netlist.pins[id]!).find((pin) => names.has(pin.name));
  };
  const fact = (part: NetPart, name: string): number | undefined => {
    const value = part.record.facts?.[name];
    return typeof value === 'number' ? value : undefined;
  };
  const share = (percent: number | undefined): number | null => (percent === undefined ? null : percent / 100);

  for (const part of netlist.parts) {
    const { symbol } = part.record;
    if (symbol !== 'can' && symbol !== 'crystal') continue;
    const hz = part.value === undefined ? fact(part, 'hertz') : parseValue(part.value, 'frequency');
    if (hz === undefined) continue;
    for (const id of part.pins) {
      const pin = netlist.pins[id]!;
      if (symbol === 'crystal' || pin.kind === 'output')
        put(pin.net, {
          hz,
          dutyMin: share(fact(part, 'duty-min-percent')),
          dutyMax: share(fact(part, 'duty-max-percent')),
          from: part.name,
        });
    }
  }
  const byName = new Map(netlist.nets.map((net) => [foldName(net.name), net.id]));
  for (const clock of design.clocks) {
    const net = clock.net === undefined ? undefined : byName.get(foldName(clock.net));
    const known = net === undefined ? undefined : rates.get(net);
    if (net !== undefined && known !== undefined && clock.duty !== undefined)
      rates.set(net, { ...known, dutyMin: clock.duty, dutyMax: clock.duty });
    put(net, {
      hz: clock.rateHz,
      dutyMin: clock.duty ?? null,
      dutyMax: clock.duty ?? null,
      from: `as stated, ${clock.name}`,
    });
  }
  // Each round passes one part further on.
  for (let round = 0; round < 12; round++) {
    const before = rates.size;
    for (const part of netlist.parts) {
      const source = (names: readonly string[]): Rate | undefined => {
        for (const name of names) {
          const net = pinOf(part, name)?.net ?? -1;
          const rate = net < 0 ? undefined : rates.get(net);
          if (rate !== undefined) return rate;
        }
        return undefined;
      };
      const divided = (
        rate: Rate | undefined,
        by: number | undefined,
        pins: readonly (string | undefined)[],
        duty: number | null,
      ): void => {
        if (rate === undefined || by === undefined) return;
        for (const name of pins)
          put(pinOf(part, name)?.net, {
            hz: rate.hz / by,
            dutyMin: duty,
            dutyMax: duty,
            from: `${rate.from}, through ${part.name} by ${by}`,
          });
      };
      const crystal = source(['X1', 'X2', 'EFI']);
      divided(crystal, fact(part, 'crystal-divided-by'), ['CLK'], 1 / 3);
      divided(crystal, fact(part, 'pclk-divided-by'), ['PCLK'], 0.5);
      const bus = part.record.bus;
      if (bus?.role === 'processor' && bus.signals?.clock !== undefined)
        divided(
          source([bus.signals.clock]),
          fact(part, 'clock-divided-by'),
          [bus.signals.e, bus.signals.q, bus.signals['clock-out']],
          0.5,
        );
      passOn(netlist, part, rates, put);
    }
    if (rates.size === before) break;
  }
  return rates;
}

const plain = new WeakMap<object, PlainPart | null>();

function plainOf(part: NetPart): PlainPart | undefined {
  const known = plain.get(part.record);
  if (known !== undefined) return known ?? undefined;
  const made = plainPart(part.record);
  plain.set(part.record, made ?? null);
  return made;
}

/** What a part makes of a clock: periods of its input in one of each output, and how many of them it is high. */
type Ratios = ReadonlyMap<string, { readonly by: number; readonly high: number; readonly isInverse: boolean }>;
const stepped = new WeakMap<object, Map<string, Ratios>>();

function passOn(
  netlist: Netlist,
  part: NetPart,
  rates: ReadonlyMap<number, Rate>,
  put: (net: number, rate: Rate) => void,
): void {
  if (part.record.category !== 'logic' && part.record.category !== 'clock') return;
  const pins = part.pins.map((id) => netlist.pins[id]!);
  const outputs = pins.filter((pin) => pin.kind === 'output' && pin.net >= 0 && !rates.has(pin.net));
  if (outputs.length === 0) return;
  const clocks = new Set(pins.filter((pin) => pin.kind === 'input' && rates.has(pin.net)).map((pin) => pin.net));
  for (const net of clocks) {
    const rate = rates.get(net)!;
    // A ripple of counters in one package: each input that beats is tried by itself, outputs of its own are fed back.
    const ratios = ratiosOf(netlist, part, pins, net);
    for (const pin of outputs) {
      const ratio = ratios.get(pin.name);
      if (ratio === undefined) continue;
      const through = ratio.by === 1 ? `through ${part.name}` : `through ${part.name} by ${ratio.by}`;
      const isPlain = ratio.by === 1;
      const duty = ratio.high / ratio.by;
      put(pin.net, {
        hz: rate.hz / ratio.by,
        dutyMin: isPlain ? (ratio.isInverse ? less(rate.dutyMax) : rate.dutyMin) : duty,
        dutyMax: isPlain ? (ratio.isInverse ? less(rate.dutyMin) : rate.dutyMax) : duty,
        from: `${rate.from}, ${through}`,
      });
    }
  }
}

const less = (duty: number | null): number | null => (duty === null ? null : 1 - duty);

/** Steps a part's behaviour with one net beating, ties as wired, its own outputs fed back where they return to it. */
function ratiosOf(netlist: Netlist, part: NetPart, pins: readonly NetPin[], clock: number): Ratios {
  const own = new Map(pins.filter((pin) => pin.kind === 'output' && pin.net >= 0).map((pin) => [pin.net, pin.name]));
  const role = (pin: NetPin): string => {
    if (pin.net < 0) return '0';
    if (pin.net === clock) return 'c';
    const { kind } = netlist.nets[pin.net]!;
    return kind === 'supply' ? '1' : kind === 'ground' ? '0' : own.has(pin.net) ? `=${own.get(pin.net)}` : '?';
  };
  const inputs = pins.filter((pin) => pin.kind === 'input');
  const key = inputs.map((pin) => `${pin.name}${role(pin)}`).join(' ');
  let byKey = stepped.get(part.record);
  if (byKey === undefined) {
    byKey = new Map();
    stepped.set(part.record, byKey);
  }
  const known = byKey.get(key);
  if (known !== undefined) return known;
  const behaviour = plainOf(part);
  const found = new Map<string, { by: number; high: number; isInverse: boolean }>();
  if (behaviour !== undefined) {
    // What is neither tied nor fed back is held idle: first low, then high; the one at which an output moves is the idle one.
    const wanted = new Set(pins.filter((pin) => pin.kind === 'output' && pin.net >= 0).map((pin) => pin.name));
    for (const idle of [0, 1] as const)
      for (const [name, ratio] of beat(
        behaviour,
        inputs.map((pin) => [pin.name, role(pin)] as const),
        idle,
        wanted,
      ))
        if (!found.has(name)) found.set(name, ratio);
  }
  byKey.set(key, found);
  return found;
}

function beat(
  part: PlainPart,
  roles: readonly (readonly [string, string])[],
  idle: 0 | 1,
  wanted: ReadonlySet<string>,
): ReadonlyMap<string, { by: number; high: number; isInverse: boolean }> {
  let state = Object.fromEntries(part.behaviour.state.map((name) => [name, 0 as const])) as ReturnType<
    PlainPart['step']
  >;
  let drives: ReturnType<PlainPart['drive']> = {};
  const levels = (clock: 0 | 1): Record<string, 0 | 1> =>
    Object.fromEntries(
      roles.map(([name, role]) => [
        name,
        role === 'c'
          ? clock
          : role === '1'
            ? 1
            : role === '0'
              ? 0
              : role.startsWith('=')
                ? drives[role.slice(1)] === 1
                  ? 1
                  : 0
                : idle,
      ]),
    );
  drives = part.drive(state, levels(0));
  let before = levels(0);
  const rises = new Map<string, number[]>();
  // Half periods that an output is high: in the making since its last rise, and of the last whole period.
  const highs = new Map<string, number>();
  const high = new Map<string, number>();
  const last = new Map<string, unknown>();
  const follows = new Map<string, boolean>();
  for (let half = 0; half < 2 * MOST_PERIODS; half++) {
    const clock = half % 2 === 0 ? 1 : 0;
    const now = levels(clock);
    state = part.step(state, before, now);
    drives = part.drive(state, now);
    before = now;
    let isDone = true;
    for (const name of wanted) {
      const level = drives[name];
      const list = rises.get(name) ?? [];
      rises.set(name, list);
      if (list.length < 3 && level === 1 && last.get(name) === 0) {
        list.push(half);
        if (list.length > 1) high.set(name, highs.get(name) ?? 0);
        follows.set(name, clock === 1);
      }
      if (list.length > 0 && list.at(-1) === half) highs.set(name, 0);
      if (list.length > 0 && list.length < 3 && level === 1) highs.set(name, (highs.get(name) ?? 0) + 1);
      if (list.length < 3 && !(half > 64 && list.length === 0 && part.behaviour.state.length === 0)) isDone = false;
      last.set(name, level);
    }
    if (isDone) break;
  }
  const found = new Map<string, { by: number; high: number; isInverse: boolean }>();
  for (const [name, list] of rises) {
    // The last of two equal periods where there is time for them, else the only one.
    if (list.length < 2) continue;
    const by = (list.at(-1)! - list.at(-2)!) / 2;
    found.set(name, { by, high: (high.get(name) ?? 0) / 2, isInverse: follows.get(name) === false });
  }
  return found;
}
