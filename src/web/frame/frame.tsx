// The frame: stage line, places, find box, undo and redo, the ground, one line for what has to be said. Keys that hold
// everywhere are here.

import { useEffect } from 'preact/hooks';
import { PLACES } from '../places/index.ts';
import { redo, redoLabel, undo, undoLabel } from '../state/history.ts';
import {
  chooseStage,
  connection,
  isNarrow,
  isPhone,
  model,
  notice,
  place,
  stage,
  toggleGround,
} from '../state/store.ts';
import { Begin } from './begin.tsx';
import { Desk } from './desk.tsx';
import { FindBox } from './find-box.tsx';
import { HalfDisc } from './marks.tsx';
import { StageLine } from './stage-line.tsx';

function onKeys(event: KeyboardEvent): void {
  const target = event.target as HTMLElement;
  if (event.defaultPrevented || target.closest('input, textarea, select, .cm-content') !== null) return;
  const control = event.ctrlKey || event.metaKey;
  const key = event.key.toLowerCase();
  if (control && key === 'z') {
    event.preventDefault();
    void (event.shiftKey ? redo() : undo());
  } else if (control && key === 'y') {
    event.preventDefault();
    void redo();
  } else if (!control && !event.altKey && /^[0-9]$/.test(key)) chooseStage(Number(key));
  else if (!control && event.altKey && (key === 'arrowleft' || key === 'arrowright')) {
    event.preventDefault();
    chooseStage(Math.max(1, stage.value + (key === 'arrowleft' ? -1 : 1)));
  }
}

export function Frame() {
  useEffect(() => {
    addEventListener('keydown', onKeys);
    return () => removeEventListener('keydown', onKeys);
  }, []);
  const current = PLACES.find((item) => item.id === place.value) ?? PLACES[0]!;
  const { View } = current;
  const narrow = isNarrow.value ? ' narrow' : '';
  const name = model.value.name;
  useEffect(() => {
    document.title = name === '' ? 'Proofboard' : `${name}: ${current.title}`;
  }, [name, current.title]);
  if (!model.value.hasMachine && model.value.version >= 0)
    return (
      <div class="app">
        <StageLine />
        <main>
          <Begin />
        </main>
        <Notice />
      </div>
    );
  const full = current.full?.() === true && !isPhone.value;
  return (
    <div class={`app${isPhone.value ? ' phone' : ''}${narrow}`}>
      {!full && <StageLine />}
      {!full && (
        <nav class={`places${narrow}`} aria-label="Places">
          {PLACES.map((item) => (
            <>
              {item.apart && !isPhone.value && <span class="sep" />}
              <a
                key={item.id}
                href={`#${item.id}`}
                aria-current={item === current ? 'page' : undefined}
                onClick={(event) => {
                  event.preventDefault();
                  place.value = item.id;
                }}
              >
                {item.title}
                {item.Count !== undefined && <item.Count />}
              </a>
            </>
          ))}
          <div class="tools">
            <FindBox />
            {!isPhone.value && <Desk />}
            {!isPhone.value && (
              <>
                <button
                  type="button"
                  disabled={undoLabel.value === ''}
                  title={undoLabel.value === '' ? 'Nothing to take back' : `Take back: ${undoLabel.value} (Ctrl-Z)`}
                  onClick={() => void undo()}
                >
                  undo
                </button>
                <button
                  type="button"
                  disabled={redoLabel.value === ''}
                  title={redoLabel.value === '' ? 'Nothing to do again' : `Do again: ${redoLabel.value} (Ctrl-Shift-Z)`}
                  onClick={() => void redo()}
                >
                  redo
                </button>
              </>
            )}
            <button type="button" onClick={toggleGround} aria-label="ground: paper or slate" title="Paper or slate">
              <HalfDisc />
              {!narrow && 'ground'}
            </button>
          </div>
        </nav>
      )}
      <main aria-label={current.title}>{model.value.version >= 0 && <View key={current.id} />}</main>
      <Notice />
    </div>
  );
}

function Notice() {
  const lost = connection.value === 'lost';
  const text = notice.value;
  return (
    <>
      <p class="vh" role="status">
        {lost ? 'The server is away.' : text}
      </p>
      {(lost || text !== '') && (
        <div class="notice">
          {lost && (
            <span class="lost">
              The server is away. What you do is kept in this window and written when it is back.
            </span>
          )}
          {text !== '' && <span>{text}</span>}
          {text !== '' && (
            <button
              type="button"
              class="do"
              onClick={() => {
                notice.value = '';
              }}
            >
              all right
            </button>
          )}
        </div>
      )}
    </>
  );
}
