// The power-on card of a stage: what to mind, how to set the supply, what current to expect and what to do when it isn't so.
// Figures come from the part records; where one is missing the card says so instead of adding up the rest as if it were all.

import { type Design, netlistAt, type NetPart } from '../netlist/index.ts';

export interface Current {
  /** mA; undefined where the record gives none. */
  readonly typMa: number | undefined;
  readonly maxMa: number | undefined;
  readonly source: string | undefined;
}

export interface CardSupply {
  readonly name: string;
  readonly volts: number;
  readonly leastVolts: number;
  readonly mostVolts: number;
}

export interface PowerCard {
  readonly stage: number;
  readonly name: string;
  /** What to mind, the most general first. */
  readonly cautions: readonly string[];
  readonly supplies: readonly CardSupply[];
  readonly expected: {
    /** mA; the sum of typical figures, undefined where any part lacks one. */
    readonly typMa: number | undefined;
    readonly maxMa: number | undefined;
    /** Parts whose record gives no figure. */
    readonly unknown: readonly string[];
    readonly parts: readonly {
      readonly part: string;
      readonly typMa: number | undefined;
      readonly maxMa: number | undefined;
      readonly source: string | undefined;
    }[];
    /** What the sum leaves out. */
    readonly note: string;
  };
  /** Where to set the current limit, mA, and why. */
  readonly limit: { readonly mA: number | undefined; readonly why: string };
  readonly ifNot: readonly { readonly seen: string; readonly remedy: string }[];
  /** What this stage must show once it is on. */
  readonly proofs: readonly { readonly given: string; readonly expect: string }[];
}

/** A part's own supply current as its record states it, for its grade first. */
export function currentOf(part: NetPart): Current {
  const figures = part.record.grades?.[part.grade ?? '']?.current ?? part.record.current;
  return { typMa: figures?.typ, maxMa: figures?.max, source: figures?.source };
}

/** Parts that draw a supply current of their own: those with a supply pin. */
const drawsCurrent = (part: NetPart): boolean => part.record.pins.some((pin) => (pin.kind as string) === 'supply');

const ROOM_FACTOR = 1.5;
const ROOM_MA = 50;

/** The card of a stage (from 1). `current` may replace the records' figures, as by an analysis that knows loads and clocks. */
export function powerCard(
  design: Design,
  stage: number,
  current: (part: NetPart) => Current = currentOf,
): PowerCard | undefined {
  const info = design.stages[stage - 1];
  if (info === undefined) return undefined;
  const netlist = netlistAt(design, stage);
  const before = new Set(netlistAt(design, stage - 1).parts.map((part) => part.name));
  const added = netlist.parts.filter((part) => !before.has(part.name));
  const figures = netlist.parts.filter(drawsCurrent).map((part) => {
    const { typMa, maxMa, source } = current(part);
    return { part: part.name, typMa, maxMa, source };
  });
  const unknown = figures
    .filter((item) => item.typMa === undefined && item.maxMa === undefined)
    .map((item) => item.part);
  const total = (pick: 'typMa' | 'maxMa'): number | undefined =>
    figures.every((item) => item[pick] !== undefined)
      ? Number(figures.reduce((sum, item) => sum + item[pick]!, 0).toPrecision(6))
      : undefined;
  // A part that states only one of the two stands with that one in the sum for the limit.
  const atMost = figures.reduce((sum, item) => sum + (item.maxMa ?? item.typMa ?? 0), 0);
  const supplies = design.supplies.map((supply) => ({
    name: supply.name,
    volts: supply.volts,
    leastVolts: Number((supply.volts * (1 - supply.tolerance)).toPrecision(6)),
    mostVolts: Number((supply.volts * (1 + supply.tolerance)).toPrecision(6)),
  }));
  const declared = design.supplies.reduce<number | undefined>(
    (sum, supply) => (supply.limitAmps === undefined ? sum : (sum ?? 0) + supply.limitAmps * 1000),
    undefined,
  );
  const room = Math.ceil((atMost * ROOM_FACTOR + ROOM_MA) / 10) * 10;
  const mA = declared === undefined ? room : Math.min(declared, room);
  const limit =
    unknown.length > 0
      ? {
          mA: declared,
          why: `${unknown.join(', ')} ${unknown.length === 1 ? 'gives' : 'give'} no current in the record, so ${
            declared === undefined
              ? 'no limit can be worked out: look it up first'
              : 'only the limit in the machine file can be named'
          }.`,
        }
      : {
          mA,
          why:
            declared !== undefined && declared < room
              ? 'The limit in the machine file; less than one and a half times the greatest sum.'
              : `One and a half times the greatest sum and ${ROOM_MA} mA for loads (common practice, no source).`,
        };
  return {
    stage,
    name: info.name,
    cautions: cautionsOf(design, stage, added, info.decl.programs.length > 0),
    supplies,
    expected: {
      typMa: total('typMa'),
      maxMa: total('maxMa'),
      unknown,
      parts: figures,
      note: 'The parts’ own currents; LEDs, pull-ups and what outputs feed come on top.',
    },
    limit,
    ifNot: [
      {
        seen: 'the limit is reached at once',
        remedy:
          'Off at once. Feel for a hot chip: it is reversed or fighting another. Then polarity, rails, and the meter plan again.',
      },
      {
        seen: 'far more than expected, below the limit',
        remedy:
          'Off. A chip turned round, two outputs on one net, or a supply wire in the wrong strip; take out what this stage added and try again.',
      },
      {
        seen: 'nothing, or far less than expected',
        remedy:
          'Measure the supply at each chip’s own pins: a rail that isn’t bridged at its break, or a missing ground.',
      },
      {
        seen: 'the voltage sags',
        remedy: 'Measure at the entry and at the far end: thin or long feeds, or the limit is in force.',
      },
    ],
    proofs: info.decl.prove.map((proof) => ({
      given: proof.given.map((term) => `${term.key}: ${term.value}`).join(', '),
      expect: proof.expect.map((term) => (term.value === '' ? term.key : `${term.key}: ${term.value}`)).join(', '),
    })),
  };
}

