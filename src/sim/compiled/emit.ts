// The whole machine as the text of one function. Numbers and names made here only: no name from a file ever reaches it.
//
//   run(n, source, rec): n steps; before each the source swings (none for source -1, then one step; -2: only to rest);
//                        with rec, watched buses that changed in a step are written to R
//
// A step is: sweep while a part is woken; commit; and again while a state changed. Locals hold a bit for each part or bus, 32 a
// word: c woken in this sweep, n for the next one, r to be committed, q states that changed, g those of the round before,
// b buses changed since the last commit, a in this step. Rare things go out to the host.
//
// It is made twice: for a machine as it was built, and with a test in front of every part and bus that a fault or a hand may
// have taken over (`hooks`).

import { ROUNDS, SWEEPS } from '../plain/limits.ts';
import { HIGH, LOW, X } from '../values.ts';
import { type PartContext, writeDrive, writeModelCommit, writeStateCommit } from './emit-part.ts';
import {
  type Bus,
  busReaders,
  canBeAlert,
  type Driver,
  type Lane,
  type MachineLayout,
  maskWords,
  type PartLayout,
  type Reader,
  readsOwnState,
} from './layout.ts';
import { gather, num, Writer } from './words.ts';

/** Text of a part beyond which it gets a function of its own; and of all of them. */
export const LONG_PART = 6000;
const LONG_MACHINE = 45_000;
/** Steps made in one go. */
const BATCH = 256;

/** Words of one record in R: edge and bus in one word, then the levels. */
export const RECORD_WORDS = 2;

/** Bits of a record's first word that say which bus. */
export function busBits(layout: MachineLayout): number {
  return Math.max(1, 32 - Math.clz32(layout.buses.length));
}

/** A piece for one part. */
interface Piece {
  readonly place: number;
  /** As statements within `run`; and as a call, with the function it calls. */
  readonly inline: string;
  readonly call: string;
  readonly body: string;
}

