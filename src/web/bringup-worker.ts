// Bring-up in its own thread: files are read in pieces as they come from the disk, then told, laid beside the prediction, and
// held against every plausible slip. Messages are taken in order; what takes long says how far it is.

import { CaptureReader } from '../app/index.ts';
import type { FromBringup, ToBringup } from './bringup-protocol.ts';
import { BringupDesk } from './engine/bringup-desk.ts';

const port = self as unknown as {
  postMessage(message: FromBringup): void;
  onmessage: ((event: MessageEvent<ToBringup>) => void) | null;
};

let desk: BringupDesk | undefined;
let queue: Promise<void> = Promise.resolve();
let turn: Int32Array | undefined;
/** Messages not yet taken: what is long is left to the last of them. */
let waiting = 0;

const tell = (words: string, share: number): void => port.postMessage({ kind: 'progress', words, share });

async function readFile(file: Blob, name: string): Promise<ReturnType<CaptureReader['end']>> {
  const reader = new CaptureReader(name);
  const pieces = file.stream().getReader();
  let told = 0;
  for (;;) {
    const { done, value } = await pieces.read();
    if (done) break;
    reader.push(value);
    if (performance.now() - told > 100) {
      told = performance.now();
      tell('Reading the file', reader.bytes / Math.max(1, file.size));
    }
  }
  return reader.end();
}

function show(stage: number, refused: readonly string[]): void {
  if (desk === undefined) return;
  tell('Laying it on the clock', 0);
  const reading = desk.reading(stage);
  port.postMessage({ kind: 'reading', reading, refused });
  if (reading === undefined || reading.by === undefined) {
    port.postMessage({ kind: 'diagnosis', diagnosis: undefined });
    return;
  }
  if (waiting > 0) return;
  tell('Trying what could be wrong', 0);
  const mine = turn === undefined ? 0 : Atomics.load(turn, 0);
  const isWanted = (): boolean => turn === undefined || Atomics.load(turn, 0) === mine;
  let told = 0;
  const diagnosis = desk.diagnose(stage, (share) => {
    if (performance.now() - told > 100) {
      told = performance.now();
      tell('Trying what could be wrong', share);
    }
    return isWanted();
  });
  // What was stopped half way says nothing.
  port.postMessage({ kind: 'diagnosis', diagnosis: isWanted() ? diagnosis : undefined });
  if (diagnosis === undefined || !isWanted() || diagnosis.verdict === 'correct') return;
  tell('Thinking what to measure next', 0);
  port.postMessage({ kind: 'guide', guide: desk.guide() });
}

async function take(message: ToBringup): Promise<void> {
  if (message.kind === 'open') {
    turn = message.turn === undefined ? undefined : new Int32Array(message.turn);
    desk = new BringupDesk(message.shipped, message.files, message.main, message.build);
    return;
  }
  if (desk === undefined) return;
  switch (message.kind) {
    case 'text':
      desk.setText(message.path, message.text);
      return;
    case 'plan':
      port.postMessage({ kind: 'plan', plan: desk.plan(message.stage) });
      if (desk.captures.length > 0) show(message.stage, []);
      return;
    case 'file': {
      const { value, findings } = await readFile(message.file, message.name);
      desk.add(message.name, value, findings);
      if (value !== undefined) show(message.stage, []);
      else
        port.postMessage({
          kind: 'reading',
          reading: desk.reading(message.stage),
          refused: findings.map(({ message: text, help }) => `${text} ${help ?? ''}`.trim()),
        });
      return;
    }
    case 'tell': {
      const { channel, net, inverted } = message;
      const made = desk.tell({ channel, net, ...(inverted ? { inverted: true } : {}) });
      port.postMessage({ kind: 'write', ...made });
      show(message.stage, []);
      return;
    }
    case 'answer':
      port.postMessage({ kind: 'guide', guide: desk.answer(message.text, message.isButton) });
      return;
    case 'clear':
      desk.clear();
      port.postMessage({ kind: 'reading', reading: undefined, refused: [] });
      port.postMessage({ kind: 'diagnosis', diagnosis: undefined });
  }
}

port.onmessage = ({ data }) => {
  waiting++;
  queue = queue
    .then(() => {
      waiting--;
      return take(data);
    })
    .catch((error: unknown) => {
      port.postMessage({ kind: 'failed', message: error instanceof Error ? error.message : String(error) });
      setTimeout(() => reportError(error));
    });
};
