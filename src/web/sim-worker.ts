// The simulated machine in its own thread. It runs in short pieces, takes what the page says between them, and sends what the
// machine shows some thirty times a second: the page only draws.

import {
  Build,
  MachineRun,
  Project,
  runVerb,
  type RunHand,
  type RunPin,
  type RunStep,
  type RunView,
  type Shipped,
} from '../app/index.ts';

export interface SimOrder {
  readonly shipped: unknown;
  readonly files: Readonly<Record<string, string>>;
  readonly main: string;
  readonly build: string;
  readonly stage: number;
}

/** What the page looks at beside the rest. */
export interface SimLook {
  readonly net?: string | undefined;
  readonly part?: string | undefined;
  /** First address of the memory shown. */
  readonly memory: number;
}

export interface ProofRow {
  readonly proof: string;
  readonly expected: string;
  readonly predicted: string;
  readonly pass: boolean | null;
}

export type ToSim =
  | { readonly kind: 'on'; readonly order: SimOrder; readonly look: SimLook }
  /** Clocks a second on the wall; 0 for as fast as it goes. */
  | { readonly kind: 'run'; readonly pace: number }
  | { readonly kind: 'pause' }
  | { readonly kind: 'step'; readonly what: RunStep }
  | { readonly kind: 'hand'; readonly name: string; readonly on: boolean }
  | { readonly kind: 'send'; readonly text: string }
  | { readonly kind: 'look'; readonly look: SimLook }
  | { readonly kind: 'prove'; readonly order: SimOrder };

export interface SimShown extends RunView {
  readonly isRunning: boolean;
  /** Clocks a second that it makes on the wall, while it runs. */
  readonly speed: number;
  readonly pins: readonly RunPin[];
  readonly memory: readonly string[];
}

export type FromSim =
  | {
      readonly kind: 'on';
      readonly from: 'boards' | 'netlist';
      readonly rateHz: number;
      readonly hands: readonly RunHand[];
      readonly hasTerminal: boolean;
      readonly notes: readonly string[];
    }
  | { readonly kind: 'shown'; readonly shown: SimShown }
  | { readonly kind: 'received'; readonly text: string }
  | { readonly kind: 'proofs'; readonly proofs: readonly ProofRow[] }
  | { readonly kind: 'failed'; readonly message: string };

/** Bytes of memory shown. */
export const MEMORY_BYTES = 128;
/** Milliseconds between two views, and of one piece of work. */
const VIEW_MS = 33;
const PIECE_MS = 9;
/** Clocks between two looks at the clock on the wall. */
const PIECE_CLOCKS = 8192;
/** A machine that falls back by more is not made to catch up. */
const BEHIND_MS = 100;

const port = self as unknown as {
  postMessage(message: FromSim): void;
  onmessage: ((event: MessageEvent<ToSim>) => void) | null;
};

let machine: MachineRun | undefined;
let look: SimLook = { memory: 0 };
let isRunning = false;
let pace = 0;
/** Where time on the wall and of the machine were last the same; the last view, and the machine's clocks then. */
let wall = 0;
let start = 0;
let shownAt = 0;
let speedAt = 0;
let speedClocks = 0;
let speed = 0;

// A timeout waits four milliseconds at least; a message to oneself does not, and lets the page's in between.
const again = new MessageChannel();
again.port1.onmessage = () => piece();
const later = (ms: number): void => {
  if (ms <= 0) again.port2.postMessage(0);
  else setTimeout(piece, ms);
};

function buildOf(order: SimOrder): Build {
  const project = new Project(order.shipped as Shipped, new Map(Object.entries(order.files)), order.main);
  return new Build(project, order.build);
}

function show(): void {
  if (machine === undefined) return;
  const text = machine.received();
  if (text !== '') port.postMessage({ kind: 'received', text });
  const { net, part } = look;
  port.postMessage({
    kind: 'shown',
    shown: {
      ...machine.view(),
      isRunning,
      speed,
      pins: part !== undefined ? machine.pins({ part }) : net !== undefined ? machine.pins({ net }) : [],
      memory: machine.memory(look.memory, MEMORY_BYTES),
    },
  });
  shownAt = performance.now();
}

function piece(): void {
  if (!isRunning || machine === undefined) return;
  const begin = performance.now();
  // How far it is to be by now; a slow machine is asked again when its next clock is due.
  const clockNs = machine.clockNs;
  const until = pace === 0 ? Number.POSITIVE_INFINITY : start + ((begin - wall) / 1000) * pace * clockNs;
  let now = begin;
  while (machine.ns < until && now - begin < PIECE_MS) {
    machine.runFor(Math.min(until - machine.ns, PIECE_CLOCKS * clockNs));
    machine.look();
    now = performance.now();
  }
  if (pace !== 0 && ((until - machine.ns) / clockNs / pace) * 1000 > BEHIND_MS) {
    wall = now;
    start = machine.ns;
  }
  if (now - shownAt >= VIEW_MS) {
    if (now - speedAt > 500) {
      const clocks = machine.ns / clockNs;
      speed = ((clocks - speedClocks) / (now - speedAt)) * 1000;
      speedAt = now;
      speedClocks = clocks;
    }
    show();
  }
  later(machine.ns < until ? 0 : Math.min(VIEW_MS, Math.max(1, 1000 / Math.max(pace, 1))));
}

function take(data: ToSim): void {
  switch (data.kind) {
    case 'on': {
      isRunning = false;
      look = data.look;
      machine = new MachineRun(buildOf(data.order), data.order.stage);
      machine.toReset();
      port.postMessage({
        kind: 'on',
        from: machine.from,
        rateHz: machine.rateHz,
        hands: machine.hands,
        hasTerminal: machine.hasTerminal,
        notes: machine.findings.map(({ message }) => message),
      });
      show();
      return;
    }
    case 'run':
      if (machine === undefined) return;
      pace = data.pace;
      wall = performance.now();
      start = machine.ns;
      speed = 0;
      speedAt = wall;
      speedClocks = machine.ns / machine.clockNs;
      if (isRunning) return;
      isRunning = true;
      piece();
      return;
    case 'pause':
      isRunning = false;
      speed = 0;
      show();
      return;
    case 'step':
      isRunning = false;
      speed = 0;
      machine?.step(data.what);
      show();
      return;
    case 'hand':
      machine?.hand(data.name, data.on);
      if (!isRunning) show();
      return;
    case 'send':
      machine?.send([...data.text].map((character) => character.charCodeAt(0) & 0xff));
      return;
    case 'look':
      look = data.look;
      if (!isRunning) show();
      return;
    case 'prove': {
      const { value } = runVerb(buildOf(data.order), { stage: data.order.stage, clocks: 1_000_000 });
      port.postMessage({ kind: 'proofs', proofs: (value as { readonly proofs: readonly ProofRow[] }).proofs });
    }
  }
}

port.onmessage = ({ data }) => {
  try {
    take(data);
  } catch (error) {
    isRunning = false;
    port.postMessage({ kind: 'failed', message: error instanceof Error ? error.message : String(error) });
  }
};
