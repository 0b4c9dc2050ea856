// The meter plan: each touch with what must be read; readings are typed, Enter goes on to the next.

import { useState } from 'preact/hooks';
import { act } from '../../state/history.ts';
import { notice } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';

/** Ohms as people type them: `0.4`, `4k7`, `10 k`, `1M`, `open` or `ol` for a meter that shows no reading. */
export function readOhms(text: string): number | undefined {
  const plain = text
    .trim()
    .toLowerCase()
    .replace(/\s*(?:ohms?|Ω)$/i, '')
    .replace(',', '.');
  if (/^(?:open|ol|o\.l\.?|inf)$/.test(plain)) return Number.POSITIVE_INFINITY;
  const infix = /^(\d+)([rkm])(\d+)$/.exec(plain);
  const match =
    infix === null ? /^(\d+(?:\.\d+)?)\s*([rkm]?)$/.exec(plain) : ['', `${infix[1]}.${infix[3]}`, infix[2]!];
  if (match === null) return undefined;
  return Number(match[1]) * { '': 1, r: 1, k: 1e3, m: 1e6 }[match[2] as '' | 'r' | 'k' | 'm'];
}

export function Touches({ stage }: { stage: number }) {
  const rows = useAsk('touches', { stage });
  const [text, setText] = useState('');
  if (rows === undefined) return null;
  const next = rows.find((row) => row.status === 'open');
  const enter = (): void => {
    const ohms = readOhms(text);
    if (next === undefined) return;
    if (ohms === undefined) {
      notice.value = 'A reading in ohms is wanted: 0.4, 4k7, 1M, or open.';
      return;
    }
    void act(`reading: ${text}`, { do: 'reading', stage, touch: next.id, ohms }).then(() => setText(''));
  };
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it
    <section class="list touches" tabIndex={0} aria-label="Meter plan">
      {next !== undefined && (
        <form
          class="answer"
          style={{ padding: '4px 0 12px' }}
          onSubmit={(event) => {
            event.preventDefault();
            enter();
          }}
        >
          <label>
            {next.text} It shows{' '}
            <input
              class="well"
              type="text"
              autocomplete="off"
              value={text}
              onInput={(event) => setText(event.currentTarget.value)}
            />{' '}
            ohm
          </label>
          <button type="submit" class="do main">
            enter it
          </button>
          <span>{next.notes.join(' ')}</span>
        </form>
      )}
      <ol>
        {rows.map((row, i) => (
          <li key={row.id} class={row === next ? 'now' : ''}>
            <span class="r">{i + 1}</span>
            <span>{row.text}</span>
            <span class={row.status === 'wrong' ? 'b fault' : row.status === 'right' ? 'b' : ''}>
              {row.status === 'open' ? row.expect : `${row.found}, ${row.status === 'right' ? 'right' : 'not right'}`}
            </span>
          </li>
        ))}
      </ol>
    </section>
  );
}
