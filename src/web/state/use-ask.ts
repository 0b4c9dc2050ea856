// A question to the engine that is asked again when what it depends on changes; the last answer stays until the next is there.

import { useEffect, useRef, useState } from 'preact/hooks';
import type { AskName, Asks } from '../protocol.ts';
import { askSlow, engine } from './session.ts';
import { model, notice } from './store.ts';

const SLOW: ReadonlySet<AskName> = new Set(['book', 'shopping']);

/** The answer, or undefined until there is one. `question` undefined asks nothing. */
export function useAsk<N extends AskName>(
  name: N,
  question: Asks[N][0] | undefined,
  isQuiet = false,
): Asks[N][1] | undefined {
  const [answer, setAnswer] = useState<Asks[N][1] | undefined>(undefined);
  const turn = useRef(0);
  const { version, build } = model.value;
  const key = question === undefined && !isQuiet ? undefined : JSON.stringify(question ?? null);
  useEffect(() => {
    const mine = ++turn.current;
    if (key === undefined || version < 0) {
      setAnswer(undefined);
      return;
    }
    const ask = SLOW.has(name) ? askSlow : engine.ask;
    ask(name, question as Asks[N][0]).then(
      (value) => {
        if (mine === turn.current) setAnswer(() => value);
      },
      (error: Error) => {
        notice.value = `That can't be shown: ${error.message}`;
      },
    );
  }, [name, key, version, build]);
  return answer;
}
