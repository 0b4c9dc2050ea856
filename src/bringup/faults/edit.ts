// A slip as an edit of the boards, and the nets that follow from it: union-find over strips, in whole numbers.

import type { Bench } from './bench.ts';

/** Something wrong inside a part. */
export type DeviceFault =
  /** The output stands at a level whatever the part means. */
  | { readonly kind: 'stuck'; readonly pin: number; readonly level: 0 | 1 }
  /** Drives nothing. */
  | { readonly kind: 'dead'; readonly part: number }
  /** Never programmed. */
  | { readonly kind: 'blank'; readonly part: number }
  /** Programmed with something else: the name of an image. */
  | { readonly kind: 'image'; readonly part: number; readonly image: string };

/** What is not as the layout has it. Pins and wires by their index in the bench, strips by number, -1 for nowhere. */
export interface Edit {
  readonly wires?: readonly (readonly [wire: number, a: number, b: number])[];
  readonly pins?: readonly (readonly [pin: number, strip: number])[];
  readonly bridges?: readonly (readonly [number, number])[];
  /** Resistors that do not belong: strips and ohms. */
  readonly resistors?: readonly (readonly [number, number, number])[];
  readonly devices?: readonly DeviceFault[];
}

/** Which node every pin and probe is on. Nodes are numbered as the pins first meet them. */
export interface Nodes {
  readonly count: number;
  readonly ofPin: Int32Array;
  readonly ofProbe: Int32Array;
  /** Per node: 0 not fed, 1 by the supply, 2 by ground, 3 by both. */
  readonly fed: Uint8Array;
  /** Resistors that do not belong, by node. */
  readonly resistors: readonly (readonly [number, number, number])[];
}

/** Two edits at once. */
export function bothEdits(a: Edit, b: Edit): Edit {
  const join = <T>(x: readonly T[] | undefined, y: readonly T[] | undefined): readonly T[] => [
    ...(x ?? []),
    ...(y ?? []),
  ];
  return {
    wires: join(a.wires, b.wires),
    pins: join(a.pins, b.pins),
    bridges: join(a.bridges, b.bridges),
    resistors: join(a.resistors, b.resistors),
    devices: join(a.devices, b.devices),
  };
}

/** Reads the nets of the boards with an edit. `probes` are strips. */
export function nodesOf(bench: Bench, probes: readonly number[], edit: Edit): Nodes {
  const strips = bench.stripNames.length;
  const parent = new Int32Array(strips + bench.pins.length);
  for (let k = 0; k < parent.length; k++) parent[k] = k;
  const find = (key: number): number => {
    let at = key;
    while (parent[at] !== at) {
      parent[at] = parent[parent[at]!]!;
      at = parent[at]!;
    }
    return at;
  };
  const join = (a: number, b: number): void => {
    const [x, y] = [find(a), find(b)];
    if (x !== y) parent[x] = y;
  };
  const moved = edit.wires ?? [];
  bench.wires.forEach(({ a, b }, wire) => {
    for (const entry of moved) if (entry[0] === wire) return;
    join(a, b);
  });
  // Of two edits of one wire the later stands.
  const last = new Map(moved.map((entry) => [entry[0], entry]));
  for (const [, a, b] of last.values()) if (a >= 0 && b >= 0) join(a, b);
  for (const [a, b] of edit.bridges ?? []) join(a, b);
  const at = new Int32Array(bench.pins.length);
  bench.pins.forEach((pin, k) => {
    at[k] = pin.strip;
  });
  // A pin that is nowhere is a node of its own.
  for (const [pin, strip] of edit.pins ?? []) at[pin] = strip < 0 ? strips + pin : strip;
  for (const [a, b] of bench.joined) join(at[a]!, at[b]!);
  const label = new Int32Array(parent.length).fill(-1);
  let count = 0;
  const nodeOf = (strip: number): number => {
    const root = find(strip);
    if (label[root]! < 0) label[root] = count++;
    return label[root]!;
  };
  const ofPin = at.map((strip) => nodeOf(strip));
  const ofProbe = Int32Array.from(probes, nodeOf);
  const resistors = (edit.resistors ?? []).map(([a, b, ohms]): [number, number, number] => [
    nodeOf(a),
    nodeOf(b),
    ohms,
  ]);
  const fed = new Uint8Array(count + bench.feeds.length);
  for (const { strip, level } of bench.feeds) fed[nodeOf(strip)]! |= level === 1 ? 1 : 2;
  for (const pin of bench.feeders) fed[ofPin[pin]!]! |= 1;
  return { count, ofPin, ofProbe, fed: fed.subarray(0, count), resistors };
}

/**
 * A text that is equal for edits with the same nets and the same things wrong inside parts. `counts` says which pins matter; the
 * others are as if they were not there.
 */
export function signatureOf(nodes: Nodes, edit: Edit, counts?: Uint8Array): string {
  const devices = (edit.devices ?? []).map((fault) => JSON.stringify(fault)).sort();
  let a = 0x811c9dc5;
  let b = 0x1b873593;
  const mix = (value: number): void => {
    a = Math.imul(a ^ value, 0x01000193);
    b = Math.imul(b ^ (value + 0x9e3779b9), 0x85ebca6b);
    b ^= b >>> 13;
  };
  const label = new Int32Array(nodes.count).fill(-1);
  let met = 0;
  const see = (node: number): void => {
    if (label[node]! < 0) {
      label[node] = met++;
      mix(-1 - nodes.fed[node]!);
    }
    mix(label[node]!);
  };
  for (let pin = 0; pin < nodes.ofPin.length; pin++) {
    if (counts === undefined || counts[pin] === 1) see(nodes.ofPin[pin]!);
    else mix(-9);
  }
  for (const node of nodes.ofProbe) see(node);
  for (const [x, y, ohms] of nodes.resistors) {
    see(x);
    see(y);
    mix(ohms);
  }
  return `${(a >>> 0).toString(36)}.${(b >>> 0).toString(36)}.${met}${devices.join()}`;
}
