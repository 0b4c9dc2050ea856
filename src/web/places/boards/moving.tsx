// Moving and turning a part by hand: its ghost follows at once with the shortest ways to its nets; the engine lays the rest
// anew behind it and says what the rework would be. Nothing is written until it is kept.

import { signal } from '@preact/signals';
import type { RefObject } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { BoardCanvas } from '../../drawing/board-canvas.ts';
import type { GhostAnswer, ReworkAnswer } from '../../protocol.ts';
import { edit } from '../../state/history.ts';
import { askSlow, engine } from '../../state/session.ts';
import { model, notice, selection, stage } from '../../state/store.ts';

const PITCH = 2.54;

interface Move {
  readonly part: string;
  readonly ghost: GhostAnswer;
  /** Whole pitches from where it lies. */
  readonly columns: number;
  readonly rows: number;
  readonly turn: 0 | 180;
  readonly hole: string | undefined;
  readonly answer: ReworkAnswer | undefined;
}

export const moving = signal<Move | undefined>(undefined);
let asking = false;

export type MoveBy =
  | { readonly kind: 'by'; readonly dx: number; readonly dy: number; readonly done: boolean }
  | { readonly kind: 'step'; readonly columns: number; readonly rows: number }
  | { readonly kind: 'turn' };

let base = { columns: 0, rows: 0, dragging: false };

/** Moves the ghost of a part. */
export function startMove(part: string, by: MoveBy): void {
  void (async () => {
    let now = moving.value;
    if (now?.part !== part) {
      const ghost = await engine.ask('ghost', { stage: stage.value, part });
      if (ghost === undefined) return;
      base = { columns: 0, rows: 0, dragging: false };
      now =
        moving.value?.part === part
          ? moving.value
          : { part, ghost, columns: 0, rows: 0, turn: 0, hole: ghost.firstHole, answer: undefined };
    }
    let { columns, rows, turn } = now;
    if (by.kind === 'turn') turn = turn === 0 ? 180 : 0;
    else if (by.kind === 'step') {
      columns += by.columns;
      rows += by.rows;
    } else {
      if (!base.dragging) base = { columns, rows, dragging: true };
      columns = base.columns + Math.round(by.dx / PITCH);
      rows = base.rows + Math.round(by.dy / PITCH);
      if (by.done) base.dragging = false;
    }
    if (columns === now.columns && rows === now.rows && turn === now.turn && moving.value !== undefined) {
      if (by.kind === 'by' && by.done) askRework();
      return;
    }
    moving.value = { ...now, columns, rows, turn, answer: undefined, hole: undefined };
    askRework();
  })();
}

/** Asks for the rework of where the ghost is now; when the ghost has gone on meanwhile, asks again. */
function askRework(): void {
  if (asking || moving.value === undefined) return;
  asking = true;
  const now = moving.value;
  void (async () => {
    try {
      const first = leadPlaces(now)[0];
      const hole = first === undefined ? undefined : await engine.ask('holeAt', { x: first[0], y: first[1] });
      const other = leadPlaces(now).length === 2 ? leadPlaces(now)[1] : undefined;
      const second = other === undefined ? undefined : await engine.ask('holeAt', { x: other[0], y: other[1] });
      const answer: ReworkAnswer =
        hole === undefined
          ? {
              part: now.part,
              fits: false,
              text: 'There is no hole for its first pin.',
              out: 0,
              in: 0,
              metres: 0,
              layout: undefined,
              choices: undefined,
            }
          : await askSlow('rework', {
              part: now.part,
              hole,
              second,
              rotation: (now.ghost.rotation + now.turn) % 360,
              stage: stage.value,
            });
      const latest = moving.value;
      if (
        latest !== undefined &&
        latest.part === now.part &&
        latest.columns === now.columns &&
        latest.rows === now.rows &&
        latest.turn === now.turn
      )
        moving.value = { ...latest, answer, hole };
    } finally {
      asking = false;
      const latest = moving.value;
      if (latest !== undefined && latest.answer === undefined) askRework();
    }
  })();
}

/** Where the ghost's leads are, mm. Turning is about the middle of the body. */
function leadPlaces(move: Move): (readonly [number, number])[] {
  const { body, leads } = move.ghost;
  const cx = body.x + body.width / 2;
  const cy = body.y + body.height / 2;
  return leads.map(({ x, y }) => {
    const [tx, ty] = move.turn === 180 ? [2 * cx - x, 2 * cy - y] : [x, y];
    return [tx + move.columns * PITCH, ty + move.rows * PITCH] as const;
  });
}

