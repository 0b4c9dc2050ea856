// Margins: will it run, and how fast? Bus cycles with their slack and a clock to move, levels and loads of every net, what the
// boards lose of the supply, what gives way first. One view at a time; figures come from the engine.

import { useState } from 'preact/hooks';
import { model, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import type { Place } from '../registry.ts';
import { Breaks } from './breaks.tsx';
import { Levels } from './levels.tsx';
import './margins.css';
import { Rails } from './rails.tsx';
import { Signals } from './signals.tsx';
import { Timing } from './timing.tsx';

const VIEWS = [
  ['timing', 'bus cycles'],
  ['levels', 'levels and loads'],
  ['supply', 'supply and rails'],
  ['signals', 'signals and clocks'],
  ['breaks', 'what breaks first'],
] as const;
type View = (typeof VIEWS)[number][0];

/** Kept while the page lives, so that a look at another place comes back to the same view. */
let kept: View = 'timing';

function Margins() {
  const [view, setView] = useState<View>(kept);
  const answer = useAsk('margins', { stage: stage.value });
  const show = (id: View): void => {
    kept = id;
    setView(id);
  };
  if (!model.value.hasMachine) return <div class="empty">There is no machine file yet.</div>;
  return (
    <div class="mg">
      <nav aria-label="Margins of">
        {VIEWS.map(([id, title]) => (
          <button type="button" key={id} class="pick" aria-pressed={view === id} onClick={() => show(id)}>
            {title}
          </button>
        ))}
      </nav>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
      <section class="mg-view" tabIndex={0} aria-label={VIEWS.find(([id]) => id === view)![1]}>
        {answer === undefined ? (
          <p class="q">Working it out.</p>
        ) : view === 'timing' ? (
          <Timing answer={answer} show={show} />
        ) : view === 'levels' ? (
          <Levels answer={answer} />
        ) : view === 'supply' ? (
          <Rails answer={answer} />
        ) : view === 'signals' ? (
          <Signals answer={answer} />
        ) : (
          <Breaks answer={answer} />
        )}
      </section>
    </div>
  );
}

export const marginsPlace: Place = { id: 'margins', title: 'Margins', View: Margins };
