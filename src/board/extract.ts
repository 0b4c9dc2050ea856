// What is joined to what, read from holes and wires alone, and the comparison with the netlist. It shares nothing with
// placing and wiring but hole names and board records, so that a mistake there shows here.

import type { Finding } from '../base/index.ts';
import type { Netlist } from '../netlist/index.ts';
import { stripOfHole } from './geometry.ts';
import { type HoleName, type Layout, layoutAt, type StripId } from './model.ts';

/** Where a lead or wire end stands. */
export interface ExtractedPin {
  readonly part: string;
  readonly number: number;
  readonly hole: HoleName;
}

/** One conductor: strips joined by wires and inside parts. */
export interface ExtractedNode {
  readonly strips: readonly StripId[];
  readonly pins: readonly ExtractedPin[];
  readonly wires: readonly string[];
}

export interface Extraction {
  readonly stage: number;
  readonly nodes: readonly ExtractedNode[];
  /** Holes named that do not exist, and holes with more than one lead or wire end in them. */
  readonly impossible: readonly { readonly hole: HoleName; readonly what: string }[];
  readonly crowded: readonly { readonly hole: HoleName; readonly what: readonly string[] }[];
}

/**
 * Reads the boards as of a stage. `joinedIn` gives the groups of pin numbers that are one conductor inside a part.
 */
export function extract(
  layout: Layout,
  stage: number,
  joinedIn: (part: string) => readonly (readonly number[])[],
): Extraction {
  const kinds = new Map(layout.boards.map((board) => [board.board, board.kind]));
  const kindOf = (board: number): string | undefined => kinds.get(board);
  const parent = new Map<string, string>();
  const find = (key: string): string => {
    let at = key;
    let up = parent.get(at);
    if (up === undefined) {
      parent.set(key, key);
      return key;
    }
    while (up !== at) {
      at = up!;
      up = parent.get(at);
    }
    return at;
  };
  const join = (a: string, b: string): void => {
    const x = find(a);
    const y = find(b);
    if (x !== y) parent.set(x, y);
  };
  const impossible: { hole: HoleName; what: string }[] = [];
  const inHole = new Map<HoleName, string[]>();
  const stand = (hole: HoleName, what: string): StripId | undefined => {
    const strip = stripOfHole(hole, kindOf);
    if (strip === undefined) {
      impossible.push({ hole, what });
      return undefined;
    }
    const list = inHole.get(hole);
    if (list === undefined) inHole.set(hole, [what]);
    else list.push(what);
    find(strip);
    return strip;
  };
  const now = layoutAt(layout, stage);
  const pins: { pin: ExtractedPin; strip: StripId }[] = [];
  for (const part of now.parts) {
    const stripOf = new Map<number, StripId>();
    for (const lead of part.leads) {
      const strip = stand(lead.hole, `${part.part}.${lead.number}`);
      if (strip === undefined) continue;
      pins.push({ pin: { part: part.part, number: lead.number, hole: lead.hole }, strip });
      stripOf.set(lead.number, strip);
    }
    for (const group of joinedIn(part.part)) {
      const strips = group.map((number) => stripOf.get(number)).filter((strip) => strip !== undefined);
      for (let i = 1; i < strips.length; i++) join(strips[0]!, strips[i]!);
    }
  }
  const wireEnds: { id: string; strip: StripId }[] = [];
  for (const wire of now.wires) {
    const a = stand(wire.from, `wire ${wire.id}`);
    const b = stand(wire.to, `wire ${wire.id}`);
    if (a !== undefined && b !== undefined) join(a, b);
    const strip = a ?? b;
    if (strip !== undefined) wireEnds.push({ id: wire.id, strip });
  }
  const nodes = new Map<string, { strips: StripId[]; pins: ExtractedPin[]; wires: string[] }>();
  for (const strip of parent.keys()) {
    const root = find(strip);
    let node = nodes.get(root);
    if (node === undefined) {
      node = { strips: [], pins: [], wires: [] };
      nodes.set(root, node);
    }
    node.strips.push(strip);
  }
  for (const { pin, strip } of pins) nodes.get(find(strip))!.pins.push(pin);
  for (const { id, strip } of wireEnds) nodes.get(find(strip))!.wires.push(id);
  const crowded = [...inHole].filter(([, what]) => what.length > 1).map(([hole, what]) => ({ hole, what }));
  return { stage, nodes: [...nodes.values()], impossible, crowded };
}

/**
 * Compares what is wired with what the netlist of that stage wants: every pin in a hole, pins of one net joined, pins of
 * different nets (and pins without net) apart, one lead to a hole. Empty when they are equal.
 */
