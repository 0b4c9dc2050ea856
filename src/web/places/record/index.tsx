// Record: the book as it will print, tables and drawings to take away, labels for the chips, the journal with its photos.

import { useRef, useState } from 'preact/hooks';
import { Drawing } from '../../frame/marks.tsx';
import { act } from '../../state/history.ts';
import { engine, sendPhoto } from '../../state/session.ts';
import { ground, model, notice, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import type { Place } from '../registry.ts';

type View = 'book' | 'journal' | 'shopping' | 'labels';
const TABLES = [
  ['wires', 'wire list'],
  ['parts', 'parts'],
  ['steps', 'steps left'],
  ['cut', 'cut sheet'],
] as const;

/** Hands a text to the person as a file. */
const download = (name: string, type: string, text: string): void => take(name, new Blob([text], { type }));

function take(name: string, file: Blob): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(file);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

/** RFC 4180: fields with quotes, commas or line ends are quoted; lines end in CR LF. */
export function toCsv(rows: readonly (readonly string[])[]): string {
  const field = (text: string): string => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  return `${rows.map((row) => row.map(field).join(',')).join('\r\n')}\r\n`;
}

const slug = (): string => model.value.name.toLowerCase().replace(/[^a-z0-9]+/g, '-') || 'machine';

function Record() {
  const [view, setView] = useState<View>('book');
  const csv = (which: (typeof TABLES)[number][0]): void => {
    void engine
      .ask('table', { which, stage: stage.value })
      .then((rows) => download(`${slug()}-stage-${stage.value}-${which}.csv`, 'text/csv', toCsv(rows)));
  };
  const svg = (): void => {
    void engine
      .ask('stageSvg', { stage: stage.value, ground: ground.value })

      .then((text) => {
        if (text === '') notice.value = 'Nothing is laid out yet.';
        else download(`${slug()}-stage-${stage.value}.svg`, 'image/svg+xml', text);
      });
  };
  const pdf = (): void => {
    notice.value = 'Making the PDF.';
    fetch(`/api/book.pdf?build=${encodeURIComponent(model.value.build)}`)
      .then(async (response) => {
        if (!response.ok) throw new Error(((await response.json()) as { message: string }).message);
        take(`${slug()}.pdf`, await response.blob());
        notice.value = '';
      })
      .catch((error: unknown) => {
        notice.value = error instanceof Error ? error.message : 'The PDF could not be made.';
      });
  };
  const views: readonly (readonly [View, string])[] = [
    ['book', 'the book'],
    ['journal', 'journal'],
    ['shopping', 'what to buy'],
    ['labels', 'chip labels'],
  ];
  return (
    <div class="cols record">
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls where the window is low */}
      <section class="exports" tabIndex={0} aria-label="What there is">
        <h2>Show</h2>
        <ul>
          {views.map(([id, title]) => (
            <li key={id}>
              <button type="button" aria-pressed={view === id} onClick={() => setView(id)}>
                {title}
              </button>
            </li>
          ))}
        </ul>
        <h2>Take away, as of stage {stage.value}</h2>
        <ul>
          {TABLES.map(([id, title]) => (
            <li key={id}>
              <button type="button" onClick={() => csv(id)}>
                {title}, CSV
              </button>
            </li>
          ))}
          <li>
            <button type="button" onClick={svg}>
              boards, SVG
            </button>
          </li>
          <li>
            <button
              type="button"
              onClick={() =>
                void engine
                  .ask('book', { stage: stage.value })
                  .then((text) => download(`${slug()}.html`, 'text/html', text))
              }
            >
              the book, HTML
            </button>
          </li>
          <li>
            <button type="button" onClick={pdf}>
              the book, PDF
            </button>
          </li>
          <li>
            <button type="button" onClick={() => print()}>
              print what is shown
            </button>
          </li>
        </ul>
      </section>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
      <section class="sheet" tabIndex={0} aria-label={views.find(([id]) => id === view)![1]}>
        {view === 'book' && <Book />}
        {view === 'journal' && <Journal />}
        {view === 'shopping' && <Shopping />}
        {view === 'labels' && <Labels />}
      </section>
    </div>
  );
}

function Book() {
  const page = useAsk('book', { stage: stage.value });
  if (page === undefined) return <p>Making the book.</p>;
  const main = /<main>([\s\S]*)<\/main>/.exec(page)?.[1] ?? '';
  return (
    <>
      <h1 style={{ fontSize: '2.125rem' }}>{model.value.name}</h1>
      <p>{model.value.about}</p>
      <Drawing class="book" svg={main} />
    </>
  );
}

