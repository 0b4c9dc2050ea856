// What the simulator is given: the machine as it is wired at a stage (read back from the boards' holes) or as it is meant (the
// netlist), with the rates, images and fuses of that stage.

import { type Finding, foldName, parseValue } from '../base/index.ts';
import { extract, type Layout, stripOfHole } from '../board/index.ts';
import { explainFuses } from '../decode/index.ts';
import { readJesd3 } from '../format/jesd3/index.ts';
import { type Design, type Netlist, netlistAt } from '../netlist/index.ts';
import type { SimContents, SimLogic, SimNet, SimNetlist, SimPart } from '../sim/index.ts';
import type { Build } from './build.ts';
import { revisionAt } from './decode.ts';

export interface SimInput {
  readonly netlist: SimNetlist;
  readonly contents: SimContents;
  readonly findings: readonly Finding[];
  /** Read from the boards, or from the netlist where there is no layout. */
  readonly from: 'boards' | 'netlist';
}

/** The machine of a build as of a stage. `images` gives the bytes of a part, or undefined. */
export function simInput(
  build: Build,
  stage: number,
  options: {
    readonly from?: 'boards' | 'netlist';
    readonly images?: ReadonlyMap<string, Uint8Array>;
    readonly seed?: number;
    readonly floating?: 0 | 1 | 'X';
  } = {},
): SimInput {
  const design = build.design();
  const netlist = netlistAt(design, stage);
  const layout = build.layout().value;
  const isWired = layout !== undefined && options.from !== 'netlist';
  const parts = simParts(build, design, netlist);
  const logic = new Map<string, SimLogic>();
  const findings: Finding[] = [];
  for (const part of netlist.parts) {
    if (part.record.category !== 'logic-device') continue;
    const found = logicOf(build, part.name, stage);
    if (found !== undefined) logic.set(part.name, found);
  }
  return {
    netlist: { parts, nets: isWired ? wiredNets(layout, netlist, stage) : meantNets(netlist) },
    contents: {
      logic,
      flipFlops: 'random',
      ...(options.images === undefined ? {} : { images: options.images }),
      ...(options.seed === undefined ? {} : { seed: options.seed }),
      ...(options.floating === undefined ? {} : { floating: options.floating }),
    },
    findings,
    from: isWired ? 'boards' : 'netlist',
  };
}

function simParts(build: Build, design: Design, netlist: Netlist): SimPart[] {
  const decls = new Map(build.project.machine().value.parts.map((part) => [foldName(part.name), part]));
  return netlist.parts.map((part): SimPart => {
    const rate =
      decls.get(foldName(part.name))?.rateHz ??
      (part.value === undefined ? undefined : parseValue(part.value, 'frequency')) ??
      design.clocks.find((clock) =>
        part.pins.some((id) => clock.net !== undefined && netlist.nets[netlist.pins[id]!.net]?.name === clock.net),
      )?.rateHz;
    return {
      name: part.name,
      type: part.type,
      record: part.record,
      ...(part.grade === undefined ? {} : { grade: part.grade }),
      ...(part.value === undefined ? {} : { value: part.value }),
      ...(rate === undefined || part.record.behaviour?.model !== 'oscillator' ? {} : { rateHz: rate }),
    };
  });
}

/** Nets as the design means them. */
function meantNets(netlist: Netlist): SimNet[] {
  return netlist.nets.map((net) => ({
    name: net.name,
    pins: net.pins.map((id) => ({ part: netlist.pins[id]!.part, number: netlist.pins[id]!.number })),
    ...(net.kind === 'supply' ? { fed: 1 as const } : net.kind === 'ground' ? { fed: 0 as const } : {}),
  }));
}

/**
 * Nets as the boards join them. A net bears the name of the net that most of its pins are meant to be on; it is fed where a
 * supply comes in, or where a part that makes a supply stands on it.
 */
function wiredNets(layout: Layout, netlist: Netlist, stage: number): SimNet[] {
  const joined = new Map(netlist.parts.map((part) => [part.name, part.record.joined ?? []]));
  const index = new Map(netlist.parts.map((part, id) => [foldName(part.name), id]));
  const { nodes } = extract(layout, stage, (part) => joined.get(part) ?? []);
  const kinds = new Map(layout.boards.map((board) => [board.board, board.kind]));
  const strip = (hole: string): string | undefined => stripOfHole(hole, (board) => kinds.get(board));
  const plus = new Set(layout.entries.map((entry) => strip(entry.plus)));
  const ground = new Set(layout.entries.map((entry) => strip(entry.ground)));
  const meant = new Map<string, number>();
  for (const pin of netlist.pins) if (pin.net >= 0) meant.set(`${pin.part}.${pin.number}`, pin.net);
  return nodes.flatMap((node): SimNet[] => {
    const pins = node.pins.flatMap((pin) => {
      const part = index.get(foldName(pin.part));
      return part === undefined ? [] : [{ part, number: pin.number }];
    });
    if (pins.length === 0) return [];
    const votes = new Map<number, number>();
    for (const pin of pins) {
      const net = meant.get(`${pin.part}.${pin.number}`);
      if (net !== undefined) votes.set(net, (votes.get(net) ?? 0) + 1);
    }
    const most = [...votes].sort((a, b) => b[1] - a[1] || a[0] - b[0])[0]?.[0];
    const name = most === undefined ? undefined : netlist.nets[most]!.name;
    const isSupplier = pins.some((pin) => {
      const { record } = netlist.parts[pin.part]!;
      return (
        record.category === 'supply' &&
        netlist.nets[meant.get(`${pin.part}.${pin.number}`) ?? -1]?.kind === 'supply' &&
        record.pins.find((row) => row.number === pin.number)?.kind !== 'ground'
      );
    });
    const isPlus = isSupplier || node.strips.some((id) => plus.has(id));
    const isGround = node.strips.some((id) => ground.has(id));
    const base = { ...(name === undefined ? {} : { name }), pins };
    if (isPlus && isGround)
      return [
        { ...base, fed: 1 },
        { ...base, fed: 0 },
      ];
    return [isPlus ? { ...base, fed: 1 } : isGround ? { ...base, fed: 0 } : base];
  });
}

/** What a logic device's fuses do as of a stage: its compiled revision, or the builder's own file. */
function logicOf(build: Build, part: string, stage: number): SimLogic | undefined {
  const revision = revisionAt(build.devices().revisions, part, stage);
  if (revision === undefined) return undefined;
  let explained = revision.result?.compiled.explained;
  if (explained === undefined && revision.own !== undefined) {
    const text = build.project.text(revision.own.file);
    if (text === undefined) return undefined;
    const bytes = Uint8Array.from(text, (character) => character.charCodeAt(0) & 0xff);
    const fuses = readJesd3(bytes, revision.own.file).value?.fuses;
    explained = fuses === undefined ? undefined : explainFuses(fuses, revision.device).value;
  }
  if (explained === undefined) return undefined;
  return {
    outputs: [...explained.outputs, ...explained.buried],
    ...(explained.clockPin === undefined ? {} : { clockPin: explained.clockPin }),
    reset: explained.reset,
    preset: explained.preset,
  };
}
