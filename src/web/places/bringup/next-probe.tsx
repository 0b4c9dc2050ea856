// The one measurement that tells most next: a question with buttons for its answers, and a line for whatever else was seen. A meter
// or a lamp is enough.

import { useState } from 'preact/hooks';
import type { BringupGuide } from '../../bringup-protocol.ts';
import { answer } from './state.ts';

const CHOICES: Readonly<Record<string, readonly (readonly [word: string, label: string])[]>> = {
  level: [
    ['low', 'low'],
    ['high', 'high'],
    ['changes', 'it changes'],
    ['floats', 'neither, it floats'],
  ],
  continuity: [
    ['joined', 'it beeps'],
    ['open', 'it does not'],
  ],
  look: [
    ['wrong', 'that is wrong'],
    ['right', 'it is right'],
  ],
};

export function NextProbe({ guide }: { guide: BringupGuide }) {
  const { question, answers, problem } = guide;
  const [text, setText] = useState('');
  return (
    <section class="bu-next" aria-label="What to measure next">
      <h3>What to measure next</h3>
      {answers.length > 0 && (
        <ul class="bu-answers">
          {answers.map((one) => (
            <li key={one}>{one}</li>
          ))}
        </ul>
      )}
      {question === undefined ? (
        <p>
          Nothing more to ask would tell these apart. Look at the places in their order, or capture again with other
          channels.
        </p>
      ) : (
        <>
          <p class="bu-ask">
            {question.text}
            {question.net !== undefined && question.holes[0] !== undefined && (
              <span class="q"> At {question.holes[0]}.</span>
            )}
          </p>
          <div class="acts">
            {(CHOICES[question.kind] ?? []).map(([word, label]) => (
              <button type="button" class="do" key={word} onClick={() => answer(word, true)}>
                {label}
              </button>
            ))}
          </div>
        </>
      )}
      <form
        class="bu-said"
        onSubmit={(event) => {
          event.preventDefault();
          if (text.trim() === '') return;
          answer(text.trim(), false);
          setText('');
        }}
      >
        <label>
          {question?.kind === 'frequency' ? 'It shows' : 'Or what else you saw'}{' '}
          <input
            class="well"
            type="text"
            autocomplete="off"
            placeholder={question?.kind === 'frequency' ? '230 kHz' : 'A7 stuck low'}
            value={text}
            onInput={(event) => setText(event.currentTarget.value)}
          />
        </label>
        <button type="submit" class="do">
          take it
        </button>
      </form>
      {problem !== undefined && (
        <p class="doubt" role="alert">
          {problem}
        </p>
      )}
    </section>
  );
}
