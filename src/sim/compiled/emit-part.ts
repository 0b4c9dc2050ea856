// What a part drives and what state it takes, as statements over words: pieces of the program of emit.ts. They read buses as
// they are now, and edges as they were at the commit before.

import type { Expr } from '../models/formulas.ts';
import { type Lane, type PartLayout, readsOwnState, shapeOf } from './layout.ts';
import { andWord, chooseWord, fixed, formulaWord, gather, num, spread, swap, twice, type Writer } from './words.ts';

/** How the text of a part reads what is around it. */
export interface PartContext {
  /** The lane at which the level of a net is read. */
  lane(net: number): Lane;
  /** Code of a word as it was at the commit before. */
  before(at: number): string;
  /** Code that is true where the part's bit in the alert words is set, or where its state changed in the round before. */
  readonly isAlert: string;
  readonly isAgain: string;
  /** Code that is true where an input of the part is not what it was; `false` where it reads nothing. */
  readonly isMoved: string;
  /** Index of the word that says whose commit is under way. */
  readonly who: number;
  /** Statements that set and clear its alert bit. */
  readonly alert: string;
  readonly calm: string;
}

const read = (at: number): string => `S[${at}]`;

/** One word of leaves of some formulas of one shape: where all lanes have the same leaf, spread. */
function leafWords(
  w: Writer,
  exprs: readonly Expr[],
  mask: number,
  lane: (leaf: Expr) => Lane,
  word: (at: number) => string,
  held: Map<string, string>,
): () => string {
  const leaves = exprs.map((expr) => {
    const list: Expr[] = [];
    shapeOf(expr, list);
    return list;
  });
  const count = leaves[0]?.length ?? 0;
  const made: string[] = [];
  for (let k = 0; k < count; k++) {
    const lanes = leaves.map((list) => lane(list[k]!));
    const first = lanes[0]!;
    const isSame = lanes.length > 1 && lanes.every((one) => JSON.stringify(one) === JSON.stringify(first));
    const code = isSame || lanes.length === 1 ? spread(first, mask, word) : gather(lanes, word);
    let name = held.get(code);
    if (name === undefined) {
      name = w.hold(code);
      held.set(code, name);
    }
    made.push(name);
  }
  let at = 0;
  return () => made[at++]!;
}

const stateLane = (entry: PartLayout, k: number): Lane => ({ at: entry.state + (k >> 4), from: k & 15 });

/** Code of a driver word, and whether any lane of it may drive nothing. */
export interface Driven {
  readonly code: string;
  readonly floats: boolean;
}

/** Writes what a part drives; gives the code of each of its driver words. */
export function writeDrive(w: Writer, entry: PartLayout, context: PartContext): Driven[] {
  const { part, place } = entry;
  if (part.kind === 'model') {
    part.ins.forEach((port, k) => {
      if (part.model.drivesFrom[k]) w.line(`S[${entry.ins + k}]=${gather(port.map(context.lane))};`);
    });
    w.line(`m${place}.drive(S,${entry.state},${entry.ins},${entry.outs});`);
    return entry.drivers.map((_, k) => ({ code: read(entry.outs + k), floats: true }));
  }
  const held = new Map<string, string>();
  const lane = (leaf: Expr): Lane =>
    leaf.op === 'state'
      ? stateLane(entry, leaf.index)
      : context.lane(leaf.op === 'input' ? part.inputs[leaf.index]! : -1);
  return entry.groups.map(({ rules }): Driven => {
    const mask = 2 ** rules.length - 1;
    const first = rules[0]!;
    const values = rules.map((rule) => rule.value);
    let value = formulaWord(w, first.value, leafWords(w, values, mask, lane, read, held), mask);
    if (first.openDrain) value = w.hold(`${value}&~${twice(w.hold(`${value}&~(${value}>>>16)&${num(mask)}`))}`);
    if (first.enable === undefined) return { code: value, floats: first.openDrain };
    const enables = rules.map((rule) => rule.enable!);
    const enable = formulaWord(w, first.enable, leafWords(w, enables, mask, lane, read, held), mask);
    if (fixed(enable) === mask) return { code: value, floats: first.openDrain };
    const on = w.hold(`${enable}&${num(mask)}`);
    // A driver that may be on leaves the net unknown, unless its value is one that drives nothing.
    const maybe = w.hold(`${on}&(${enable}>>>16)`);
    if (!first.openDrain) return { code: w.hold(`(${value}&${twice(on)})|${twice(maybe)}`), floats: true };
    const drives = w.hold(`${maybe}&(${value}|(${value}>>>16))&${num(mask)}`);
    return { code: w.hold(`(${value}&${twice(on)})|${twice(drives)}`), floats: true };
  });
}

