// One run of the layout, with progress and stop, kept apart from any view so that it goes on when the person looks elsewhere.

import { signal } from '@preact/signals';
import type { LayOrder, LayReport } from '../lay-worker.ts';
import { edit } from './history.ts';
import { projectForWorker, textOf } from './session.ts';
import { model, notice } from './store.ts';

export interface LayState {
  readonly share: number;
  readonly best: number;
  readonly stopping: boolean;
}
export const layState = signal<LayState | undefined>(undefined);
let worker: Worker | undefined;
let flag: SharedArrayBuffer | undefined;
let seed = 1;

/** Starts a run. `fresh` lays from nothing with another seed; else what stands stays. */
export function startLay(fresh: boolean): void {
  if (worker !== undefined) return;
  flag = typeof SharedArrayBuffer === 'undefined' ? undefined : new SharedArrayBuffer(4);
  worker = new Worker(new URL('../lay-worker.ts', import.meta.url), { type: 'module', name: 'layout' });
  if (fresh) seed++;
  layState.value = { share: 0, best: 0, stopping: false };
  notice.value = '';
  const { build, stages } = model.value;
  worker.onmessage = ({ data }: MessageEvent<LayReport>) => {
    if (data.kind === 'progress') {
      layState.value = { share: data.share, best: data.best, stopping: layState.value?.stopping ?? false };
      return;
    }
    finish();
    if (data.path === undefined || data.text === undefined) {
      notice.value = data.problems[0] ?? 'No layout came of it.';
      return;
    }
    if (textOf(data.path) === data.text) {
      notice.value = `${data.words}. It is the layout that stands already.`;
      return;
    }
    void edit('lay out the boards', [{ path: data.path, text: data.text }]).then(() => {
      notice.value = [data.words, ...data.problems.slice(0, 1)].join('. ');
    });
  };
  worker.onerror = (event) => {
    finish();
    notice.value = `The layout came to nothing: ${event.message}`;
  };
  const order: LayOrder = {
    ...projectForWorker(),
    build,
    stage: stages.length,
    seed,
    moves: undefined,
    seconds: 120,
    stop: flag,
    fresh,
  };
  worker.postMessage(order);
}

/** Asks for the best so far; without shared memory the run is ended and nothing comes of it. */
export function stopLay(): void {
  if (worker === undefined) return;
  if (flag !== undefined) {
    Atomics.store(new Int32Array(flag), 0, 1);
    layState.value = { share: layState.value?.share ?? 0, best: layState.value?.best ?? 0, stopping: true };
    return;
  }
  finish();
  notice.value = 'Stopped. The layout stays as it was.';
}

function finish(): void {
  worker?.terminate();
  worker = undefined;
  layState.value = undefined;
}
