// A second pair of eyes on `lay --json`, `netlist --json` and journal.jsonl. It knows solderless boards and the JSON contract
// only and shares no code with src: holes and strips are rebuilt from the names of the holes, strips are united by wires, and
// what comes out is compared with the nets. What it returns is a list of complaints; an empty list is agreement.

export interface LaidEnd {
  readonly hole: string;
  readonly strip: string;
}

export interface LaidPin extends LaidEnd {
  readonly pin: string;
  readonly number: number;
  readonly net: string | null;
}

export interface LaidPart {
  readonly part: string;
  readonly type: string;
  readonly rotation: number;
  readonly pins: readonly LaidPin[];
}

export interface LaidWire {
  readonly id: string;
  readonly from: LaidEnd;
  readonly to: LaidEnd;
  readonly net: string;
  readonly cutMm: number;
}

export interface Laid {
  readonly stage: number;
  readonly boards: readonly { readonly board: number; readonly kind: string; readonly x: number; readonly y: number }[];
  readonly parts: readonly LaidPart[];
  readonly wires: readonly LaidWire[];
  readonly totals: { readonly wires: number; readonly cutMm: number };
}

export interface Nets {
  readonly stage: number;
  readonly nets: readonly {
    readonly name: string;
    readonly pins: readonly string[];
    /** Pins that their part joins to one of `pins`. */
    readonly legs?: readonly string[];
  }[];
}

/** Columns of strips, first and last column of the rails, and the column at which the rails are broken. */
const KINDS: Record<string, { columns: number; rails?: [number, number]; gap?: number; only?: 't' }> = {
  full: { columns: 63, rails: [3, 61], gap: 32 },
  half: { columns: 30, rails: [2, 30] },
  mini: { columns: 17 },
  terminal: { columns: 63 },
  single: { columns: 63, rails: [3, 61], gap: 32, only: 't' },
  bus: { columns: 0, rails: [3, 61], gap: 32, only: 't' },
};

/** Pitches below the top rail. */
const DOWN: Record<string, number> = {
  't+': 0,
  't-': 1,
  j: 4,
  i: 5,
  h: 6,
  g: 7,
  f: 8,
  e: 11,
  d: 12,
  c: 13,
  b: 14,
  a: 15,
  'b+': 18,
  'b-': 19,
};

interface Spot {
  readonly strip: string;
  readonly x: number;
  readonly y: number;
  readonly rail: boolean;
}

/** The spot of a hole on these boards, or what is wrong with its name. */
export function spotOf(hole: string, boards: Laid['boards']): Spot | string {
  const match = /^(\d+):(?:([tb])([+-])(\d+)|(\d+)([a-j]))$/.exec(hole);
  if (match === null) return `${hole} is no name of a hole`;
  const board = boards.find((one) => one.board === Number(match[1]));
  if (board === undefined) return `${hole} is on a board that is not there`;
  const kind = KINDS[board.kind];
  if (kind === undefined) return `board ${board.board} is of no known kind, ${board.kind}`;
  const column = Number(match[4] ?? match[5]);
  const row = match[6] ?? `${match[2]}${match[3]}`;
  const x = Math.round(board.x / 2.54) + column - 1;
  const y = Math.round(board.y / 2.54) + DOWN[row]!;
  if (match[6] !== undefined) {
    if (column < 1 || column > kind.columns) return `there is no hole ${hole}`;
    return { strip: `${board.board}:${column}${row >= 'f' ? 'f-j' : 'a-e'}`, x, y, rail: false };
  }
  const rails = kind.rails;
  if (rails === undefined || (kind.only !== undefined && match[2] !== kind.only)) return `there is no hole ${hole}`;
  const [first, last] = rails;
  // Groups of five holes, then a column without.
  if (column < first || column > last || (column - first) % 6 === 5) return `there is no hole ${hole}`;
  const [from, to] =
    kind.gap === undefined ? [first, last] : column < kind.gap ? [first, kind.gap - 1] : [kind.gap + 1, last];
  return { strip: `${board.board}:${row}${from}-${to}`, x, y, rail: true };
}

class Sets {
  readonly #up = new Map<string, string>();