/** Writes what a part with a model becomes; `changed` is done where its state changed. */
export function writeModelCommit(w: Writer, entry: PartLayout, context: PartContext, changed: string): void {
  const { part, place } = entry;
  if (part.kind !== 'model') return;
  const { model } = part;
  part.ins.forEach((port, k) => {
    const lanes = port.map(context.lane);
    w.line(`S[${entry.before + k}]=${gather(lanes, context.before)};S[${entry.ins + k}]=${gather(lanes)};`);
  });
  w.line(`S[${context.who}]=${place};`);
  w.line(`if(m${place}.commit(S,${entry.state},${entry.before},${entry.ins},T)){${changed}}`);
  if (model.armed !== undefined)
    w.line(`if(m${place}.armed(S,${entry.state},${entry.ins})){${context.alert}}else{${context.calm}}`);
}

interface Level {
  /** State variables of one shape, as lanes. */
  readonly kind: string;
  readonly acts: Expr;
  readonly value: Expr;
}

/** Writes the state of a formula part after an edge, then its latches and asynchronous inputs until they rest. */
export function writeStateCommit(w: Writer, entry: PartLayout, context: PartContext, changed: string): void {
  const { part } = entry;
  if (part.kind !== 'formulas') return;
  const { formulas } = part;
  const isOwn = readsOwnState(formulas);
  // A clock that is not known makes an edge that may have been, once for each change of an input.
  if (isOwn) w.line(`if(${context.isAgain}||${context.isMoved}){`);
  else if (formulas.clocked.length > 0) w.line(`if(!(${context.isAlert})||${context.isAgain}||${context.isMoved}){`);
  else w.line('{');
  const states = formulas.states.length;
  const stateWords = Math.ceil(states / 16);
  const lane = (leaf: Expr): Lane =>
    leaf.op === 'input'
      ? context.lane(part.inputs[leaf.index]!)
      : stateLane(entry, leaf.op === 'state' ? leaf.index : 0);
  const old = Array.from({ length: stateWords }, (_, k) => w.hold(`S[${entry.state + k}]|0`));
  const next = [...old];
  const clockedOf = (
    k: number,
  ): { readonly edge: string; readonly of: Expr; readonly when: Expr | undefined; readonly value: Expr }[] =>
    formulas.clocked.flatMap(({ edge, of, when, set }) =>
      set.filter((one) => one.state === k).map(({ value }) => ({ edge, of, when, value })),
    );
  if (formulas.clocked.length > 0) {
    const held = new Map<string, string>();
    const clocks: string[] = [];
    const groups = grouped(states, (k) =>
      clockedOf(k).map(({ edge, of, when, value }) => [
        `${edge}${when === undefined ? '' : '?'}`,
        [of, value, ...(when === undefined ? [] : [when])],
      ]),
    );
    for (const group of groups) {
      const mask = 2 ** group.length - 1;
      let current = w.hold(gather(group.map((k) => stateLane(entry, k))));
      const lists = group.map((k) => clockedOf(k));
      const word = (exprs: readonly Expr[], source: (at: number) => string): string =>
        formulaWord(w, exprs[0]!, leafWords(w, exprs, mask, lane, source, held), mask);
      // The earliest entry that acts wins.
      for (let n = lists[0]!.length - 1; n >= 0; n--) {
        const column = lists.map((list) => list[n]!);
        const ofs = column.map(({ of }) => of);
        const was = word(ofs, context.before);
        const is = word(ofs, read);
        clocks.push(w.hold(`${is}&(${is}>>>16)&${num(mask)}`));
        let acts =
          column[0]!.edge === 'rise'
            ? andWord(w, w.hold(swap(was)), is, mask)
            : andWord(w, was, w.hold(swap(is)), mask);
        if (column[0]!.when !== undefined)
          acts = andWord(
            w,
            acts,
            word(
              column.map(({ when }) => when!),
              context.before,
            ),
            mask,
          );
        current = chooseWord(
          w,
          acts,
          word(
            column.map(({ value }) => value),
            context.before,
          ),
          current,
          mask,
        );
      }
      putLanes(w, group, current, next);
    }
    w.line(`if((${clocks.join('|')})!==0){${context.alert}}else{${context.calm}}`);
  }
  w.line(next.map((value, k) => `S[${entry.state + k}]=${value};`).join(''));
  if (formulas.latched.length + formulas.asynchronous.length > 0) {
    const levels = (k: number): Level[] => [
      ...[...formulas.latched]
        .reverse()
        .flatMap((one) =>
          one.set.filter((set) => set.state === k).map((set) => ({ kind: 'l', acts: one.while, value: set.value })),
        ),
      ...[...formulas.asynchronous]
        .reverse()
        .flatMap((one) =>
          one.set.filter((set) => set.state === k).map((set) => ({ kind: 'a', acts: one.when, value: set.value })),
        ),
    ];
    const groups = grouped(states, (k) => levels(k).map(({ kind, acts, value }) => [kind, [acts, value]]));
    // Latches may feed one another, as in the plain part: as many passes as there are variables and one more.
    w.line(isOwn ? `for(let pass=0;pass<=${states};pass++){` : '{');
    const held = new Map<string, string>();
    const start = Array.from({ length: stateWords }, (_, k) => w.hold(`S[${entry.state + k}]|0`));
    const result = [...start];
    for (const group of groups) {
      const mask = 2 ** group.length - 1;
      let current = w.hold(gather(group.map((k) => stateLane(entry, k))));
      const lists = group.map((k) => levels(k));
      const word = (exprs: readonly Expr[]): string =>
        formulaWord(w, exprs[0]!, leafWords(w, exprs, mask, lane, read, held), mask);
      for (let n = 0; n < lists[0]!.length; n++) {
        const column = lists.map((list) => list[n]!);
        const acts = word(column.map((one) => one.acts));
        current = chooseWord(w, acts, word(column.map((one) => one.value)), current, mask);
      }
      putLanes(w, group, current, result);
    }
    w.line(result.map((value, k) => `S[${entry.state + k}]=${value};`).join(''));
    if (isOwn) w.line(`if(${result.map((value, k) => `${value}===${start[k]}`).join('&&') || 'true'})break;`);
    w.line('}');
  }
  w.line(`if(${old.map((value, k) => `${value}!==S[${entry.state + k}]`).join('||') || 'false'}){${changed}}`);
  w.line('}');
}

