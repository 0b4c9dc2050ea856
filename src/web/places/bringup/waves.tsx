// The waveforms: a canvas that is panned, zoomed and read by pointer and keys, with what it shows at the cursor as text beside it.

import { useEffect, useRef, useState } from 'preact/hooks';
import type { Waves as WaveData } from '../../bringup-protocol.ts';
import { ground } from '../../state/store.ts';
import { allRows, busValue, drawWaves, hexOf, type Ink, rowHeight } from './wave-draw.ts';
import { clampView, FOOT, halfAt, NAMES, RULER, showHalf, type WaveView, zoomAt } from './wave-view.ts';

function inkNow(): Ink {
  const style = getComputedStyle(document.documentElement);
  const get = (name: string): string => style.getPropertyValue(`--${name}`).trim();
  return {
    ground: get('sheet'),
    ink: get('ink'),
    ink2: get('ink-2'),
    line: get('line'),
    hair: get('hair'),
    fault: get('fault'),
    mark: get('mark-2'),
    strip: get('strip'),
    sans: get('sans') || 'sans-serif',
    mono: get('mono') || 'monospace',
  };
}

/** Half clocks of the first look: some tens of clocks, from a little before the release of reset or the first difference. */
function firstView(waves: WaveData, width: number): WaveView {
  const scale = width < 900 ? 9 : 12;
  const at = waves.first ?? Math.max(0, -(waves.sinceReset ?? 0)) + 8;
  return clampView(showHalf({ from: 0, scale }, at, width), waves.halves, width);
}

