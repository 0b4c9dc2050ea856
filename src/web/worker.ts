// The engine in its own thread: texts come in, findings go out at once, the rest of the frame's data a moment later, answers
// when asked. Messages are taken in order.

import { Engine } from './engine/engine.ts';
import type { AskName, FromEngine, ToEngine } from './protocol.ts';

const port = self as unknown as {
  postMessage(message: FromEngine): void;
  onmessage: ((event: MessageEvent<ToEngine>) => void) | null;
};

let engine: Engine | undefined;
let isQuiet = false;
let due: ReturnType<typeof setTimeout> | undefined;

/** Milliseconds of quiet after typing before the plan is made anew, so that the next key's findings don't wait for it. */
const QUIET_MS = 220;

function publish(wait: number): void {
  if (engine === undefined || isQuiet) return;
  port.postMessage(engine.findings());
  // The stage line and the rest come when there is time.
  clearTimeout(due);
  due = setTimeout(() => {
    guarded(undefined, () => {
      if (engine !== undefined) port.postMessage(engine.model());
    });
  }, wait);
}

function guarded(id: number | undefined, work: () => void): void {
  try {
    work();
  } catch (error) {
    port.postMessage({ kind: 'failed', id, message: error instanceof Error ? `${error.message}` : String(error) });
    if (id === undefined) setTimeout(() => reportError(error));
  }
}

port.onmessage = ({ data }) => {
  switch (data.kind) {
    case 'open':
      guarded(undefined, () => {
        engine = new Engine(data);
        isQuiet = data.isQuiet === true;
        publish(0);
      });
      return;
    case 'text':
      guarded(undefined, () => {
        engine?.bench.setText(data.path, data.text);
        publish(data.path.startsWith('builds/') ? 0 : QUIET_MS);
      });
      return;
    case 'build':
      guarded(undefined, () => {
        engine?.bench.chooseBuild(data.build);
        publish(0);
      });
      return;
    case 'ask':
      guarded(data.id, () => {
        const answer = engine?.ask(data.name as AskName, data.question as never);
        port.postMessage({ kind: 'answer', id: data.id, answer });
      });
  }
};