  find(name: string): string {
    let at = name;
    for (let next = this.#up.get(at); next !== undefined; next = this.#up.get(at)) at = next;
    return at;
  }

  join(a: string, b: string): void {
    const x = this.find(a);
    const y = this.find(b);
    if (x !== y) this.#up.set(x, y);
  }
}

/** What is wrong with holes, bodies and wires as of one stage, and where strips and wires give other nets than `nets`. */
export function checkStage(laid: Laid, nets: Nets): string[] {
  const wrong: string[] = [];
  if (laid.stage !== nets.stage) wrong.push(`stages differ: ${laid.stage} and ${nets.stage}`);
  const holder = new Map<string, string>();
  const spots = new Map<string, Spot>();
  const use = (end: LaidEnd, by: string): void => {
    const spot = spotOf(end.hole, laid.boards);
    if (typeof spot === 'string') {
      wrong.push(`${by}: ${spot}`);
      return;
    }
    spots.set(end.hole, spot);
    if (spot.strip !== end.strip) wrong.push(`${by}: ${end.hole} lies in strip ${spot.strip}, not ${end.strip}`);
    const other = holder.get(end.hole);
    if (other !== undefined) wrong.push(`${end.hole} holds ${other} and ${by}`);
    holder.set(end.hole, by);
  };
  const names = new Set<string>();
  for (const part of laid.parts) {
    if (names.has(part.part)) wrong.push(`${part.part} is placed twice`);
    names.add(part.part);
    const numbers = new Set<number>();
    const pins = new Set<string>();
    for (const pin of part.pins) {
      use(pin, `${part.part}.${pin.pin}`);
      if (numbers.has(pin.number)) wrong.push(`${part.part} has pin ${pin.number} twice`);
      if (pins.has(pin.pin)) wrong.push(`${part.part} has two pins ${pin.pin}`);
      numbers.add(pin.number);
      pins.add(pin.pin);
    }
  }
  const ids = new Set<string>();
  let sum = 0;
  for (const wire of laid.wires) {
    use(wire.from, `wire ${wire.id}`);
    use(wire.to, `wire ${wire.id}`);
    if (ids.has(wire.id)) wrong.push(`wire ${wire.id} is there twice`);
    ids.add(wire.id);
    sum += wire.cutMm;
    const a = spots.get(wire.from.hole);
    const b = spots.get(wire.to.hole);
    if (a === undefined || b === undefined) continue;
    const straight = Math.hypot(a.x - b.x, a.y - b.y) * 2.54;
    if (!(wire.cutMm > straight))
      wrong.push(`wire ${wire.id} is cut ${wire.cutMm} mm and spans ${straight.toFixed(1)}`);
    if (a.strip === b.strip) wrong.push(`wire ${wire.id} joins a strip to itself`);
  }
  if (laid.totals.wires !== laid.wires.length) wrong.push(`totals.wires is ${laid.totals.wires}`);
  if (Math.abs(laid.totals.cutMm - sum) > 0.01) wrong.push(`totals.cutMm is ${laid.totals.cutMm}, not ${sum}`);
  wrong.push(...checkBodies(laid, holder));
  wrong.push(...checkNets(laid, nets));
  return wrong;
}

/** Two-row packages: legs in two straight rows in the order of their numbers, and nobody's lead between them. */
function checkBodies(laid: Laid, holder: ReadonlyMap<string, string>): string[] {
  const wrong: string[] = [];
  const boxes: { part: string; x1: number; x2: number; y1: number; y2: number }[] = [];
  for (const part of laid.parts) {
    const at = part.pins.map((pin) => ({ pin, spot: spotOf(pin.hole, laid.boards) }));
    const sound = at.flatMap(({ pin, spot }) => (typeof spot === 'string' ? [] : [{ pin, spot }]));
    const ys = [...new Set(sound.map(({ spot }) => spot.y))].sort((a, b) => a - b);
    if (sound.length < 6 || ys.length !== 2 || sound.some(({ spot }) => spot.rail)) continue;
    const xs = sound.map(({ spot }) => spot.x);
    boxes.push({ part: part.part, x1: Math.min(...xs), x2: Math.max(...xs), y1: ys[0]!, y2: ys[1]! });
    const upper = part.rotation === 180;
    if (part.rotation !== 0 && !upper) {
      wrong.push(`${part.part} lies along a row but is said to be turned ${part.rotation}`);
      continue;
    }
    // Numbers run from pin 1 along one row and back along the other, counter-clockwise seen from above.
    const sorted = [...sound].sort((a, b) => a.pin.number - b.pin.number);
    const first = sorted[0]!;
    if (first.spot.y !== ys[upper ? 0 : 1])
      wrong.push(`${part.part}: pin ${first.pin.number} is in the ${upper ? 'lower' : 'upper'} row`);
    let turned = false;
    for (let i = 1; i < sorted.length; i++) {
      const before = sorted[i - 1]!.spot;
      const now = sorted[i]!.spot;
      if (before.y !== now.y) {
        if (turned) wrong.push(`${part.part}: pin ${sorted[i]!.pin.number} changes the row again`);
        turned = true;
        continue;
      }
      const step = (now.x - before.x) * (turned === upper ? 1 : -1);
      if (step <= 0) wrong.push(`${part.part}: pin ${sorted[i]!.pin.number} runs the wrong way`);
    }
  }
  for (const [hole, by] of holder) {
    const spot = spotOf(hole, laid.boards);
    if (typeof spot === 'string') continue;
    for (const box of boxes) {
      const under = spot.x >= box.x1 && spot.x <= box.x2 && spot.y > box.y1 && spot.y < box.y2;
      if (under && !by.startsWith(`${box.part}.`)) wrong.push(`${by} in ${hole} is under ${box.part}`);
    }
  }
  boxes.forEach((a, i) => {
    for (const b of boxes.slice(i + 1))
      if (a.x1 <= b.x2 && b.x1 <= a.x2 && a.y1 <= b.y2 && b.y1 <= a.y2) wrong.push(`${a.part} and ${b.part} overlap`);
  });
  return wrong;
}

/** Strips united by wires against the nets: every net one group, every group one net, every pin in a hole. */
function checkNets(laid: Laid, nets: Nets): string[] {
  const wrong: string[] = [];
  const sets = new Sets();
  for (const wire of laid.wires) sets.join(wire.from.strip, wire.to.strip);
  const groupOf = new Map<string, string>();
  const netOf = new Map<string, string | null>();
  for (const part of laid.parts)
    for (const pin of part.pins) {
      const name = `${part.part}.${pin.pin}`;
      groupOf.set(name, sets.find(pin.strip));
      netOf.set(name, pin.net);
    }
  const ownerOf = new Map<string, string>();
  const stated = new Map<string, string>();
  for (const net of nets.nets) {
    const groups = new Set<string>();
    for (const pin of net.pins) {
      if (stated.has(pin)) wrong.push(`${pin} is on ${stated.get(pin)} and ${net.name}`);
      stated.set(pin, net.name);
      const group = groupOf.get(pin);
      if (group === undefined) wrong.push(`${pin} of ${net.name} is in no hole`);
      else groups.add(group);
      if (group !== undefined && netOf.get(pin) !== net.name)
        wrong.push(`${pin} is on ${net.name}, but lay says ${netOf.get(pin)}`);
    }
    if (groups.size > 1) wrong.push(`${net.name} falls into ${groups.size} pieces: ${[...groups].join(', ')}`);
    for (const group of groups) {
      const other = ownerOf.get(group);
      if (other !== undefined) wrong.push(`${net.name} and ${other} are joined`);
      ownerOf.set(group, net.name);
    }
  }
  const lonely = new Map<string, string>();
  for (const [pin, group] of groupOf) {
    if (stated.has(pin)) continue;
    const owner = ownerOf.get(group) ?? lonely.get(group);
    if (owner !== undefined) wrong.push(`${pin} is on no net, but its strip is joined to ${owner}`);
    const told = nets.nets.find((net) => net.legs?.includes(pin))?.name ?? null;
    if (netOf.get(pin) !== told) wrong.push(`${pin} is on ${told ?? 'no net'}, but lay says ${netOf.get(pin)}`);
    lonely.set(group, pin);
  }
  for (const wire of laid.wires) {
    const owner = ownerOf.get(sets.find(wire.from.strip));
    if (owner !== undefined && owner !== wire.net) wrong.push(`wire ${wire.id} says ${wire.net} and lies on ${owner}`);
    if (owner === undefined) wrong.push(`wire ${wire.id} of ${wire.net} reaches no pin of it`);
  }
  return wrong;
}

interface Fact {
  readonly fact: string;
  readonly part?: string;
  readonly type?: string;
  readonly wire?: string;
  readonly was?: string;
  readonly from?: string;
  readonly to?: string;
  readonly cutMm?: number;
  readonly leads?: readonly (readonly [number, string])[];
}

/** What stands on the boards, from journal.jsonl alone: parts to their leads, wires to their ends. */
export function replayJournal(
  text: string,
  onAct: (holds: ReadonlyMap<string, string>, act: string) => void = () => undefined,
): {
  readonly parts: ReadonlyMap<string, { readonly type: string; readonly leads: string }>;
  readonly wires: ReadonlyMap<string, string>;
  readonly wrong: readonly string[];
} {
  const records = text
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line) as { id: string; act: string; undoes?: string; facts?: Fact[]; text?: string });
  const undone = new Set<string>();
  for (const record of [...records].reverse())
    if (record.undoes !== undefined && !undone.has(record.id)) undone.add(record.undoes);
  const parts = new Map<string, { type: string; leads: string }>();
  const wires = new Map<string, string>();
  const holds = new Map<string, string>();
  const wrong: string[] = [];
  const put = (hole: string, by: string): void => {
    const other = holds.get(hole);
    if (other !== undefined) wrong.push(`${by} goes into ${hole}, where ${other} is`);
    holds.set(hole, by);
  };
  const clear = (by: string): void => {
    for (const [hole, holder] of [...holds]) if (holder === by) holds.delete(hole);
  };
  for (const record of records) {
    if (undone.has(record.id)) continue;
    for (const fact of record.facts ?? []) {
      if (fact.fact === 'part-in') {
        clear(fact.part!); // of a part that is in: it has been moved
        parts.set(fact.part!, { type: fact.type!, leads: leadText(fact.leads!) });
        for (const [, hole] of fact.leads!) put(hole, fact.part!);
      } else if (fact.fact === 'part-out') {
        if (!parts.delete(fact.part!)) wrong.push(`${fact.part} comes out and was not in`);
        clear(fact.part!);
      } else if (fact.fact === 'wire-in') {
        if (fact.was !== undefined) {
          if (!wires.delete(fact.was)) wrong.push(`wire ${fact.was} is moved and was not in`);
          clear(`wire ${fact.was}`);
        }
        if (wires.has(fact.wire!)) wrong.push(`wire ${fact.wire} goes in twice`);
        wires.set(fact.wire!, [fact.from!, fact.to!].sort().join(' '));
        put(fact.from!, `wire ${fact.wire}`);
        put(fact.to!, `wire ${fact.wire}`);
      } else if (fact.fact === 'wire-out') {
        if (!wires.delete(fact.wire!)) wrong.push(`wire ${fact.wire} comes out and was not in`);
        clear(`wire ${fact.wire}`);
      }
    }
    onAct(holds, record.text ?? record.act);
  }
  return { parts, wires, wrong };
}