export async function keepMove(): Promise<void> {
  const now = moving.value;
  const answer = now?.answer;
  if (now === undefined || answer?.layout === undefined || answer.choices === undefined) return;
  const { build } = model.value;
  moving.value = undefined;
  backToDrawing();
  await edit(`move ${now.part}`, [
    { path: `builds/${build}/boards.yaml`, text: answer.choices },
    { path: `builds/${build}/layout.json`, text: answer.layout },
  ]);
}

export function cancelMove(): void {
  moving.value = undefined;
  backToDrawing();
}

/** The button that was pressed is gone with the move: its keys go back to the drawing, where the next R or arrow is meant. */
function backToDrawing(): void {
  document.querySelector<HTMLElement>('.canvas')?.focus({ preventScroll: true });
}

/** Shift with arrows moves the selected part, R turns it, Enter keeps, Escape puts back. */
export function moveKeys(event: KeyboardEvent): void {
  const part = selection.value.part;
  const steps: Record<string, readonly [number, number]> = {
    ArrowLeft: [-1, 0],
    ArrowRight: [1, 0],
    ArrowUp: [0, -1],
    ArrowDown: [0, 1],
  };
  const step = steps[event.key];
  if (part !== undefined && event.shiftKey && step !== undefined)
    startMove(part, { kind: 'step', columns: step[0], rows: step[1] });
  else if (part !== undefined && event.key.toLowerCase() === 'r' && !event.ctrlKey && !event.metaKey)
    startMove(part, { kind: 'turn' });
  else if (moving.value !== undefined && event.key === 'Enter') void keepMove();
  else if (moving.value !== undefined && event.key === 'Escape') cancelMove();
  else return;
  event.preventDefault();
  event.stopPropagation();
}

/** The ghost over the drawing. */
export function Moving({ canvas }: { canvas: RefObject<BoardCanvas | undefined> }) {
  const now = moving.value;
  const [, again] = useState(0);
  useEffect(() => {
    if (now === undefined) return;
    const timer = setInterval(() => again((n) => n + 1), 200);
    return () => clearInterval(timer);
  }, [now === undefined]);
  useEffect(() => {
    if (now !== undefined && selection.value.part !== now.part) cancelMove();
  }, [selection.value, now]);
  if (now === undefined || canvas.current === undefined || canvas.current === null) return null;
  const { x, y, s } = canvas.current.view;
  const px = (mm: number): number => (mm - x) * s;
  const py = (mm: number): number => (mm - y) * s;
  const { body } = now.ghost;
  const left = px(body.x + now.columns * PITCH);
  const top = py(body.y + now.rows * PITCH);
  const bad = now.answer !== undefined && !now.answer.fits;
  const places = leadPlaces(now);
  return (
    <svg class="ghost" aria-hidden="true">
      {places.map(([lx, ly], i) => {
        const to = now.ghost.leads[i]!.to;
        return to === undefined ? null : (
          <path class="tie" key={i} d={`M${px(lx)} ${py(ly)}L${px(to[0])} ${py(to[1])}`} />
        );
      })}
      <rect class={`body${bad ? ' bad' : ''}`} x={left} y={top} width={body.width * s} height={body.height * s} />
      {places.map(([lx, ly], i) => (
        <circle class="leg" key={i} cx={px(lx)} cy={py(ly)} r={i === 0 ? 4.5 : 2.6} />
      ))}
    </svg>
  );
}

/** What the move would take, and the two things one can do about it. */
export function MovePanel() {
  const now = moving.value;
  if (now === undefined) return null;
  return (
    <section class="ruled" style={{ paddingTop: '8px' }} aria-label={`Moving ${now.part}`}>
      <p>{now.answer?.text ?? `${now.part}: laying its wires anew`}</p>
      <div class="acts">
        <button type="button" class="do main" disabled={now.answer?.fits !== true} onClick={() => void keepMove()}>
          keep it there
        </button>
        <button
          type="button"
          class="do"
          onClick={() => {
            cancelMove();
            notice.value = '';
          }}
        >
          put it back
        </button>
        <button type="button" class="do" onClick={() => startMove(now.part, { kind: 'turn' })}>
          turn it
        </button>
      </div>
    </section>
  );
}