export function compareWithNetlist(extracted: Extraction, netlist: Netlist): Finding[] {
  const findings: Finding[] = [];
  const { stage } = extracted;
  const finding = (code: string, message: string, about: readonly string[], help: string, note?: string): void => {
    findings.push({
      code,
      severity: 'error',
      message,
      where: [],
      notes: note === undefined ? [] : [{ text: note }],
      help,
      about,
      stage,
    });
  };
  for (const { hole, what } of extracted.impossible) {
    finding('board/no-such-hole', `${what} stands in ${hole}, and there is no such hole.`, [what], 'Lay it out again.');
  }
  for (const { hole, what } of extracted.crowded) {
    finding(
      'board/two-in-one-hole',
      `${what.join(' and ')} stand in one hole, ${hole}.`,
      [...what],
      'A hole takes one lead; move one of them.',
    );
  }
  // Groups of pins that belong together: by net, and inside parts.
  const refOf = new Map<string, string>();
  const wanted = new Map<string, string>();
  for (const part of netlist.parts) {
    const groupOf = new Map<number, string>();
    for (const group of part.record.joined ?? []) for (const number of group) groupOf.set(number, String(group[0]));
    const pins = part.pins.map((id) => netlist.pins[id]!);
    const numbers = new Map(pins.map((pin) => [pin.number, pin]));
    for (const pin of pins) {
      const key = `${part.name}.${pin.number}`;
      refOf.set(key, pin.ref);
      let net = pin.net;
      const group = groupOf.get(pin.number);
      if (net < 0 && group !== undefined) {
        for (const other of part.record.joined?.find((list) => list.includes(pin.number)) ?? []) {
          net = Math.max(net, numbers.get(other)?.net ?? -1);
        }
      }
      wanted.set(key, net >= 0 ? `net ${net}` : `lone ${part.name}.${group ?? pin.number}`);
    }
  }
  // Nets that a part joins inside are one conductor in the netlist as well.
  const parent = new Map<string, string>();
  const find = (key: string): string => {
    let at = key;
    while (parent.has(at) && parent.get(at) !== at) at = parent.get(at)!;
    return at;
  };
  for (const part of netlist.parts) {
    for (const group of part.record.joined ?? []) {
      const nets = group.map((number) => wanted.get(`${part.name}.${number}`)).filter((net) => net !== undefined);
      for (let i = 1; i < nets.length; i++) {
        const a = find(nets[0]!);
        const b = find(nets[i]!);
        if (a !== b) parent.set(a, b);
      }
    }
  }
  const nameOf = (key: string): string => {
    const match = /^net (\d+)$/.exec(key);
    return match === null ? 'no net' : (netlist.nets[Number(match[1])]?.name ?? key);
  };
  const nodeOf = new Map<string, number>();
  const holeOf = new Map<string, HoleName>();
  extracted.nodes.forEach((node, index) => {
    for (const pin of node.pins) {
      nodeOf.set(`${pin.part}.${pin.number}`, index);
      holeOf.set(`${pin.part}.${pin.number}`, pin.hole);
    }
  });
  for (const [key, ref] of refOf) {
    if (!nodeOf.has(key)) {
      finding('board/pin-not-placed', `${ref} stands in no hole at stage ${stage}.`, [ref], 'Run `lay` again.');
    }
  }
  for (const key of nodeOf.keys()) {
    if (!refOf.has(key) && !netlist.parts.some((part) => part.name === key.slice(0, key.lastIndexOf('.')))) {
      finding(
        'board/part-not-in-netlist',
        `${key} stands in ${holeOf.get(key)}, and the machine has no such part at stage ${stage}.`,
        [key],
        'Run `lay` again.',
      );
    }
  }
  const seenIn = new Map<string, Map<number, string[]>>();
  extracted.nodes.forEach((node, index) => {
    const here = new Map<string, string[]>();
    for (const pin of node.pins) {
      const key = `${pin.part}.${pin.number}`;
      const group = find(wanted.get(key) ?? `lone ${key}`);
      const list = here.get(group);
      if (list === undefined) here.set(group, [key]);
      else list.push(key);
    }
    if (here.size > 1) {
      const [one, two] = [...here.entries()];
      const a = one![1][0]!;
      const b = two![1][0]!;
      const say = (key: string): string => `${refOf.get(key) ?? key} in ${holeOf.get(key)}`;
      finding(
        'board/joined-apart',
        `${say(a)} (${nameOf(one![0])}) is joined to ${say(b)} (${nameOf(two![0])}).`,
        [refOf.get(a) ?? a, refOf.get(b) ?? b],
        'Take out or move a wire end between the two.',
        `On the way: ${node.strips.slice(0, 6).join(', ')}; wires ${node.wires.slice(0, 6).join(', ') || 'none'}.`,
      );
    }
    for (const [group, list] of here) {
      let places = seenIn.get(group);
      if (places === undefined) {
        places = new Map();
        seenIn.set(group, places);
      }
      places.set(index, list);
    }
  });
  for (const [group, places] of seenIn) {
    if (places.size < 2) continue;
    const lists = [...places.values()];
    const first = lists[0]![0]!;
    for (const list of lists.slice(1)) {
      const other = list[0]!;
      finding(
        'board/not-joined',
        `${refOf.get(other) ?? other} in ${holeOf.get(other)} is not joined to ${refOf.get(first) ?? first} in ${holeOf.get(first)}; both are on ${nameOf(group)}.`,
        [refOf.get(other) ?? other, nameOf(group)],
        'A wire of this net is missing or stands in the wrong hole.',
      );
    }
  }
  return findings;
}

/** Extracts and compares every stage of a design: the proof that the layout is the netlist. */
export function proveLayout(layout: Layout, netlists: readonly Netlist[]): Finding[] {
  const findings: Finding[] = [];
  for (let stage = 0; stage < netlists.length; stage++) {
    const netlist = netlists[stage]!;
    const joined = new Map(netlist.parts.map((part) => [part.name, part.record.joined ?? []]));
    findings.push(
      ...compareWithNetlist(
        extract(layout, stage, (part) => joined.get(part) ?? []),
        netlist,
      ),
    );
  }
  return findings;
}
