// One run of the layout in its own thread. The page stops it by a flag in shared memory where there is one, else by ending the
// thread; the best so far comes with every report of progress only at the end, so a stop asks and waits for it.

import { Build, layVerb, Project, type Shipped } from '../app/index.ts';

export interface LayOrder {
  readonly shipped: unknown;
  readonly files: Readonly<Record<string, string>>;
  readonly main: string;
  readonly build: string;
  readonly stage: number;
  readonly seed: number;
  readonly moves: number | undefined;
  /** Seconds after which the best so far is taken. */
  readonly seconds: number;
  /** One integer: 1 asks for a stop. */
  readonly stop: SharedArrayBuffer | undefined;
  /** Lay from nothing instead of keeping what stands. */
  readonly fresh: boolean;
}

export type LayReport =
  | { readonly kind: 'progress'; readonly share: number; readonly cost: number; readonly best: number }
  | {
      readonly kind: 'done';
      readonly path: string | undefined;
      readonly text: string | undefined;
      readonly words: string;
      readonly problems: readonly string[];
    };

const port = self as unknown as {
  postMessage(message: LayReport): void;
  onmessage: ((event: MessageEvent<LayOrder>) => void) | null;
};

port.onmessage = ({ data }) => {
  const files = new Map(Object.entries(data.files));
  if (data.fresh) files.delete(`builds/${data.build}/layout.json`);
  const project = new Project(data.shipped as Shipped, files, data.main);
  const build = new Build(project, data.build);
  const flag = data.stop === undefined ? undefined : new Int32Array(data.stop);
  const until = performance.now() + data.seconds * 1000;
  let told = 0;
  const result = layVerb(build, {
    stage: data.stage,
    seed: data.seed,
    ...(data.moves === undefined ? {} : { moves: data.moves }),
    shouldStop: () => performance.now() > until || (flag !== undefined && Atomics.load(flag, 0) === 1),
    onProgress: ({ share, cost, best }) => {
      const now = performance.now();
      if (now - told < 80) return;
      told = now;
      port.postMessage({ kind: 'progress', share, cost, best });
    },
  });
  const write = result.effects?.find((effect) => effect.kind === 'write');
  port.postMessage({
    kind: 'done',
    path: write?.kind === 'write' ? write.path : undefined,
    text: write?.kind === 'write' ? write.text : undefined,
    words: result.text.split('\n').slice(0, 2).join('. '),
    problems: result.findings.filter((finding) => finding.severity === 'error').map((finding) => finding.message),
  });
};
