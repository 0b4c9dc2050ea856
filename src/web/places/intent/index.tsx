// Intent: the machine file with live findings under its lines, and beside it what the line at the cursor expands to.

import { useEffect, useRef, useState } from 'preact/hooks';
import type { UiFinding, UiPlace } from '../../protocol.ts';
import { edit, remember } from '../../state/history.ts';
import {
  conflicts,
  draft,
  engine,
  mainFile,
  onText,
  paths,
  put,
  resolveConflict,
  textOf,
} from '../../state/session.ts';
import { findings, goTo, isPhone, notice, select, selection, showFinding, size, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import type { Place } from '../registry.ts';
import { TextEditor } from './editor.ts';
import { Loom } from './loom.tsx';

const SAVE_MS = 350;
let openPath = '';

function Intent() {
  const files = paths.value.filter((path) => /\.ya?ml$/.test(path));
  const [path, setPath] = useState(goTo.value?.file ?? (files.includes(openPath) ? openPath : mainFile.value));
  const [offset, setOffset] = useState(0);
  const [found, setFound] = useState<{ word: string; places: readonly UiPlace[] } | undefined>(undefined);
  const [renaming, setRenaming] = useState<string | undefined>(undefined);
  const host = useRef<HTMLDivElement>(null);
  const editor = useRef<TextEditor | undefined>(undefined);
  const pathNow = useRef(path);
  openPath = path;

  useEffect(() => {
    if (host.current === null) return;
    let saved = textOf(pathNow.current) ?? '';
    let savedPath = pathNow.current;
    let timer: ReturnType<typeof setTimeout> | undefined;
    let cursor: ReturnType<typeof setTimeout> | undefined;
    const save = (): void => {
      clearTimeout(timer);
      timer = undefined;
      const text = textOf(savedPath);
      if (text === undefined || text === saved) return;
      const was = saved;
      const where = savedPath;
      saved = text;
      void put(where, text).then((done) => {
        if (done) remember(`typing in ${where}`, where, was, text);
      });
    };
    const made = new TextEditor(
      host.current,
      {
        changed: (text) => {
          if (savedPath !== pathNow.current) {
            save();
            savedPath = pathNow.current;
            saved = textOf(savedPath) ?? '';
          }
          draft(pathNow.current, text);
          clearTimeout(timer);
          timer = setTimeout(save, SAVE_MS);
        },
        moved: (at, word, pressed) => {
          clearTimeout(cursor);
          cursor = setTimeout(() => setOffset(at), 110);
          if (pressed && word !== '') void selectWord(word);
        },
        complete: (at, text) => engine.ask('complete', { file: pathNow.current, offset: at, text }),
        fix: (finding, index) => {
          save();
          void applyFix(finding, index);
        },
        explain: showFinding,
        define: (word) =>
          void engine.ask('definition', { word }).then((at) => {
            if (at === undefined) notice.value = `${word} is said nowhere in these files.`;
            else goTo.value = at;
          }),
        references: (word) => void engine.ask('references', { word }).then((places) => setFound({ word, places })),
        rename: (word) => setRenaming(word.split('.')[0] ?? word),
      },
      pathNow.current,
      textOf(pathNow.current) ?? '',
    );
    editor.current = made;
    const stop = onText((changed, text, from) => {
      if (changed !== pathNow.current) return;
      if (from === 'elsewhere' || text !== made.text) {
        made.replace(text ?? '');
        if (timer === undefined) {
          saved = text ?? '';
          savedPath = changed;
        }
      }
    });
    made.view.focus();
    return () => {
      save();
      stop();
      clearTimeout(cursor);
      made.destroy();
    };
  }, []);

  // Another file: its text, then its findings.
  useEffect(() => {
    if (pathNow.current === path) return;
    pathNow.current = path;
    editor.current?.open(path, textOf(path) ?? '');
    showFindings();
  }, [path]);
  const showFindings = (): void => {
    editor.current?.findings(
      findings
        .peek()
        .findings.filter((finding) => finding.where[0]?.file === pathNow.current)
        .slice(0, 60),
    );
  };
  const news = findings.value;
  useEffect(showFindings, [news]);
  const { net, part } = selection.value;
  useEffect(() => editor.current?.chosen([net, part].filter((word) => word !== undefined)), [net, part]);
  const wanted = goTo.value;
  useEffect(() => {
    if (wanted === undefined) return;
    if (wanted.file !== path) {
      setPath(wanted.file);
      return;
    }
    goTo.value = undefined;
    requestAnimationFrame(() => editor.current?.goTo(wanted.start, wanted.end));
  }, [wanted, path]);

  const loom = useAsk('loom', { file: path, offset, stage: stage.value, ...(net === undefined ? {} : { net }) });
  const line = useAsk('loom', { file: path, offset, stage: stage.value });
  const conflict = conflicts.value.has(path);
  const width = Math.max(380, size.value.width * 0.48 - 60);
  const shown = line ?? loom;
  return (
    <div class={`cols intent${isPhone.value ? ' one' : ''}`}>
      <div class="editor">
        {files.length > 1 && (
          <div class="tabs" role="tablist" aria-label="Files">
            {files.map((file) => (
              <button type="button" role="tab" key={file} aria-selected={file === path} onClick={() => setPath(file)}>
                {file}
              </button>
            ))}
          </div>
        )}
        {conflict && (
          <div class="conflict" role="alert">
            <span>
              <b>{path} was changed elsewhere</b> while you were writing here.
            </span>
            <button type="button" class="do" onClick={() => resolveConflict(path, 'theirs')}>
              take what is on the disk
            </button>
            <button type="button" class="do" onClick={() => resolveConflict(path, 'mine')}>
              keep what is here
            </button>
          </div>
        )}
        <div ref={host} style={{ flex: 1, minHeight: 0 }} />
      </div>
      {!isPhone.value && (
        // biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it
        <section class="expands" tabIndex={0} aria-label="What the line expands to">
          {renaming !== undefined && <Rename word={renaming} done={() => setRenaming(undefined)} />}
          {found !== undefined && (
            <div style={{ marginBottom: '20px' }}>
              <h2>
                <span class="hl m">{found.word}</span> stands in {found.places.length} places{' '}
                <button type="button" class="do s" onClick={() => setFound(undefined)}>
                  close
                </button>
              </h2>
              <ul>
                {found.places.map((at) => (
                  <li key={`${at.file} ${at.start}`}>
                    <button type="button" class="do m s" onClick={() => (goTo.value = at)}>
                      {at.file}, line {at.line}
                    </button>
                  </li>
                ))}
              </ul>
            </div>
          )}
          {shown === undefined ? (
            <Help />
          ) : (
            <>
              <h2>
                <span class="hl m">{shown.title}</span> expands to {shown.note.split(';')[0]}
              </h2>
              <p class="q">{shown.note.split(';').slice(1).join(';')}</p>
              <Loom loom={shown} width={width} />
            </>
          )}
        </section>
      )}
    </div>
  );
}

/** What the keys do, where the line expands to nothing. */
function Help() {
  const keys = [
    ['Ctrl-Space', 'what can stand here'],
    ['F12', 'where the name is said (or Ctrl and a press)'],
    ['Shift-F12', 'everywhere it stands'],
    ['F2', 'give it another name everywhere'],
    ['Alt-Enter', 'mend the line as proposed'],
    ['Ctrl-F', 'find in the text'],
    ['Ctrl-Z', 'take back'],
  ];
  return (
    <>
      <h2>This line makes no nets of its own</h2>
      <p class="q">Put the cursor on a bus, a net, a part or a stage to see what it expands to.</p>
      <table style={{ marginTop: '16px', width: 'auto' }}>
        <tbody>
          {keys.map(([key, what]) => (
            <tr key={key}>
              <td>
                <span class="kbd">{key}</span>
              </td>
              <td>{what}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

function Rename({ word, done }: { word: string; done: () => void }) {
  const [to, setTo] = useState(word);
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => input.current?.select(), []);
  const run = async (): Promise<void> => {
    const answer = await engine.ask('rename', { word, to: to.trim() });
    if (typeof answer === 'string') {
      notice.value = answer;
      return;
    }
    const edits = answer.edits?.[0]?.edits ?? [];
    const files = new Map<string, string>();
    for (const one of [...edits].sort((a, b) => b.span.start - a.span.start)) {
      const text = files.get(one.span.file) ?? textOf(one.span.file) ?? '';
      files.set(one.span.file, text.slice(0, one.span.start) + one.text + text.slice(one.span.end));
    }
    if (
      await edit(
        `rename ${word} to ${to.trim()}`,
        [...files].map(([path, text]) => ({ path, text })),
      )
    ) {
      notice.value = `${word} is ${to.trim()} now, in ${edits.length} places. The nets are the same.`;
      done();
    }
  };
  return (
    <form
      class="acts"
      style={{ marginBottom: '18px' }}
      onSubmit={(event) => {
        event.preventDefault();
        void run();
      }}
    >
      <label>
        <span class="hl m">{word}</span> is to be called{' '}
        <input
          ref={input}
          class="well m"
          type="text"
          value={to}
          onInput={(event) => setTo(event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="do main" disabled={to.trim() === '' || to.trim() === word}>
        rename it everywhere
      </button>
      <button type="button" class="do" onClick={done}>
        leave it
      </button>
    </form>
  );
}

async function applyFix(finding: UiFinding, index: number): Promise<void> {
  const fix = finding.fixes[index];
  if (fix === undefined) return;
  const files = new Map<string, string>();
  for (const one of [...fix.edits].sort((a, b) => b.span.start - a.span.start)) {
    const text = files.get(one.span.file) ?? textOf(one.span.file) ?? '';
    files.set(one.span.file, text.slice(0, one.span.start) + one.text + text.slice(one.span.end));
  }
  await edit(
    fix.title,
    [...files].map(([path, text]) => ({ path, text })),
  );
}

/** A press on a name selects the part, net or pin of that name everywhere. */
async function selectWord(word: string): Promise<void> {
  const entries = await engine.ask('index', undefined);
  const plain = word.toLowerCase();
  const entry =
    entries.find((item) => (item.kind === 'part' || item.kind === 'net') && item.text.toLowerCase() === plain) ??
    entries.find((item) => {
      if (item.kind !== 'pin') return false;
      const [part, , pin] = item.text.toLowerCase().split(' ');
      return plain === `${part}.${pin}`;
    });
  if (entry !== undefined) select(entry.select);
}

export const intent: Place = { id: 'intent', title: 'Intent', View: Intent };