/** State variables whose entries have one shape, 16 at most together. */
function grouped(
  states: number,
  rules: (state: number) => readonly (readonly [string, readonly Expr[]])[],
): readonly (readonly number[])[] {
  const shapes = new Map<string, number[]>();
  for (let k = 0; k < states; k++) {
    const list = rules(k);
    if (list.length === 0) continue;
    const key = list.map(([kind, exprs]) => `${kind}:${exprs.map((expr) => shapeOf(expr, [])).join(';')}`).join('/');
    shapes.set(key, [...(shapes.get(key) ?? []), k]);
  }
  return [...shapes.values()].flatMap((list) =>
    Array.from({ length: Math.ceil(list.length / 16) }, (_, k) => list.slice(k * 16, k * 16 + 16)),
  );
}

/** Puts the lanes of a group back where its state variables lie. */
function putLanes(w: Writer, group: readonly number[], value: string, words: string[]): void {
  words.forEach((word, index) => {
    const lanes: Lane[] = Array.from({ length: 16 }, (_, bit) => {
      const from = group.indexOf(index * 16 + bit);
      return from < 0 ? { value: 0 } : { at: 0, from };
    });
    if (!lanes.some((lane) => 'at' in lane)) return;
    const keep = lanes.reduce((mask, lane, bit) => ('at' in lane ? mask : mask | (1 << bit)), 0);
    const put = gather(lanes, () => value);
    words[index] = w.hold((keep & 0xffff) === 0 ? put : `(${word}&${num(keep | (keep << 16))})|${put}`);
  });
}