export function Waves({ waves, label }: { waves: WaveData; label: string }) {
  const host = useRef<HTMLElement>(null);
  const canvas = useRef<HTMLCanvasElement>(null);
  const [size, setSize] = useState({ width: 0, height: 0 });
  const [view, setView] = useState<WaveView>({ from: 0, scale: 12 });
  const [top, setTop] = useState(0);
  const [cursor, setCursor] = useState<number | undefined>(undefined);
  const [other, setOther] = useState<number | undefined>(undefined);
  const drag = useRef<{ x: number; y: number; view: WaveView; top: number; moved: boolean } | undefined>(undefined);
  const { width, height } = size;
  const mostTop = Math.max(0, allRows(waves) - (height - RULER - FOOT));
  /** How far the rows are scrolled so that the first one that differs is seen. */
  const topOfFirst = (): number => {
    const row = waves.rows.findIndex(({ nets }) => nets.some((net) => waves.nets[net]!.first === waves.first));
    if (waves.first === undefined || row < 0) return 0;
    const bottom = (row + 1) * rowHeight(waves) - (height - RULER - FOOT);
    return Math.max(0, Math.min(mostTop, bottom));
  };

  useEffect(() => {
    if (host.current === null) return;
    const watch = new ResizeObserver(([entry]) => {
      const box = entry!.contentRect;
      setSize({ width: Math.round(box.width), height: Math.round(box.height) });
    });
    watch.observe(host.current);
    return () => watch.disconnect();
  }, []);
  const isSized = width > 0;
  useEffect(() => {
    if (!isSized) return;
    setView(firstView(waves, width));
    setCursor(waves.first);
    setOther(undefined);
    setTop(topOfFirst());
  }, [waves, isSized]);
  // The boards come below and take room; the row that differs stays in view.
  useEffect(() => {
    if (waves.first !== undefined && cursor === waves.first) setTop(topOfFirst());
  }, [height]);
  useEffect(() => {
    const element = canvas.current;
    const context = element?.getContext('2d');
    if (element === null || context === null || context === undefined || width === 0) return;
    const ratio = devicePixelRatio || 1;
    const [wide, tall] = [Math.round(width * ratio), Math.round(height * ratio)];
    if (element.width !== wide || element.height !== tall) {
      element.width = wide;
      element.height = tall;
    }
    const frame = requestAnimationFrame(() => {
      context.setTransform(ratio, 0, 0, ratio, 0, 0);
      drawWaves(context, { waves, view, width, height, top: Math.min(top, mostTop), cursor, other, ink: inkNow() });
    });
    return () => cancelAnimationFrame(frame);
  }, [waves, view, width, height, top, cursor, other, ground.value]);

  const move = (next: WaveView): void => setView(clampView(next, waves.halves, width));
  const scroll = (to: number): void => setTop(Math.max(0, Math.min(mostTop, to)));
  /** Next or previous half clock at which any row changes or differs. */
  const step = (by: 1 | -1, isDifference: boolean): void => {
    let half = (cursor ?? Math.floor(view.from)) + by;
    const changes = (h: number): boolean =>
      waves.nets.some(({ predicted, captured }) => {
        const own = captured ?? predicted;
        if (isDifference) {
          const [a, b] = [predicted?.[h] ?? 2, captured?.[h] ?? 2];
          return a !== 2 && b !== 2 && a !== b;
        }
        return own !== undefined && own[h] !== own[h - 1];
      });
    while (half > 0 && half < waves.halves && !changes(half)) half += by;
    if (half <= 0 || half >= waves.halves) return;
    setCursor(half);
    const x = (half - view.from) * view.scale;
    if (x < 0 || x > width - NAMES) move(showHalf(view, half, width));
  };
  const keys = (event: KeyboardEvent): void => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const shown = (width - NAMES) / view.scale;
    const acts: Record<string, () => void> = {
      ArrowLeft: () => (event.shiftKey ? step(-1, false) : move({ ...view, from: view.from - shown / 8 })),
      ArrowRight: () => (event.shiftKey ? step(1, false) : move({ ...view, from: view.from + shown / 8 })),
      ArrowUp: () => scroll(top - rowHeight(waves)),
      ArrowDown: () => scroll(top + rowHeight(waves)),
      Home: () => move({ ...view, from: 0 }),
      End: () => move({ ...view, from: waves.halves }),
      '+': () => move(zoomAt(view, 1.5, width / 2)),
      '=': () => move(zoomAt(view, 1.5, width / 2)),
      '-': () => move(zoomAt(view, 1 / 1.5, width / 2)),
      f: () => move({ from: 0, scale: 0 }),
      d: () => first(),
      n: () => step(1, true),
      m: () => setOther(cursor),
    };
    const run = acts[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (run === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    run();
  };
  const first = (): void => {
    if (waves.first === undefined) return;
    setCursor(waves.first);
    setTop(topOfFirst());
    move(showHalf({ ...view, scale: Math.max(view.scale, 9) }, waves.first, width));
  };
  const at = cursor ?? other;
  return (
    <div class="bu-waves">
      <section
        class="bu-host"
        ref={host}
        // biome-ignore lint/a11y/noNoninteractiveTabindex: the waveforms are panned, zoomed and read by keys
        tabIndex={0}
        aria-label={`${label}. Arrows pan, plus and minus zoom, F shows all, Shift and arrows step from change to change, D goes to the first difference, N to the next, M sets the mark.`}
        onKeyDown={(event) => keys(event as unknown as KeyboardEvent)}
        onWheel={(event) => {
          event.preventDefault();
          const box = event.currentTarget.getBoundingClientRect();
          if (event.ctrlKey || event.metaKey)
            move(zoomAt(view, Math.exp(-event.deltaY / 300), event.clientX - box.left));
          else {
            if (Math.abs(event.deltaX) > Math.abs(event.deltaY) || event.shiftKey)
              move({ ...view, from: view.from + (event.deltaX + (event.shiftKey ? event.deltaY : 0)) / view.scale });
            else if (mostTop > 0) scroll(top + event.deltaY);
            else move(zoomAt(view, Math.exp(-event.deltaY / 300), event.clientX - box.left));
          }
        }}
        onPointerDown={(event) => {
          event.currentTarget.setPointerCapture(event.pointerId);
          drag.current = { x: event.clientX, y: event.clientY, view, top, moved: false };
        }}
        onPointerMove={(event) => {
          const start = drag.current;
          if (start === undefined) return;
          const [dx, dy] = [event.clientX - start.x, event.clientY - start.y];
          if (!start.moved && Math.hypot(dx, dy) < 4) return;
          start.moved = true;
          move({ ...start.view, from: start.view.from - dx / start.view.scale });
          scroll(start.top - dy);
        }}
        onPointerUp={(event) => {
          const start = drag.current;
          drag.current = undefined;
          if (start === undefined || start.moved) return;
          const box = event.currentTarget.getBoundingClientRect();
          const half = halfAt(view, event.clientX - box.left);
          if (half < 0 || half >= waves.halves || event.clientX - box.left < NAMES) return;
          if (event.shiftKey) setOther(half);
          else setCursor(half);
        }}
      >
        <canvas ref={canvas} style={{ width: `${width}px`, height: `${height}px` }} role="img" aria-label={label} />
      </section>
      <div class="bu-foot">
        <button type="button" class="do" aria-label="Zoom in" onClick={() => move(zoomAt(view, 1.5, width / 2))}>
          +
        </button>
        <button type="button" class="do" aria-label="Zoom out" onClick={() => move(zoomAt(view, 1 / 1.5, width / 2))}>
          −
        </button>
        <button type="button" class="do" onClick={() => move({ from: 0, scale: 0 })}>
          all
        </button>
        {waves.first !== undefined && (
          <button type="button" class="do" onClick={first}>
            first difference
          </button>
        )}
        <p class="bu-at" aria-live="polite">
          {at === undefined
            ? 'A press sets the cursor, with Shift the mark. Clocks count from the release of reset.'
            : words(waves, at, other)}
        </p>
      </div>
    </div>
  );
}

/** The cursor's place and every row's level there, as a sentence. */
function words(waves: WaveData, half: number, other: number | undefined): string {
  const since = half + (waves.sinceReset ?? 0);
  const clock = `${waves.sinceReset === null ? 'clock' : 'since reset, clock'} ${Math.floor(since / 2)}${since & 1 ? '½' : ''}`;
  const distance =
    other === undefined || other === half
      ? ''
      : `; from the mark ${Math.abs(half - other) / 2} clocks, ${(Math.abs(half - other) * waves.half * 1e6).toFixed(3)} µs`;
  const values = waves.rows.map(({ label, nets }) => {
    const value = (which: 'predicted' | 'captured'): string | undefined => {
      const lanes = nets.map((net) => waves.nets[net]![which]);
      if (lanes.every((lane) => lane === undefined)) return undefined;
      if (lanes.length === 1) return ['low', 'high', '?'][lanes[0]![half] ?? 2];
      const { value: number, isKnown } = busValue(lanes, half);
      return isKnown ? `0x${hexOf(number, lanes.length)}` : '?';
    };
    const [told, seen] = [value('predicted'), value('captured')];
    return seen === undefined || seen === told || told === '?' || told === undefined
      ? `${label} ${seen ?? told ?? '?'}`
      : `${label} ${seen}, not ${told}`;
  });
  return `${clock}${distance}: ${values.join(' · ')}`;
}
