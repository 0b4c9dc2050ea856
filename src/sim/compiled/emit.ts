// The whole machine as the text of one function. Numbers and names made here only: no name from a file ever reaches it.
//
//   run(n, source): n steps; before each the source swings (none for source -1, then one step)
//   refresh():      every bus again from what drives it
//
// Locals c (buses changed in this sweep), n (for the next one), r (in this round), a (in this step) hold a bit for each bus and
// each part with state. A step is: sweep while anything changed; commit; and again while a state changed.

import { ROUNDS, SWEEPS } from '../plain/limits.ts';

import type { Expr } from '../models/formulas.ts';
import { HIGH, LOW, X } from '../values.ts';
import {
  type Bus,
  busReaders,
  maskWords,
  type Driver,
  type Lane,
  type MachineLayout,
  type PartLayout,
  shapeOf,
} from './layout.ts';
import { chooseWord, andWord, formulaWord, gather, num, spread, swap, twice, Writer } from './words.ts';

/** The text of the function `(S, H, M) => ({ run, refresh })`. */
export function emitMachine(layout: MachineLayout): string {
  const { circuit, changeWords: cw } = layout;
  const readers = busReaders(layout);
  const words = Array.from({ length: cw }, (_, k) => k);
  // A function that is too long is never compiled well: every bus and every part gets one of its own.
  const functions: string[] = [];
  const at =
    (index: number) =>
    (word: number): string =>
      `S[${index + word}]`;
  const c = at(layout.now);
  const n = at(layout.next);
  const r = at(layout.round);
  const a = at(layout.step);
  const g = at(layout.again);
  const q = at(layout.states);
  const f = at(layout.hooks);
  const p = at(layout.faulted);
  const x = `S[${layout.suspect}]`;
  const names = { count: 0 };
  const bitOf = (bit: number): [number, string] => [bit >> 5, num(1 << (bit & 31))];
  const busesOf = (nets: readonly number[]): number[] => [
    ...new Set(nets.map((net) => layout.places[net]?.bus.id).filter((id) => id !== undefined)),
  ];
  /** The lane at which the level of a net is read. */
  const laneOf = (net: number): Lane => {
    const at = net < 0 ? undefined : layout.places[net];
    if (at !== undefined) return { at: at.bus.at, from: at.bit };
    const fed = net < 0 ? 0 : circuit.fed[net]!;
    return { value: fed === 0 ? circuit.floating : fed };
  };
  // What a slow way woke: parts after the one in hand in this sweep, others in the next one.
  functions.push(
    `function marks(place){let t=0,m=0;${words
      .map(
        (k) =>
          `t=S[${layout.marks + k}];m=place<${k * 32}?-1:place>=${k * 32 + 32}?0:-2<<(place&31);${c(k)}|=t&m;${n(k)}|=t&~m;S[${layout.marks + k}]=0;${r(k)}|=S[${layout.commitMarks + k}];S[${layout.commitMarks + k}]=0;`,
      )
      .join('')}}`,
  );
  const takeMarks = 'marks(place);';

  /** A function that resolves a bus after a word that drives it changed, and marks it: for this sweep, the next one, the round. */
  const resolver = (bus: Bus): string => {
    const mask = 2 ** bus.nets.length - 1;
    const lanes = new Map<Driver, Lane[]>();
    let terms = '';
    for (const driver of bus.drivers) {
      const list: Lane[] = bus.nets.map((net) => {
        const from = driver.nets.indexOf(net);
        return from < 0 ? { value: 0 } : { at: driver.at, from };
      });
      lanes.set(driver, list);
      // A part may drive one net by two pins of one word.
      const more = bus.nets.map((net) => driver.nets.flatMap((to, from) => (to === net ? [from] : [])).slice(1));
      terms += `${terms === '' ? '' : '|'}${gather(list)}`;
      more.forEach((froms, bit) => {
        for (const from of froms) {
          const extra: Lane[] = bus.nets.map((_, k) => (k === bit ? { at: driver.at, from } : { value: 0 }));
          terms += `|${gather(extra)}`;
        }
      });
    }
    if (terms === '') terms = '0';
    const [word, bit] = bitOf(bus.id);
    const head = `function u${bus.id}(place,${words.map((k) => `now${k},next${k}`).join()}){let t=0,z=0;`;
    const hook = `t=${terms};${x}|=t&(t>>>16)&${num(mask)};H.bus(${bus.id},t);${takeMarks}`;
    if (bus.hooked) return `${head}${hook}}`;
    let up = 0;
    let down = 0;
    bus.nets.forEach((net, k) => {
      if (circuit.pulls[net]! & HIGH) up |= 1 << k;
      if (circuit.pulls[net]! & LOW) down |= 1 << k;
    });
    let code = `t=${terms};`;
    const isShared =
      bus.drivers.length > 1 || bus.drivers.some((driver) => new Set(driver.nets).size < driver.nets.length);
    if (isShared) code += `${x}|=t&(t>>>16)&${num(mask)};`;
    code += `z=~(t|(t>>>16))&${num(mask)};`;
    if ((up | down) !== 0) {
      if (up !== 0) code += `t|=z&${num(up)};`;
      if (down !== 0) code += `t|=(z&${num(down)})<<16;`;
      code += `z&=${num(~(up | down))};`;
    }
    code += circuit.floating === X ? 't|=z|(z<<16);' : circuit.floating === HIGH ? 't|=z;' : 't|=z<<16;';
    const committing = maskWords(readers.committing[bus.id]!, cw);
    const marked = words
      .map((k) => `${c(k)}|=now${k};${n(k)}|=next${k};${committing[k] === 0 ? '' : `${r(k)}|=${num(committing[k]!)};`}`)
      .join('');
    const changed = `S[${bus.at}]=t;S[${bus.floats}]=z;${marked}${a(word)}|=${bit};`;
    code += `if(t!==S[${bus.at}]||z!==S[${bus.floats}]){${changed}}`;
    return `${head}if(${f(word)}&${bit}){${hook}return;}${code}}`;
  };
  for (const bus of layout.buses) functions.push(resolver(bus));
  /** A call of it. `at` is the place of the part that drives: parts after it are asked in this sweep, others in the next one. */
  const update = (bus: Bus, place: number): string => {
    const driving = readers.driving[bus.id]!;
    const later = maskWords(
      driving.filter((reader) => reader > place),
      cw,
    );
    const earlier = maskWords(
      driving.filter((reader) => reader <= place),
      cw,
    );
    return `u${bus.id}(${place},${words.map((k) => `${num(later[k]!)},${num(earlier[k]!)}`).join()});`;
  };
  const updateAll = (driver: Driver, place: number): string =>
    busesOf(driver.nets)
      .map((id) => update(layout.buses[id]!, place))
      .join('\n');
  const setDriver = (driver: Driver, value: string, place: number): string =>
    `o=${value};if(o!==S[${driver.at}]){S[${driver.at}]=o;${againstRails(driver)}${updateAll(driver, place)}}`;
  /** An output that drives a rail the other way is a conflict. */
  const againstRails = (driver: Driver): string => {
    let mask = 0;
    driver.nets.forEach((net, lane) => {
      if (net >= 0 && circuit.fed[net] === HIGH) mask |= 1 << (lane + 16);
      if (net >= 0 && circuit.fed[net] === LOW) mask |= 1 << lane;
    });
    return mask === 0 ? '' : `${x}|=o&${num(mask)};`;
  };

  const gatherPorts = (entry: PartLayout, to: number, which: (port: number) => boolean): string =>
    entry.part.kind !== 'model'
      ? ''
      : entry.part.ins.map((port, k) => (which(k) ? `S[${to + k}]=${gather(port.map(laneOf))};` : '')).join('');

  const stateLane = (entry: PartLayout, k: number): Lane => ({ at: entry.state + (k >> 4), from: k & 15 });

  /** Words of the leaves of lanes of one shape: one for each leaf, spread where all lanes have the same. */
  const leafWords = (
    w: Writer,
    exprs: readonly Expr[],
    mask: number,
    lane: (leaf: Expr) => Lane,
    held: Map<string, string>,
  ): (() => string) => {
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
      const code = isSame ? spread(first, mask) : gather(lanes);
      let name = held.get(code);
      if (name === undefined) {
        name = w.hold(code);
        held.set(code, name);
      }
      made.push(name);
    }
    let at = 0;
    return () => made[at++]!;
  };

  const emitDrive = (entry: PartLayout): string => {
    const { part, place } = entry;
    if (entry.drivers.length === 0) return '';
    const w = new Writer(names);
    if (part.kind === 'model') {
      w.line(gatherPorts(entry, entry.ins, (k) => part.model.drivesFrom[k]!));
      w.line(`M[${place}].drive(S,${entry.state},${entry.ins},${entry.outs});`);
      entry.drivers.forEach((driver, k) => {
        w.line(setDriver(driver, `S[${entry.outs + k}]`, place));
      });
    } else {
      const held = new Map<string, string>();
      const lane = (leaf: Expr): Lane =>
        leaf.op === 'state'
          ? stateLane(entry, leaf.index)
          : laneOf(leaf.op === 'input' ? part.inputs[leaf.index]! : -1);
      const made = entry.groups.map(({ rules }) => {
        const mask = 2 ** rules.length - 1;
        const first = rules[0]!;
        const values = rules.map((rule) => rule.value);
        let value = formulaWord(w, first.value, leafWords(w, values, mask, lane, held), mask);
        if (first.openDrain) value = w.hold(`${value}&~${twice(w.hold(`${value}&~(${value}>>>16)&${num(mask)}`))}`);
        if (first.enable === undefined) return value;
        const enables = rules.map((rule) => rule.enable!);
        const enable = formulaWord(w, first.enable, leafWords(w, enables, mask, lane, held), mask);
        const on = w.hold(`${enable}&${num(mask)}`);
        // A driver that may be on leaves the net unknown, unless its value is one that drives nothing.
        const maybe = w.hold(`${on}&(${enable}>>>16)`);
        if (!first.openDrain) return w.hold(`(${value}&${twice(on)})|${twice(maybe)}`);
        const drives = w.hold(`${maybe}&(${value}|(${value}>>>16))&${num(mask)}`);
        return w.hold(`(${value}&${twice(on)})|${twice(drives)}`);
      });
      entry.groups.forEach(({ driver }, k) => {
        w.line(setDriver(driver, made[k]!, place));
      });
    }
    const [word, bit] = bitOf(entry.bit);
    functions.push(
      `function d${place}(){if(${p(word)}&${bit}){H.drive(${place});marks(${place});return;}let o=0;${w.toString()}}`,
    );
    return `case ${place}:d${place}();break;`;
  };

  const emitCommit = (entry: PartLayout): string => {
    const { part, place } = entry;
    if (!entry.hasCommit) return '';
    const [word, bit] = bitOf(entry.bit);
    const w = new Writer(names);
    if (part.kind === 'model') {
      w.line(gatherPorts(entry, entry.ins, () => true));
      const acting = part.ins.flatMap((_, k) =>
        part.model.commitsFrom[k] ? [`S[${entry.ins + k}]!==S[${entry.before + k}]`] : [],
      );
      const call = `if(M[${place}].commit(S,${entry.state},${entry.before},${entry.ins},H.moment(${place})))${q(word)}|=${bit};`;
      w.line(`if(${[...acting, `(${g(word)}&${bit})`].join('||')}){${call}}`);
      w.line(part.ins.map((_, k) => `S[${entry.before + k}]=S[${entry.ins + k}];`).join(''));
    } else w.line(emitState(entry, `${q(word)}|=${bit};`));
    functions.push(
      `function k${place}(){if(${p(word)}&${bit}){if(H.commit(${place}))${q(word)}|=${bit};return;}${w.toString()}}`,
    );
    return `case ${place}:k${place}();break;`;
  };

  /** The state of a formula part after an edge, then its latches and asynchronous inputs until they rest. */
  const emitState = (entry: PartLayout, changed: string): string => {
    const { part } = entry;
    if (part.kind !== 'formulas') return '';
    const { formulas } = part;
    const w = new Writer(names);
    const inputWords = Math.ceil(part.inputs.length / 16);
    for (let k = 0; k < inputWords; k++)
      w.line(`S[${entry.ins + k}]=${gather(part.inputs.slice(k * 16, k * 16 + 16).map(laneOf))};`);
    const likeBefore = Array.from({ length: inputWords }, (_, k) => `S[${entry.ins + k}]!==S[${entry.before + k}]`);
    w.line(`if(${[...likeBefore, `(${g(entry.bit >> 5)}&${num(1 << (entry.bit & 31))})`].join('||')}){`);
    const states = formulas.states.length;
    const stateWords = Math.ceil(states / 16);
    const now = (leaf: Expr): Lane =>
      leaf.op === 'input'
        ? { at: entry.ins + (leaf.index >> 4), from: leaf.index & 15 }
        : stateLane(entry, leaf.op === 'state' ? leaf.index : 0);
    const before = (leaf: Expr): Lane =>
      leaf.op === 'input' ? { at: entry.before + (leaf.index >> 4), from: leaf.index & 15 } : now(leaf);
    const old = Array.from({ length: stateWords }, (_, k) => w.hold(`S[${entry.state + k}]|0`));
    /** State variables with entries of one shape, as lanes of words. */
    const grouped = (
      rules: (state: number) => readonly (readonly [string, readonly Expr[]])[],
    ): readonly (readonly number[])[] => {
      const shapes = new Map<string, number[]>();
      for (let k = 0; k < states; k++) {
        const list = rules(k);
        if (list.length === 0) continue;
        const key = list
          .map(([kind, exprs]) => `${kind}:${exprs.map((expr) => shapeOf(expr, [])).join(';')}`)
          .join('/');
        shapes.set(key, [...(shapes.get(key) ?? []), k]);
      }
      return [...shapes.values()].flatMap((list) =>
        Array.from({ length: Math.ceil(list.length / 16) }, (_, k) => list.slice(k * 16, k * 16 + 16)),
      );
    };
    const put = (group: readonly number[], value: string, words: string[]): void => {
      for (let word = 0; word < stateWords; word++) {
        const lanes: Lane[] = Array.from({ length: 16 }, (_, bit) => {
          const from = group.indexOf(word * 16 + bit);
          return from < 0 ? { value: 0 } : { at: 0, from };
        });
        if (!lanes.some((lane) => 'at' in lane)) continue;
        const keep = lanes.reduce((mask, lane, bit) => ('at' in lane ? mask : mask | (1 << bit)), 0);
        words[word] = w.hold(`(${words[word]}&${num(keep | (keep << 16))})|${gather(lanes, () => value)}`);
      }
    };
    type Clocked = (typeof formulas.clocked)[number];
    const clockedOf = (k: number): { entry: Clocked; value: Expr }[] =>
      formulas.clocked.flatMap((one) =>
        one.set.filter((set) => set.state === k).map((set) => ({ entry: one, value: set.value })),
      );
    const next = [...old];
    if (formulas.clocked.length > 0) {
      const held = new Map<string, string>();
      const groups = grouped((k) =>
        clockedOf(k).map(({ entry: one, value }) => [
          `${one.edge}${one.when === undefined ? '' : '?'}`,
          [one.of, value, ...(one.when === undefined ? [] : [one.when])],
        ]),
      );
      for (const group of groups) {
        const mask = 2 ** group.length - 1;
        let current = w.hold(gather(group.map((k) => stateLane(entry, k))));
        const lists = group.map((k) => clockedOf(k));
        // The earliest entry that acts wins.
        for (let n = lists[0]!.length - 1; n >= 0; n--) {
          const column = lists.map((list) => list[n]!);
          const one = column[0]!;
          const ofs = column.map(({ entry: each }) => each.of);
          const was = formulaWord(w, one.entry.of, leafWords(w, ofs, mask, before, held), mask);
          const is = formulaWord(w, one.entry.of, leafWords(w, ofs, mask, now, held), mask);
          let acts =
            one.entry.edge === 'rise'
              ? andWord(w, w.hold(swap(was)), is, mask)
              : andWord(w, was, w.hold(swap(is)), mask);
          if (one.entry.when !== undefined) {
            const whens = column.map(({ entry: each }) => each.when!);
            acts = andWord(
              w,
              acts,
              formulaWord(w, one.entry.when, leafWords(w, whens, mask, before, held), mask),
              mask,
            );
          }
          const values = column.map(({ value }) => value);
          const to = formulaWord(w, one.value, leafWords(w, values, mask, before, held), mask);
          current = chooseWord(w, acts, to, current, mask);
        }
        put(group, current, next);
      }
    }
    w.line(next.map((value, k) => `S[${entry.state + k}]=${value};`).join(''));
    if (formulas.latched.length + formulas.asynchronous.length > 0) {
      // Latches may feed one another, as in the plain part: as many passes as there are variables and one more.
      const usesState = [
        ...formulas.latched.flatMap((one) => [one.while, ...one.set.map((set) => set.value)]),
        ...formulas.asynchronous.flatMap((one) => [one.when, ...one.set.map((set) => set.value)]),
      ].some((expr) => {
        const leaves: Expr[] = [];
        shapeOf(expr, leaves);
        return leaves.some((leaf) => leaf.op === 'state');
      });
      const inner = new Writer(names);
      const outer = w;
      const levels = (k: number): { kind: string; acts: Expr; value: Expr }[] => [
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
      const groups = grouped((k) => levels(k).map(({ kind, acts, value }) => [kind, [acts, value]]));
      const held = new Map<string, string>();
      const start = Array.from({ length: stateWords }, (_, k) => inner.hold(`S[${entry.state + k}]|0`));
      const result = [...start];
      for (const group of groups) {
        const mask = 2 ** group.length - 1;
        let current = inner.hold(gather(group.map((k) => stateLane(entry, k))));
        const lists = group.map((k) => levels(k));
        for (let n = 0; n < lists[0]!.length; n++) {
          const column = lists.map((list) => list[n]!);
          const acts = formulaWord(
            inner,
            column[0]!.acts,
            leafWords(
              inner,
              column.map((one) => one.acts),
              mask,
              now,
              held,
            ),
            mask,
          );
          const to = formulaWord(
            inner,
            column[0]!.value,
            leafWords(
              inner,
              column.map((one) => one.value),
              mask,
              now,
              held,
            ),
            mask,
          );
          current = chooseWord(inner, acts, to, current, mask);
        }
        for (let word = 0; word < stateWords; word++) {
          const lanes: Lane[] = Array.from({ length: 16 }, (_, bit) => {
            const from = group.indexOf(word * 16 + bit);
            return from < 0 ? { value: 0 } : { at: 0, from };
          });
          if (!lanes.some((lane) => 'at' in lane)) continue;
          const keep = lanes.reduce((mask2, lane, bit) => ('at' in lane ? mask2 : mask2 | (1 << bit)), 0);
          result[word] = inner.hold(`(${result[word]}&${num(keep | (keep << 16))})|${gather(lanes, () => current)}`);
        }
      }
      inner.line(result.map((value, k) => `S[${entry.state + k}]=${value};`).join(''));
      const same = result.map((value, k) => `${value}===${start[k]}`).join('&&') || 'true';
      outer.line(
        usesState
          ? `for(let pass=0;pass<=${states};pass++){${inner.toString()}\nif(${same})break;}`
          : `{${inner.toString()}}`,
      );
    }
    w.line(Array.from({ length: inputWords }, (_, k) => `S[${entry.before + k}]=S[${entry.ins + k}];`).join(''));
    w.line(`if(${old.map((value, k) => `${value}!==S[${entry.state + k}]`).join('||') || 'false'}){${changed}}`);
    w.line('}');
    return w.toString();
  };

  const zero = (of: (word: number) => string): string => words.map((k) => `${of(k)}=0;`).join('');
  const any = (of: (word: number) => string): string => `(${words.map(of).join('|')})!==0`;
  const list = (of: (word: number) => string): string => words.map(of).join();
  const pending = at(layout.pending);
  const refreshBuses = layout.buses.map((bus) => update(bus, -1)).join('\n');
  const swings = layout.sources
    .map((driver, k) => `case ${k}:S[${driver.at}]^=65537;${updateAll(driver, -1)}break;`)
    .join('\n');
  const allNow = words.map((k) => `${c(k)}=-1;`).join('');
  // The lowest bit first: parts are asked in their order, and only those that something woke.
  const drives = layout.parts.map(emitDrive);
  const commits = layout.parts.map(emitCommit);
  const dispatch = (cases: readonly string[], k: number): string =>
    `switch(31-Math.clz32(d&-d)){${cases
      .slice(k * 32, k * 32 + 32)
      .map((text) => text.replace(/^case (\d+):/, (_, place: string) => `case ${Number(place) & 31}:`))
      .join('\n')}
default:}`;
  const sweeps = words.map((k) => `while((d=${c(k)})!==0){${c(k)}=d&(d-1);${dispatch(drives, k)}}`).join('\n');
  const commitAll = words
    .map((k) => `d=${r(k)}|${p(k)};${r(k)}=0;while(d!==0){${dispatch(commits, k)}d&=d-1;}`)
    .join('\n');
  return `'use strict';
${functions.join('\n')}
function settle(){
let sw=0,d=0;
while(${any(c)}){
if(++sw>${SWEEPS}){H.unknown(${list(c)});${refreshBuses}
${allNow}sw=-1e9;}
${sweeps}
${words.map((k) => `${c(k)}=${n(k)};${n(k)}=0;`).join('')}}
}
function commit(){
let d=0;
${commitAll}}
function step(source){
let round=0;
for(;;){
settle();
if(source===-2||!(${any(r)}))break;
commit();
if(!(${any(q)})){${zero(g)}break;}
${words.map((k) => `${c(k)}|=${q(k)};${r(k)}=${q(k)};${g(k)}=${q(k)};`).join('')}
if(++round>${ROUNDS}){H.restless(${list(q)});${words.map((k) => `${pending(k)}|=${q(k)};`).join('')}${zero(q)}${zero(r)}${zero(c)}break;}
${zero(q)}
}
${zero(r)}
if(${x}!==0){if(source!==-2)H.conflicts();${x}=0;}
if(${Array.from({ length: layout.busWords }, (_, k) => `(${a(k)}&S[${layout.watch + k}])`).join('|')})H.watch();
${Array.from({ length: layout.busWords }, (_, k) => `${a(k)}=0;`).join('')}
}
function run(n,source){
${words.map((k) => `${c(k)}|=${pending(k)};${r(k)}|=${pending(k)};${g(k)}|=${pending(k)};${pending(k)}=0;`).join('')}
let h=0;
do{
H.edges++;
switch(source){
${swings}
default:
}
step(source);
h++;
if(S[${layout.stop}]!==0){S[${layout.stop}]=0;break;}
}while(h<n);
return h;
}
function refresh(){
${refreshBuses}
${words.map((k) => `${pending(k)}=-1;`).join('')}
}
return {run,refresh};`;
}