function leadText(leads: readonly (readonly [number, string])[]): string {
  return [...leads]
    .sort((a, b) => a[0] - b[0])
    .map(([number, hole]) => `${number}@${hole}`)
    .join(' ');
}

/** Where the boards as the journal tells differ from the layout of a stage. */
export function compareBuilt(built: ReturnType<typeof replayJournal>, laid: Laid): string[] {
  const wrong = [...built.wrong];
  const wanted = new Map(
    laid.parts.map((part) => [part.part, leadText(part.pins.map((pin) => [pin.number, pin.hole] as const))]),
  );
  for (const [part, leads] of wanted) {
    const there = built.parts.get(part);
    if (there === undefined) wrong.push(`${part} is not in`);
    else if (there.leads !== leads) wrong.push(`${part} is in ${there.leads}, not ${leads}`);
    const type = laid.parts.find((one) => one.part === part)!.type;
    if (there !== undefined && there.type !== type) wrong.push(`${part} is a ${there.type}, not a ${type}`);
  }
  for (const part of built.parts.keys()) if (!wanted.has(part)) wrong.push(`${part} is in and does not belong there`);
  const ends = (wire: LaidWire): string => [wire.from.hole, wire.to.hole].sort().join(' ');
  const planned = new Set(laid.wires.map(ends));
  const there = new Set(built.wires.values());
  for (const wire of laid.wires) if (!there.has(ends(wire))) wrong.push(`wire ${wire.id} ${ends(wire)} is not in`);
  for (const [id, at] of built.wires) if (!planned.has(at)) wrong.push(`wire ${id} ${at} does not belong there`);
  return wrong;
}