function Journal() {
  const lines = useAsk('journal', undefined, true);
  const [text, setText] = useState('');
  const photo = useRef<HTMLInputElement>(null);
  const note = (): void => {
    if (text.trim() === '') return;
    void act('note', { do: 'word', act: 'note', text: text.trim(), stage: stage.value }).then(() => setText(''));
  };
  const keep = async (file: File): Promise<void> => {
    try {
      const name = await sendPhoto(model.value.build, file);
      await act('photo', {
        do: 'word',
        act: 'photo',
        text: text.trim() === '' ? file.name : text.trim(),
        stage: stage.value,
        file: name,
      });
      setText('');
    } catch (error) {
      notice.value = error instanceof Error ? error.message : 'The photo could not be kept.';
    }
  };
  return (
    <>
      <h1 style={{ fontSize: '1.5rem' }}>Journal of {model.value.build}</h1>
      <form
        class="acts"
        style={{ margin: '10px 0 18px' }}
        onSubmit={(event) => {
          event.preventDefault();
          note();
        }}
      >
        <label style={{ flex: 1, minWidth: '16em' }}>
          A note for the record{' '}
          <input
            class="well"
            style={{ width: '100%' }}
            type="text"
            value={text}
            onInput={(event) => setText(event.currentTarget.value)}
          />
        </label>
        <button type="submit" class="do main" disabled={text.trim() === ''}>
          enter it
        </button>
        <button type="button" class="do" onClick={() => photo.current?.click()}>
          add a photo
        </button>
        <input
          ref={photo}
          type="file"
          class="vh"
          tabIndex={-1}
          aria-label="Photo"
          accept="image/jpeg,image/png,image/webp"
          onChange={(event) => {
            const file = event.currentTarget.files?.[0];
            if (file !== undefined) void keep(file);
            event.currentTarget.value = '';
          }}
        />
      </form>
      <table>
        <thead>
          <tr>
            <th scope="col">when</th>
            <th scope="col">act</th>
            <th scope="col">stage</th>
            <th scope="col">what</th>
          </tr>
        </thead>
        <tbody>
          {(lines ?? []).map((line) => (
            <tr key={line.id}>
              <td class="m s">{line.time.replace('T', ' ').slice(0, 16)}</td>
              <td>{line.act}</td>
              <td>{line.stage}</td>
              <td>
                {line.text}
                {line.file !== undefined && (
                  <img
                    style={{ display: 'block', maxWidth: '320px', marginTop: '6px' }}
                    alt={line.text}
                    src={`/api/photo?build=${encodeURIComponent(model.value.build)}&file=${encodeURIComponent(line.file)}`}
                  />
                )}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      {lines?.length === 0 && <p>Nothing is entered yet. The first step done at the bench opens the journal.</p>}
    </>
  );
}

function Shopping() {
  const rows = useAsk('shopping', { stage: stage.value });
  if (rows === undefined) return <p>Counting.</p>;
  return (
    <>
      <h1 style={{ fontSize: '1.5rem', marginBottom: '10px' }}>What stages 1 to {stage.value} take</h1>
      <table>
        <thead>
          <tr>
            <th scope="col">type</th>
            <th scope="col" class="r">
              needed
            </th>
            <th scope="col" class="r">
              in the drawer
            </th>
            <th scope="col" class="r">
              to buy
            </th>
            <th scope="col">for</th>
            <th scope="col">would do as well</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={`${row.type} ${row.grade} ${row.value}`}>
              <td class="m b">{[row.type, row.grade, row.value].filter((text) => text !== null).join(', ')}</td>
              <td class="r">{row.needed}</td>
              <td class="r">{row.have}</td>
              <td class={row.buy > 0 ? 'r b' : 'r'}>{row.buy}</td>
              <td>
                {row.parts.length > 6
                  ? `${row.parts.slice(0, 6).join(', ')} and ${row.parts.length - 6} more`
                  : row.parts.join(', ')}
              </td>
              <td>
                {row.substitutes
                  .map((other) => [other.type, other.grade].filter((text) => text !== null).join(', '))
                  .join('; ')}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

function Labels() {
  const svg = useAsk('labels', { stage: stage.value });
  return (
    <>
      <h1 style={{ fontSize: '1.5rem' }}>Labels at true scale</h1>
      <p style={{ margin: '4px 0 14px' }}>
        Print at 100 %, without fitting to the page; measure the first one against a chip before you cut them all. Pin 1
        is at the cut corner.
      </p>
      {svg !== undefined && <Drawing class="labels" svg={svg} />}
    </>
  );
}

export const record: Place = { id: 'record', title: 'Record', View: Record, apart: true };
