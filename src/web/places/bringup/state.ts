// Bring-up's worker and what it said, kept apart from any view so that a capture stays when the person looks elsewhere.

import { signal } from '@preact/signals';
import type {
  BringupDiagnosis,
  BringupGuide,
  BringupPlan,
  BringupReading,
  FromBringup,
  ToBringup,
} from '../../bringup-protocol.ts';
import { onText, projectForWorker, put } from '../../state/session.ts';
import { model, notice } from '../../state/store.ts';

export const plan = signal<BringupPlan | undefined>(undefined);
export const reading = signal<BringupReading | undefined>(undefined);
/** Undefined while there is none or it is being made. */
export const diagnosis = signal<BringupDiagnosis | undefined>(undefined);
/** What to measure next; undefined while there is no question. */
export const guide = signal<BringupGuide | undefined>(undefined);
/** Sentences of a file that was no capture. */
export const refused = signal<readonly string[]>([]);
export const progress = signal<{ readonly words: string; readonly share: number } | undefined>(undefined);

let worker: Worker | undefined;
let build = '';
const turn = typeof SharedArrayBuffer === 'undefined' ? undefined : new SharedArrayBuffer(4);

function send(message: ToBringup): void {
  // What is being tried for the message before is no longer wanted.
  if (turn !== undefined && message.kind !== 'text') Atomics.add(new Int32Array(turn), 0, 1);
  worker?.postMessage(message);
}

/** Stops the trying; the capture stays beside the prediction. */
export function stop(): void {
  if (turn !== undefined) Atomics.add(new Int32Array(turn), 0, 1);
}
export const canStop = turn !== undefined;

let writing: ReturnType<typeof setTimeout> | undefined;

function take(message: FromBringup): void {
  switch (message.kind) {
    case 'plan':
      plan.value = message.plan;
      progress.value = undefined;
      return;
    case 'progress':
      progress.value = { words: message.words, share: message.share };
      return;
    case 'reading':
      reading.value = message.reading;
      refused.value = message.refused;
      diagnosis.value = undefined;
      guide.value = undefined;
      progress.value = message.reading === undefined || message.refused.length > 0 ? undefined : progress.value;
      return;
    case 'diagnosis':
      diagnosis.value = message.diagnosis;
      guide.value = undefined;
      progress.value = undefined;
      return;
    case 'guide':
      guide.value = message.guide;
      progress.value = undefined;
      return;
    case 'write':
      // Channels are told one after another: the last text is written.
      clearTimeout(writing);
      writing = setTimeout(() => void put(message.path, message.text), 350);
      return;
    case 'failed':
      progress.value = undefined;
      notice.value = `Bring-up came to nothing: ${message.message}`;
  }
}

/** Starts the worker with the project as it is now, or anew where another build was chosen; asks for the stage's plan. */
export function ask(stage: number): void {
  if (worker === undefined || build !== model.value.build) {
    worker?.terminate();
    worker = new Worker(new URL('../../bringup-worker.ts', import.meta.url), { type: 'module', name: 'bring-up' });
    worker.onmessage = ({ data }: MessageEvent<FromBringup>) => take(data);
    worker.onerror = (event) => take({ kind: 'failed', message: event.message });
    build = model.value.build;
    plan.value = undefined;
    reading.value = undefined;
    diagnosis.value = undefined;
    send({ kind: 'open', ...projectForWorker(), build, turn });
  }
  if (plan.value?.stage !== stage) plan.value = undefined;
  progress.value = { words: 'Working out what should be seen', share: 0 };
  send({ kind: 'plan', stage });
}

onText((path, text) => {
  // The journal changes with every step and nothing here rests on it but the numbers of steps.
  send({ kind: 'text', path, text });
});

export function readFile(stage: number, file: File): void {
  progress.value = { words: 'Reading the file', share: 0 };
  refused.value = [];
  send({ kind: 'file', stage, file, name: file.name });
}

export function tellChannel(stage: number, channel: string, net: string | null, inverted: boolean): void {
  progress.value = { words: 'Laying it on the clock', share: 0 };
  send({ kind: 'tell', stage, channel, net, inverted });
}

/** Answers the question: a button's word, or what was typed. */
export function answer(text: string, isButton: boolean): void {
  send({ kind: 'answer', text, isButton });
}

export function clear(): void {
  send({ kind: 'clear' });
}
