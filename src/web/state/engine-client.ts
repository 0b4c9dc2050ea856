// The page's side of the engine worker: questions with answers by number, and news as it comes.

import type { AskName, Asks, FindingsNews, FromEngine, ModelNews, ToEngine } from '../protocol.ts';

export interface EngineClient {
  send(message: Exclude<ToEngine, { kind: 'ask' }>): void;
  ask<N extends AskName>(name: N, question: Asks[N][0]): Promise<Asks[N][1]>;
}

/** Starts the worker. `failed` hears of what went wrong in it without being asked. */
export function startEngine(
  news: (message: FindingsNews | ModelNews) => void,
  failed: (message: string) => void,
  isQuiet = false,
): EngineClient {
  const worker = new Worker(new URL('../worker.ts', import.meta.url), { type: 'module' });
  const waiting = new Map<number, { resolve(answer: unknown): void; reject(error: Error): void }>();
  let count = 0;
  worker.onmessage = ({ data }: MessageEvent<FromEngine>) => {
    if (data.kind === 'answer') {
      waiting.get(data.id)?.resolve(data.answer);
      waiting.delete(data.id);
    } else if (data.kind === 'failed') {
      if (data.id === undefined) failed(data.message);
      else {
        waiting.get(data.id)?.reject(new Error(data.message));
        waiting.delete(data.id);
      }
    } else news(data);
  };
  worker.onerror = (event) => failed(event.message);
  const post = (message: ToEngine): void =>
    worker.postMessage(message.kind === 'open' ? { ...message, isQuiet } : message);
  return {
    send: post,
    ask: (name, question) =>
      new Promise((resolve, reject) => {
        const id = ++count;
        waiting.set(id, { resolve: resolve as (answer: unknown) => void, reject });
        post({ kind: 'ask', id, name, question });
      }),
  };
}
