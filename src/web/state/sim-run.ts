// The simulated machine as the page has it: what it shows, and what is said to its thread. It goes on while the person looks at
// another place; it is switched off when another stage or build is chosen.

import { batch, effect, signal } from '@preact/signals';
import type { FromSim, ProofRow, SimLook, SimOrder, SimShown, ToSim } from '../sim-worker.ts';
import { projectForWorker } from './session.ts';
import { model, notice, selection, stage } from './store.ts';

export type SimOn = Extract<FromSim, { kind: 'on' }>;

export const simOn = signal<SimOn | undefined>(undefined);
export const simShown = signal<SimShown | undefined>(undefined);
/** Under way: the machine is being put together, or its proofs are run. */
export const simBusy = signal<'' | 'on' | 'proofs'>('');
export const simProofs = signal<readonly ProofRow[] | undefined>(undefined);
/** Clocks a second on the wall; 0 as fast as it goes; undefined the machine's own. */
export const simPace = signal<number | undefined>(undefined);
export const simMemory = signal(0);
/** Levels, registers and the rest are as of this stage and build; another one switches off. */
let of = '';
let worker: Worker | undefined;
let prover: Worker | undefined;
const texts = new Set<(text: string) => void>();
/** What the terminal received since it was switched on, for a terminal that is opened later. */
let said = '';
const MOST_SAID = 100_000;

/** Hears what arrives at the terminal; gets at once what arrived before. */
export function hearTerminal(take: (text: string) => void): () => void {
  texts.add(take);
  if (said !== '') take(said);
  return () => texts.delete(take);
}

const orderNow = (): SimOrder => ({ ...projectForWorker(), build: model.value.build, stage: stage.value });
const lookNow = (): SimLook => ({
  net: selection.value.net,
  part: selection.value.net === undefined ? selection.value.part : undefined,
  memory: simMemory.value,
});
const say = (message: ToSim): void => worker?.postMessage(message);

function start(take: (data: FromSim) => void, failed: (message: string) => void): Worker {
  const made = new Worker(new URL('../sim-worker.ts', import.meta.url), { type: 'module', name: 'machine' });
  made.onmessage = ({ data }: MessageEvent<FromSim>) => take(data);
  made.onerror = (event) => failed(event.message);
  return made;
}

/** Power on, anew where it was on. */
export function powerOn(): void {
  powerOff();
  of = `${model.value.build} ${stage.value}`;
  simBusy.value = 'on';
  const failed = (message: string): void => {
    notice.value = `The machine can't be simulated: ${message}`;
    powerOff();
  };
  worker = start((data) => {
    if (data.kind === 'shown') simShown.value = data.shown;
    else if (data.kind === 'received') {
      said = (said + data.text).slice(-MOST_SAID);
      for (const take of texts) take(data.text);
    } else if (data.kind === 'on')
      batch(() => {
        simOn.value = data;
        simBusy.value = '';
      });
    else if (data.kind === 'failed') failed(data.message);
  }, failed);
  say({ kind: 'on', order: orderNow(), look: lookNow() });
}

export function powerOff(): void {
  worker?.terminate();
  worker = undefined;
  said = '';
  batch(() => {
    simOn.value = undefined;
    simShown.value = undefined;
    if (simBusy.value === 'on') simBusy.value = '';
  });
}

export function run(): void {
  const on = simOn.value;
  if (on === undefined) return;
  say({ kind: 'run', pace: simPace.value ?? (on.rateHz === 0 ? 1000 : on.rateHz) });
}
export const pause = (): void => say({ kind: 'pause' });
export const step = (what: 'clock' | 'cycle' | 'instruction'): void => say({ kind: 'step', what });
export const hand = (name: string, on: boolean): void => say({ kind: 'hand', name, on });
export const send = (text: string): void => say({ kind: 'send', text });

export function choosePace(pace: number | undefined): void {
  simPace.value = pace;
  if (simShown.value?.isRunning === true) run();
}

/** Runs the proofs of the stage on machines of their own, in a thread of their own. */
export function prove(): void {
  prover?.terminate();
  simBusy.value = 'proofs';
  const done = (): void => {
    prover?.terminate();
    prover = undefined;
    if (simBusy.value === 'proofs') simBusy.value = '';
  };
  const failed = (message: string): void => {
    notice.value = `The proofs can't be simulated: ${message}`;
    done();
  };
  prover = start((data) => {
    if (data.kind === 'failed') failed(data.message);
    if (data.kind !== 'proofs') return;
    simProofs.value = data.proofs;
    done();
  }, failed);
  prover.postMessage({ kind: 'prove', order: orderNow() } satisfies ToSim);
}

effect(() => {
  const look = lookNow();
  say({ kind: 'look', look });
});
let proofsOf = '';
effect(() => {
  const now = `${model.value.build} ${stage.value}`;
  if (worker !== undefined && now !== of) powerOff();
  const version = `${now} ${model.value.version}`;
  if (version !== proofsOf) simProofs.value = undefined;
  proofsOf = version;
});