/** The cautions that this stage calls for. Wording ours; their substance is common bench practice. */
function cautionsOf(design: Design, stage: number, added: readonly NetPart[], programs: boolean): string[] {
  const has = (test: (part: NetPart) => boolean): boolean => added.some(test);
  const symbol = (part: NetPart): string => (part.record.symbol as string | undefined) ?? 'chip';
  const category = (part: NetPart): string => part.record.category as string;
  const chips = has((part) => ['chip', 'can'].includes(symbol(part)) && category(part) !== 'connector');
  const list = [
    'Local electrical rules, and for mains work a licensed person, come first.',
    'Use an isolated, current-limited supply; never open one that is fed from the mains.',
  ];
  if (stage === 1 || chips) list.push('Check the polarity with a meter before a chip goes in.');
  list.push(
    'Power off before moving chips, wires or leads: a chip without supply feeds itself through its inputs.',
    'A chip that is hot to the touch is reversed or fighting another: switch off.',
  );
  if (stage === 1 || has((part) => category(part) === 'connector' || category(part) === 'supply'))
    list.push('Never join a USB supply and the bench supply.');
  if (has((part) => symbol(part) === 'electrolytic'))
    list.push('Electrolytic capacitors burst when reversed: the stripe is minus.');
  if (chips) list.push('Discharge yourself before handling CMOS.');
  if (programs) {
    list.push(
      'Mind the programming voltage: it may be far above 5 V. Never program in place unless the part is made for it.',
    );
    if (design.netlists.some((netlist) => netlist.parts.some((part) => /^27/.test(part.type))))
      list.push('Hold the eraser lamp’s UV away from eyes and skin.');
  }
  if (design.supplies.some((supply) => Math.abs(supply.volts) > 6))
    list.push('More than 5 V is about: keep it off every logic pin.');
  const own = new Set<string>();
  // One caution of several parts is said once; many of one kind are counted.
  const byText = new Map<string, string[]>();
  for (const part of added)
    for (const text of part.record.cautions ?? []) byText.set(text, [...(byText.get(text) ?? []), part.name]);
  for (const [text, names] of byText)
    own.add(
      `${names.length > 4 ? `${names.slice(0, 2).join(', ')} and ${names.length - 2} more` : names.join(', ')}: ${text}`,
    );
  return [...list, ...own];
}
