// Boards: where everything goes. The whole at the left, a detail and what is selected at the right, the title block below.

import { useEffect, useRef, useState } from 'preact/hooks';
import { BoardCanvas, type Pointed } from '../../drawing/board-canvas.ts';
import { Drawing } from '../../frame/marks.tsx';
import type { Place } from '../registry.ts';
import { engine } from '../../state/session.ts';
import { layState, startLay } from '../../state/lay-run.ts';
import { ground, isNarrow, isPhone, model, select, selection, size, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import { Moving, moveKeys, startMove } from './moving.tsx';
import { Panel, TitleBlock } from './panel.tsx';
import { Progress } from './progress.tsx';

const DETAIL_SCALE = 10;

function Boards() {
  if (!model.value.hasLayout && model.value.version >= 0) return <NothingLaid />;
  return <Sheet />;
}

function NothingLaid() {
  const state = layState.value;
  return (
    <div class="empty">
      <h2>Nothing is laid out yet</h2>
      <p>
        {model.value.parts} parts wait for a place. The layout puts every chip, part and wire end into a hole, for all
        stages at once, and proves from the holes that it is the machine as described.
      </p>
      {state === undefined ? (
        <div class="acts">
          <button type="button" class="do main" disabled={model.value.parts === 0} onClick={() => startLay(false)}>
            lay it out
          </button>
        </div>
      ) : (
        <Progress />
      )}
    </div>
  );
}

function Sheet() {
  const host = useRef<HTMLElement>(null);
  const canvas = useRef<BoardCanvas | undefined>(undefined);
  const [centre, setCentre] = useState<readonly [number, number] | undefined>(undefined);
  const narrow = isNarrow.value;
  const hasDetail = !narrow && !isPhone.value;
  const chosen = selection.value;
  const isBare = chosen.net === undefined && chosen.part === undefined && chosen.hole === undefined;
  const detailSize = { width: 638, height: Math.max(220, Math.min(isBare ? 340 : 456, size.value.height - 540)) };
  const detail = useAsk(
    'detail',
    hasDetail ? { stage: stage.value, ...detailSize, scale: DETAIL_SCALE, centre, select: chosen } : undefined,
  );

  useEffect(() => {
    if (host.current === null) return;
    const made = new BoardCanvas(host.current, {
      boards: (ask) => engine.ask('boards', ask),
      overlay: (ask) => engine.ask('overlay', ask),
      picked: (what) => void pick(what, setCentre),
      dragged: (part, dx, dy, done) => startMove(part, { kind: 'by', dx, dy, done }),
    });
    canvas.current = made;
    made.show(stage.value, model.value.version);
    made.select(selection.value);
  }, []);
  const { version } = model.value;
  useEffect(() => canvas.current?.show(stage.value, version), [stage.value, version]);
  useEffect(() => {
    canvas.current?.select(chosen);
    setCentre((old) => (keepCentre ? old : undefined));
    keepCentre = false;
    void engine.ask('placeOf', { stage: stage.value, select: chosen }).then((at) => {
      if (at !== undefined) canvas.current?.reveal(at[0], at[1]);
    });
  }, [chosen]);
  const isFirst = useRef(true);
  useEffect(() => {
    canvas.current?.detail(detail?.crop);
    // At first the boards are shown where the work is.
    if (detail === undefined || !isFirst.current) return;
    isFirst.current = false;
    const { x, y, width, height } = detail.crop;
    canvas.current?.reveal(x + width / 2, y + height / 2);
  }, [detail]);

  return (
    <div class={`cols boards${narrow ? ' narrow' : ''}`} data-ground-now={ground.value}>
      <section
        ref={host}
        class="canvas"
        // biome-ignore lint/a11y/noNoninteractiveTabindex: the drawing is panned, zoomed and changed by keys
        tabIndex={0}
        aria-label={`Boards as of stage ${stage.value}. Arrows pan, plus and minus zoom, F shows all. What is on them is in the find box and the lists.`}
        onKeyDown={(event) => moveKeys(event as unknown as KeyboardEvent)}
      >
        <Moving canvas={canvas} />
        <div class="viewacts">
          <button type="button" aria-label="Zoom in" title="Zoom in (+)" onClick={() => canvas.current?.zoom(1.35)}>
            +
          </button>
          <button
            type="button"
            aria-label="Zoom out"
            title="Zoom out (−)"
            onClick={() => canvas.current?.zoom(1 / 1.35)}
          >
            −
          </button>
          <button
            type="button"
            aria-label="Show all"
            title="All, or their width (F)"
            onClick={() => canvas.current?.fitOther()}
          >
            all
          </button>
        </div>
      </section>
      <section class="side" aria-label="Beside the boards">
        {hasDetail && (
          <div class="detail" style={{ height: `${detailSize.height + 2}px` }}>
            <span class="a" aria-hidden="true">
              A
            </span>
            {detail !== undefined && <Drawing svg={detail.svg} />}
            <span class="ratio">
              {canvas.current === undefined ? '' : `${(DETAIL_SCALE / canvas.current.view.s).toFixed(1)} : 1`}
            </span>
          </div>
        )}
        {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
        <section class="scroll" tabIndex={0} aria-label="What is selected">
          <Panel />
        </section>
        <TitleBlock scale={canvas.current?.view.s ?? 4} isShort={isBare} />
      </section>
    </div>
  );
}

let keepCentre = false;

/** A press on the drawing: a wire selects its net, a pin its net and part, a body its part, an empty hole itself. */
async function pick(what: Pointed, centre: (at: readonly [number, number]) => void): Promise<void> {
  const hole = await engine.ask('holeAt', { x: what.x, y: what.y });
  keepCentre = true;
  centre([what.x, what.y]);
  if (what.wire !== undefined && what.net !== undefined) return select({ net: what.net, wire: what.wire });
  if (hole !== undefined) {
    const found = await engine.ask('hole', { stage: stage.value, hole });
    const pin = /^(.+)\.(\d+)$/.exec(found?.holds ?? '');
    if (pin !== null)
      return select({
        hole,
        part: pin[1]!,
        pin: `${pin[1]}.${pin[2]}`,
        ...(found?.net === undefined ? {} : { net: found.net }),
      });
    if (what.part === undefined) return select({ hole, ...(found?.net === undefined ? {} : { net: found.net }) });
  }
  if (what.part !== undefined) return select({ part: what.part });
  if (what.net !== undefined) return select({ net: what.net });
  return select({});
}

export const boards: Place = { id: 'boards', title: 'Boards', View: Boards };