/** The text of the function `(s, h, m, t, r) => run`. */
export function emitMachine(layout: MachineLayout, hooks: boolean, longPart = LONG_PART): string {
  const { circuit, changeWords: cw, busWords: bw } = layout;
  const readers = busReaders(layout);
  const parts = Array.from({ length: cw }, (_, k) => k);
  const busWords = Array.from({ length: bw }, (_, k) => k);
  const each = (list: readonly number[], text: (k: number) => string, between = ''): string =>
    list.map(text).join(between);
  const bit = (index: number): string => num(1 << (index & 31));
  /** With hooks the bits lie in the array, where the host and functions of parts see them; else in variables. */
  const bits =
    (name: string, at: number) =>
    (k: number): string =>
      hooks ? `S[${at + k}]` : `${name}${k}`;
  const c = bits('c', layout.now);
  const n = bits('n', layout.next);
  const r = bits('r', layout.round);
  const q = bits('q', layout.states);
  const g = bits('g', layout.again);
  const b = bits('b', layout.changed);
  const a = (k: number): string => `a${k}`;
  const busList = hooks ? '' : each(busWords, b, ',');
  let names = 1;
  const neverFloats = new Set<Driver>();

  const laneOf = (net: number): Lane => {
    const at = net < 0 ? undefined : layout.places[net];
    if (at !== undefined) return { at: at.bus.at, from: at.bit };
    const fed = net < 0 ? 0 : circuit.fed[net]!;
    return { value: fed === 0 ? circuit.floating : fed };
  };
  const busAt = new Map(layout.buses.map((bus) => [bus.at, bus]));
  const before = (at: number): string => {
    const bus = busAt.get(at);
    return bus === undefined ? `S[${at}]` : `(${b(bus.id >> 5)}&${bit(bus.id)}?S[${bus.old}]:S[${at}])`;
  };
  const movedOf = (entry: PartLayout): string => {
    const { part } = entry;
    const masks = new Map<Bus, number>();
    for (const net of part.kind === 'model' ? part.ins.flat() : part.inputs) {
      const at = net < 0 ? undefined : layout.places[net];
      if (at !== undefined) masks.set(at.bus, (masks.get(at.bus) ?? 0) | (0x10001 << at.bit));
    }
    const terms = [...masks].map(
      ([bus, mask]) => `(${b(bus.id >> 5)}&${bit(bus.id)}&&((S[${bus.old}]^S[${bus.at}])&${num(mask)}))`,
    );
    return terms.length === 0 ? 'false' : `(${terms.join('||')})`;
  };
  const contextOf = (entry: PartLayout): PartContext => {
    const word = entry.place >> 5;
    const at = `S[${layout.alert + word}]`;
    return {
      lane: laneOf,
      who: layout.who,
      before,
      isAlert: `(${at}&${bit(entry.place)})`,
      isAgain: `(${g(word)}&${bit(entry.place)})`,
      isMoved: movedOf(entry),
      alert: `${at}|=${bit(entry.place)};`,
      calm: `${at}&=${num(~(1 << (entry.place & 31)))};`,
    };
  };

  // Buses.
  const isPrivate = (bus: Bus): boolean =>
    bus.drivers.length === 1 && new Set(bus.drivers[0]!.nets).size === bus.drivers[0]!.nets.length;
  /** Words that make up what is driven, one for each driver and pin of a part that drives a net twice. */
  const termsOf = (bus: Bus, word: (driver: Driver) => string): string[] =>
    bus.drivers.flatMap((driver) => {
      const froms = bus.nets.map((net) => driver.nets.flatMap((to, from) => (to === net ? [from] : [])));
      const most = Math.max(0, ...froms.map((list) => list.length));
      return Array.from({ length: most }, (_, n) =>
        gather(
          froms.map((list): Lane => (list[n] === undefined ? { value: 0 } : { at: driver.at, from: list[n] })),
          () => word(driver),
        ),
      );
    });
  /** From what is driven, t, to what is read, t, and which lanes float, z. */
  const pulled = (bus: Bus): string => {
    const mask = 2 ** bus.nets.length - 1;
    let up = 0;
    let down = 0;
    bus.nets.forEach((net, k) => {
      if (circuit.pulls[net]! & HIGH) up |= 1 << k;
      if (circuit.pulls[net]! & LOW) down |= 1 << k;
    });
    let code = `z=~(t|(t>>>16))&${num(mask)};`;
    if (up !== 0) code += `t|=z&${num(up)};`;
    if (down !== 0) code += `t|=(z&${num(down)})<<16;`;
    if ((up | down) !== 0) code += `z&=${num(~(up | down))};`;
    return `${code}${circuit.floating === X ? 't|=z|(z<<16);' : circuit.floating === HIGH ? 't|=z;' : 't|=z<<16;'}`;
  };
  const isOther = (bus: Bus, floats = true): string => `t!==S[${bus.at}]||S[${bus.floats}]!==${floats ? 'z' : '0'}`;
  /** Takes the new levels; z is then which lanes changed. A lane that floats now and did not may read as before, and wakes nobody. */
  const store = (bus: Bus, floats = true): string =>
    `S[${bus.floats}]=${floats ? 'z' : '0'};z=S[${bus.at}];${readers.sampled[bus.id] ? `if(!(${b(bus.id >> 5)}&${bit(bus.id)}))S[${bus.old}]=z;` : ''}S[${bus.at}]=t;z^=t;`;
  const shared = layout.buses
    .filter((bus) => !bus.hooked && !isPrivate(bus))
    .map((bus) => {
      const terms = termsOf(bus, (driver) => `S[${driver.at}]`);
      const mask = num(2 ** bus.nets.length - 1);
      const opposed = terms.map((term) => `w=${term};x|=w&~(w>>>16);y|=(w>>>16)&~w;`).join('');
      const conflict =
        terms.length > 1
          ? `if(t&(t>>>16)&${mask}){let w=0,x=0,y=0;${opposed}if(x&y&${mask})S[${layout.suspect}]=1;}`
          : '';
      return `function u${bus.id}(${hooks ? '' : b(bus.id >> 5)}){let t=${terms.join('|') || '0'},z=0;${conflict}${pulled(bus)}
if(${isOther(bus)}){${store(bus)}return (z|(z>>>16))&65535|65536;}return 0;}`;
    })
    .join('\n');
  /**
   * What a changed bus wakes, by the lanes that changed, z. Parts after the one that drives it are asked in this sweep, others in
   * the next one.
   */
  const wake = (bus: Bus, place: number): string => {
    const all = 2 ** bus.nets.length - 1;
    const groups = new Map<number, { later: number[]; earlier: number[]; commit: number[]; alert: number[] }>();
    const put = (list: readonly Reader[], kind: (reader: Reader) => 'later' | 'earlier' | 'commit' | 'alert'): void => {
      for (const reader of list) {
        const group = groups.get(reader.lanes) ?? { later: [], earlier: [], commit: [], alert: [] };
        groups.set(reader.lanes, group);
        group[kind(reader)].push(reader.place);
      }
    };
    put(readers.driving[bus.id]!, (reader) => (reader.place > place ? 'later' : 'earlier'));
    put(readers.committing[bus.id]!, () => 'commit');
    put(readers.whenAlert[bus.id]!, () => 'alert');
    const set = (name: string, mask: number): string => (mask === 0 ? '' : `${name}|=${num(mask)};`);
    const text = [...groups].map(([lanes, group]) => {
      const [later, earlier, commit, alert] = [group.later, group.earlier, group.commit, group.alert].map((places) =>
        maskWords(places, cw),
      );
      const marks = each(
        parts,
        (k) =>
          `${set(`${c(k)}`, later![k]!)}${set(`${n(k)}`, earlier![k]!)}${set(`${r(k)}`, commit![k]!)}${
            alert![k] === 0 ? '' : `${r(k)}|=S[${layout.alert + k}]&${num(alert![k]!)};`
          }`,
      );
      const test = isPrivate(bus) ? lanes | (lanes << 16) : lanes;
      return lanes === all ? marks : `if(z&${num(test)}){${marks}}`;
    });
    return `${b(bus.id >> 5)}|=${bit(bus.id)};${text.join('')}`;
  };
  const toHost = hooks ? '' : each(busWords, (k) => `S[${layout.changed + k}]=${b(k)};`);
  const fromHost = hooks ? '' : each(busWords, (k) => `${b(k)}=S[${layout.changed + k}];`);
  /** Takes what the host woke. */
  const takeMarks = (place: number): string =>
    `${fromHost}${each(parts, (k) => {
      const later = place < k * 32 ? -1 : place >= k * 32 + 31 ? 0 : -2 << (place & 31);
      const marks = `S[${layout.marks + k}]`;
      const split =
        later === -1
          ? `${c(k)}|=t;`
          : later === 0
            ? `${n(k)}|=t;`
            : `${c(k)}|=t&${num(later)};${n(k)}|=t&${num(~later)};`;
      return `t=${marks};if(t!==0){${marks}=0;${split}}t=S[${layout.commitMarks + k}];if(t!==0){S[${layout.commitMarks + k}]=0;${r(k)}|=t;}`;
    })}`;
  const update = (bus: Bus, place: number, driver: Driver, word: string, floats: boolean): string => {
    const slow = `${toHost}H.bus(${bus.id});${takeMarks(place)}`;
    if (bus.hooked) return slow;
    const fast = isPrivate(bus)
      ? `t=${termsOf(bus, (one) => (one === driver ? word : `S[${one.at}]`)).join('|')};${floats ? pulled(bus) : ''}if(${isOther(bus, floats)}){${store(bus, floats)}${wake(bus, place)}}`
      : `z=u${bus.id}(${hooks ? '' : b(bus.id >> 5)});if(z!==0){${wake(bus, place)}}`;
    return hooks ? `if(S[${layout.hooks + (bus.id >> 5)}]&${bit(bus.id)}){${slow}}else{${fast}}` : fast;
  };
  const busesOf = (driver: Driver): Bus[] => [
    ...new Set(driver.nets.map((net) => layout.places[net]?.bus).filter((bus) => bus !== undefined)),
  ];
  const updateAll = (driver: Driver, place: number, word: string, floats: boolean): string =>
    busesOf(driver)
      .map((bus) => update(bus, place, driver, word, floats))
      .join('\n');
  /** An output that drives a rail the other way is a conflict. */
  const againstRails = (driver: Driver): string => {
    let mask = 0;
    driver.nets.forEach((net, lane) => {
      if (net >= 0 && circuit.fed[net] === HIGH) mask |= 1 << (lane + 16);
      if (net >= 0 && circuit.fed[net] === LOW) mask |= 1 << lane;
    });
    return mask === 0 ? '' : `S[${layout.suspect}]|=o&${num(mask)};`;
  };

  // Parts.
  const temporaries = (w: Writer): string => {
    names = Math.max(names, w.names);
    return w.names === 0 ? '' : `let ${Array.from({ length: w.names }, (_, k) => `v${k}=0`).join()};`;
  };
  const faultedOr = (place: number, slow: string, fast: string): string =>
    hooks ? `if(S[${layout.faulted + (place >> 5)}]&${bit(place)}){${slow}}else{${fast}}` : fast;
  const drivePiece = (entry: PartLayout): Piece | undefined => {
    const { place } = entry;
    if (entry.drivers.length === 0) return undefined;
    const w = new Writer();
    const values = writeDrive(w, entry, contextOf(entry));
    values.forEach(({ floats }, k) => {
      if (!floats) neverFloats.add(entry.drivers[k]!);
    });
    const set = (changed: (driver: Driver, k: number) => string): string =>
      entry.drivers
        .map(
          (driver, k) =>
            `o=${values[k]!.code};if(o!==S[${driver.at}]){S[${driver.at}]=o;${againstRails(driver)}${changed(driver, k)}}`,
        )
        .join('\n');
    const slow = `${toHost}H.drive(${place});${takeMarks(place)}`;
    const updates = entry.drivers.map(
      (driver, k) => `if(m&${1 << k}){${updateAll(driver, place, `S[${driver.at}]`, values[k]!.floats)}}`,
    );
    const inline = faultedOr(
      place,
      slow,
      `${w}${set((driver, k) => updateAll(driver, place, 'o', values[k]!.floats))}`,
    );
    if (hooks)
      return {
        place,
        inline,
        call: `d${place}();`,
        body: `function d${place}(){let o=0,t=0,z=0;${temporaries(w)}${inline}}`,
      };
    return {
      place,
      inline,
      call: faultedOr(place, slow, `m=d${place}();if(m!==0){${updates.join('')}}`),
      body: `function d${place}(){let o=0,m=0;${temporaries(w)}${w}${set((_, k) => `m|=${1 << k};`)}return m;}`,
    };
  };
  const commitPiece = (entry: PartLayout): Piece | undefined => {
    const { part, place, hasCommit } = entry;
    if (!hasCommit) return undefined;
    const context = contextOf(entry);
    const write = (changed: string): Writer => {
      const w = new Writer();
      if (part.kind === 'model') writeModelCommit(w, entry, context, changed);
      else writeStateCommit(w, entry, context, changed);
      return w;
    };
    const changed = `${q(place >> 5)}|=${bit(place)};`;
    const slow = `if(H.commit(${place})){${changed}}`;
    const inner = write('is=true;');
    return {
      place,
      inline: faultedOr(place, slow, write(changed).toString()),
      call: hooks ? `k${place}();` : faultedOr(place, slow, `if(k${place}(${g(place >> 5)},${busList})){${changed}}`),
      body: hooks
        ? `function k${place}(){${temporaries(inner)}${faultedOr(place, slow, write(changed).toString())}}`
        : `function k${place}(${g(place >> 5)},${busList}){let is=false;${temporaries(inner)}${inner}return is;}`,
    };
  };
  const functions: string[] = [];
  let room = LONG_MACHINE;
  const sweepOf = (pieces: readonly (Piece | undefined)[], name: (k: number) => string): string =>
    each(parts, (k) => {
      let text = '';
      for (let group = k * 32; group < k * 32 + 32; group += 8) {
        const some = pieces.slice(group, group + 8).filter((piece) => piece !== undefined);
        if (some.length === 0) continue;
        text += `if(${name(k)}&${num(255 << (group & 31))}){${some
          .map((piece) => {
            const isLong = hooks || piece.inline.length > longPart || piece.inline.length > room;
            if (isLong) functions.push(piece.body);
            else room -= piece.inline.length;
            return `if(${name(k)}&${bit(piece.place)}){${isLong ? piece.call : piece.inline}}`;
          })
          .join('\n')}}`;
      }
      return text === '' ? '' : `if(${name(k)}!==0){${text}}`;
    });
  const drivePieces = layout.parts.map(drivePiece);
  const drives = sweepOf(drivePieces, c);
  const commits = sweepOf(layout.parts.map(commitPiece), (k) => `e${k}`);
  /** Parts to be asked again after a round in which their state changed, though no input did: always, or while they are alert. */
  const again = new Array<number>(cw).fill(0);
  const mayBeAlert = new Array<number>(cw).fill(0);
  for (const { part, place } of layout.parts) {
    const isPlain = part.kind === 'model' ? part.model.commitsOn !== undefined : !readsOwnState(part.formulas);
    if (canBeAlert(part)) mayBeAlert[place >> 5]! |= 1 << (place & 31);
    if (!isPlain) again[place >> 5]! |= 1 << (place & 31);
  }
  const any = (name: (k: number) => string): string => `(${each(parts, name, '|')})!==0`;
  const zero = (name: (k: number) => string): string => each(parts, (k) => `${name(k)}=0;`);
  const list = (name: (k: number) => string): string => each(parts, name, ',');
  // A source that drives one part only, as an oscillator's inner one does: that part is asked at once, without a sweep.
  const soon = (driver: Driver): string => {
    const readersOf = busesOf(driver).flatMap((bus) => readers.driving[bus.id]!);
    const place = readersOf[0]?.place;
    if (readersOf.length !== 1 || place === undefined) return '';
    const piece = drivePieces[place];
    if (hooks || piece === undefined || piece.inline.length > longPart) return '';
    const isAlone = each(parts, (k) => `${c(k)}===${k === place >> 5 ? bit(place) : 0}`, '&&');
    return `if(${isAlone}){${c(place >> 5)}=0;${piece.inline}${each(parts, (k) => `${c(k)}|=${n(k)};${n(k)}=0;`)}}`;
  };
  const swings = layout.sources
    .map(
      (driver, k) =>
        `case ${k}:o=S[${driver.at}]^65537;S[${driver.at}]=o;${updateAll(driver, -1, 'o', false)}${soon(driver)}break;`,
    )
    .join('\n');
  const models = layout.parts
    .filter(({ part }) => part.kind === 'model')
    .map(({ place }) => `const m${place}=m[${place}];`)
    .join('');
  // Straight on, eight buses behind one test: most steps change few.
  const record = each(busWords, (k) => {
    let text = '';
    for (let group = k * 32; group < Math.min(k * 32 + 32, layout.buses.length); group += 8) {
      const rows = layout.buses.slice(group, group + 8).map((bus) => {
        const canFloat = hooks || bus.hooked || bus.drivers.length !== 1 || !neverFloats.has(bus.drivers[0]!);
        const levels = canFloat ? `S[${bus.at}]&~(S[${bus.floats}]*65537)` : `S[${bus.at}]`;
        return `if(m&${bit(bus.id)}){R[at]=j|${bus.id};R[at+1]=${levels};at+=${RECORD_WORDS};}`;
      });
      text += `if(m&${num(255 << (group & 31))}){${rows.join('')}}`;
    }
    return `m=${a(k)}&S[${layout.watch + k}];${text}`;
  });
  // Engines put what a constant holds into the code they make, not so a parameter. Within a loop they know only what the function
  // itself holds; and a function that is entered once and then loops is compiled with less knowledge: so some makes some
  // steps and is called again and again.
  return `'use strict';
const S0=s,S=s,H=h,T=t,R=r;
${models}
${shared}
${functions.join('\n')}
const limit=R.length-${RECORD_WORDS * layout.buses.length};
let room=0;
function record(h,${each(busWords, (k) => `${a(k)}`, ',')}){
let m=0,at=room;
const j=h<<${busBits(layout)};
${record}
room=at>limit?H.flush(at):at;
}
function some(from,to,source,rec){
const S=S0;
${hooks ? each(parts, (k) => `${n(k)}=0;${q(k)}=0;`) : `let ${each(parts, (k) => `c${k}=S[${layout.now + k}],n${k}=0,r${k}=S[${layout.round + k}],g${k}=S[${layout.again + k}],q${k}=0`, ',')},${each(busWords, (k) => `b${k}=S[${layout.changed + k}]`, ',')};`}
let ${each(parts, (k) => `e${k}=0`, ',')},${each(busWords, (k) => `a${k}=0`, ',')},o=0,t=0,z=0,m=0,sw=0,round=0,h=from,${Array.from({ length: names }, (_, k) => `v${k}=0`).join()};
do{
h++;
if(source>=0)S[${layout.edge}]++;
switch(source){
${swings}
default:
}
round=0;
for(;;){
sw=0;
while(${any(c)}){
if(++sw>${SWEEPS}){${toHost}H.unknown(${list(c)});${takeMarks(-1)}${each(parts, (k) => `${c(k)}=-1;`)}sw=-1e9;}
${drives}
${each(parts, (k) => `${c(k)}=${n(k)};${n(k)}=0;`)}}
if(source===-2||!(${any(r)})){${zero(g)}break;}
${each(parts, (k) => `e${k}=${r(k)}${hooks ? `|S[${layout.faulted + k}]` : ''};${r(k)}=0;`)}
${commits}
${each(busWords, (k) => `${a(k)}|=${b(k)};${b(k)}=0;`)}
if(!(${any(q)})){${zero(g)}break;}
${each(parts, (k) => `${c(k)}|=${q(k)};${r(k)}|=${q(k)}&(${num(again[k]!)}|(S[${layout.alert + k}]&${num(mayBeAlert[k]!)}));${g(k)}=${q(k)};${q(k)}=0;`)}
if(++round>${ROUNDS}){H.restless(${list(c)});${each(parts, (k) => `${r(k)}|=${c(k)};`)}break;}
}
${each(busWords, (k) => `${a(k)}|=${b(k)};${b(k)}=0;`)}
if(S[${layout.suspect}]!==0){if(source!==-2)H.conflicts();S[${layout.suspect}]=0;}
if(rec&&(${each(busWords, (k) => `(${a(k)}&S[${layout.watch + k}])`, '|')})!==0)record(h,${each(busWords, (k) => `${a(k)}`, ',')});
${each(busWords, (k) => `${a(k)}=0;`)}
if(S[${layout.stop}]!==0)break;
}while(h<to);
${hooks ? '' : each(parts, (k) => `S[${layout.now + k}]=c${k};S[${layout.round + k}]=r${k};S[${layout.again + k}]=g${k};`)}
${each(busWords, (k) => `S[${layout.changed + k}]=0;`)}
return h;
}
return function run(steps,source,rec){
let h=0;
do{
h=some(h,Math.min(steps,h+${BATCH}),source,rec);
if(S[${layout.stop}]!==0){S[${layout.stop}]=0;break;}
}while(h<steps);
if(room!==0){H.flush(room);room=0;}
return h;
};`;
}
