// The boards on screen: a retained drawing that is moved and scaled as a whole, and over it what is selected. No framework in
// here. The engine draws; this shows, pans, zooms, and says what was pointed at. A frame of panning sets one transform.

import type { Rect } from '../../drawing/index.ts';
import type { BoardInfo, BoardsAnswer, BoardsAsk, Selection } from '../protocol.ts';

export interface Pointed {
  readonly part?: string;
  readonly net?: string;
  readonly wire?: string;
  /** mm */
  readonly x: number;
  readonly y: number;
}

export interface CanvasHost {
  boards(ask: BoardsAsk): Promise<BoardsAnswer | undefined>;
  overlay(ask: BoardsAsk & { readonly select: Selection }): Promise<string>;
  picked(what: Pointed): void;
  /** A selected part is being dragged by so many mm; `done` with the last. */
  dragged(part: string, dx: number, dy: number, done: boolean): void;
  moved?(view: { x: number; y: number; scale: number }): void;
}

interface View {
  /** mm at the upper left. */
  x: number;
  y: number;
  /** px per mm. */
  s: number;
}

const PITCH = 2.54;
const LEAST = 1.2;
const MOST = 26;
/** px per mm from which on names can be read. */
const READABLE = 3.4;

export class BoardCanvas {
  readonly element: HTMLElement;
  readonly #host: CanvasHost;
  readonly #base = document.createElement('div');
  readonly #over = document.createElement('div');
  readonly #rules = document.createElement('div');
  readonly #top = document.createElement('div');
  readonly #left = document.createElement('div');
  readonly #frameBox = document.createElement('div');
  /** The scale for which the rules were made. */
  #rulesFor: number | undefined;
  #view: View = { x: 0, y: 0, s: 4 };
  #fit: View = { x: 0, y: 0, s: 4 };
  #drawn: BoardsAnswer | undefined;
  #overDrawn: { crop: Rect; scale: number } | undefined;
  #stage = 0;
  #select: Selection = {};
  #version = -1;
  #whole: Rect | undefined;
  #settle: ReturnType<typeof setTimeout> | undefined;
  #turn = 0;
  #frame = 0;
  #fitted = true;
  #fitsAll = false;
  /** What to bring into view once there is something to see. */
  #pending: readonly [number, number] | undefined;
  /** Detail frame in mm, drawn as a dash-dot box. */
  #detail: Rect | undefined;

  constructor(element: HTMLElement, host: CanvasHost) {
    this.element = element;
    this.#host = host;
    this.#base.className = 'layer base';
    this.#over.className = 'layer over';
    this.#rules.className = 'rules';
    this.#top.className = 'top';
    this.#left.className = 'left';
    this.#frameBox.className = 'detailframe';
    this.#rules.append(this.#frameBox, this.#top, this.#left);
    element.prepend(this.#base, this.#over, this.#rules);
    this.#listen();
    new ResizeObserver(() => this.#resized()).observe(element);
  }

  /** Shows a stage; a new version of the model draws anew. */
  show(stage: number, version: number): void {
    if (this.#stage === stage && this.#version === version) return;
    this.#stage = stage;
    this.#version = version;
    void this.#draw();
  }

  select(select: Selection): void {
    this.#select = select;
    void this.#drawOver();
  }

  detail(frame: Rect | undefined): void {
    this.#detail = frame;
    this.#drawRules();
  }

  get view(): Readonly<View> {
    return this.#view;
  }

  get boards(): readonly BoardInfo[] {
    return this.#drawn?.boards ?? [];
  }

  /** All of the boards; again where they are all shown: their width. */
  fitOther(): void {
    this.#fitsAll = !(this.#fitted && this.#fitsAll);
    this.fit();
  }

  /** The boards as they are shown at first. */
  fit(): void {
    this.#fitted = true;
    this.#measure();
    this.#view = { ...this.#fit };
    this.#place();
    void this.#draw();
  }

  zoom(factor: number, at?: readonly [number, number]): void {
    const box = this.element.getBoundingClientRect();
    const [px, py] = at ?? [box.width / 2, box.height / 2];
    const s = Math.max(LEAST, Math.min(MOST, this.#view.s * factor));
    const mx = this.#view.x + px / this.#view.s;
    const my = this.#view.y + py / this.#view.s;
    this.#view = { x: mx - px / s, y: my - py / s, s };
    this.#fitted = false;
    this.#moved();
  }

  pan(dx: number, dy: number): void {
    this.#view = { ...this.#view, x: this.#view.x - dx / this.#view.s, y: this.#view.y - dy / this.#view.s };
    this.#fitted = false;
    this.#moved();
  }

  /** Brings a point into view, without moving where it is in view already. */
  reveal(x: number, y: number): void {
    if (this.#drawn === undefined) {
      this.#pending = [x, y];
      return;
    }
    const box = this.element.getBoundingClientRect();
    const px = (x - this.#view.x) * this.#view.s;
    const py = (y - this.#view.y) * this.#view.s;
    const isIn = [px > 30 && px < box.width - 30, py > 60 && py < box.height - 60];
    if (isIn[0] && isIn[1]) return;
    this.#view = {
      ...this.#view,
      ...(isIn[0] ? {} : { x: x - box.width / 2 / this.#view.s }),
      ...(isIn[1] ? {} : { y: y - box.height / 2 / this.#view.s }),
    };
    this.#moved();
  }

  /** mm of a point of the window. */
  toBoard(clientX: number, clientY: number): readonly [number, number] {
    const box = this.element.getBoundingClientRect();
    return [this.#view.x + (clientX - box.left) / this.#view.s, this.#view.y + (clientY - box.top) / this.#view.s];
  }

  #resized(): void {
    this.#measure();
    if (this.#fitted) this.fit();
    else this.#moved();
  }

  #measure(): void {
    const whole = this.#whole;
    const { clientWidth: width, clientHeight: height } = this.element;
    if (whole === undefined || width === 0 || height === 0) return;
    const byWidth = width / whole.width;
    const byHeight = height / whole.height;
    // Where fitting all makes names vanish, the width alone is fitted at first, and the rest lies below.
    const s = this.#fitsAll || byHeight >= READABLE ? Math.min(byWidth, byHeight) : byWidth;
    const x = whole.x - Math.max(0, (width / s - whole.width) / 2);
    const spare = (height / s - whole.height) / 2;
    this.#fit = { x, y: whole.y - Math.max(0, Math.min(spare, 6)), s };
  }

  #moved(): void {
    if (this.#frame === 0)
      this.#frame = requestAnimationFrame(() => {
        this.#frame = 0;
        this.#place();
      });
    clearTimeout(this.#settle);
    this.#settle = setTimeout(() => {
      if (this.#needsDrawing()) void this.#draw();
    }, 140);
  }

  #place(): void {
    const put = (layer: HTMLElement, drawn: { crop: Rect; scale: number } | undefined): void => {
      if (drawn === undefined) return;
      const k = this.#view.s / drawn.scale;
      const x = (drawn.crop.x - this.#view.x) * this.#view.s;
      const y = (drawn.crop.y - this.#view.y) * this.#view.s;
      layer.style.transform = `translate(${x.toFixed(2)}px,${y.toFixed(2)}px)${Math.abs(k - 1) < 1e-6 ? '' : ` scale(${k})`}`;
    };
    put(this.#base, this.#drawn);
    put(this.#over, this.#overDrawn);
    this.#placeRules();
    this.#host.moved?.({ x: this.#view.x, y: this.#view.y, scale: this.#view.s });
  }

  /** The stretch of board in view, mm. */
  #visible(): Rect {
    return {
      x: this.#view.x,
      y: this.#view.y,
      width: this.element.clientWidth / this.#view.s,
      height: this.element.clientHeight / this.#view.s,
    };
  }

  #isWhole(): boolean {
    return this.#view.s <= this.#fit.s * 1.02;
  }

  #needsDrawing(): boolean {
    const drawn = this.#drawn;
    if (drawn === undefined) return true;
    if (Math.abs(drawn.scale / this.#view.s - 1) > 0.01) return true;
    if (this.#isWhole()) return drawn.crop !== this.#whole && drawn.crop.width < (this.#whole?.width ?? 0) - 0.01;
    const seen = this.#visible();
    const whole = this.#whole!;
    const inside = (low: number, value: number, limit: number): boolean => value >= low || low <= limit + 0.01;
    return !(
      inside(drawn.crop.x, seen.x, whole.x) &&
      inside(drawn.crop.y, seen.y, whole.y) &&
      (seen.x + seen.width <= drawn.crop.x + drawn.crop.width ||
        drawn.crop.x + drawn.crop.width >= whole.x + whole.width - 0.01) &&
      (seen.y + seen.height <= drawn.crop.y + drawn.crop.height ||
        drawn.crop.y + drawn.crop.height >= whole.y + whole.height - 0.01)
    );
  }

  /** What to draw: all of it at the fitting scale, else what is in view and as much again around it. */
  #ask(): BoardsAsk {
    const scale = this.#view.s;
    if (this.#whole === undefined || this.#isWhole()) return { stage: this.#stage, scale };
    const seen = this.#visible();
    const whole = this.#whole;
    const x0 = Math.max(whole.x, seen.x - seen.width * 0.6);
    const y0 = Math.max(whole.y, seen.y - seen.height * 0.6);
    const x1 = Math.min(whole.x + whole.width, seen.x + seen.width * 1.6);
    const y1 = Math.min(whole.y + whole.height, seen.y + seen.height * 1.6);
    if (x1 <= x0 || y1 <= y0) return { stage: this.#stage, scale };
    return { stage: this.#stage, scale, crop: { x: x0, y: y0, width: x1 - x0, height: y1 - y0 } };
  }

  async #draw(): Promise<void> {
    const turn = ++this.#turn;
    const first = this.#whole === undefined;
    const answer = await this.#host.boards(this.#ask());
    if (turn !== this.#turn) return;
    if (answer === undefined) {
      this.#base.innerHTML = '';
      this.#over.innerHTML = '';
      this.#drawn = undefined;
      this.#whole = undefined;
      this.#drawRules();
      return;
    }
    const isWhole = answer.crop.width > (this.#whole?.width ?? 0) - 0.01 || first;
    if (isWhole) {
      const same =
        this.#whole !== undefined &&
        this.#whole.height === answer.crop.height &&
        this.#whole.width === answer.crop.width;
      this.#whole = answer.crop;
      if (!same) {
        this.#measure();
        if (this.#fitted && Math.abs(this.#fit.s / answer.scale - 1) > 0.01) {
          this.#view = { ...this.#fit };
          return this.#draw();
        }
        if (this.#fitted) this.#view = { ...this.#fit };
      }
    }
    this.#drawn = answer;
    this.#base.innerHTML = answer.svg;
    this.#drawRules();
    this.#place();
    const pending = this.#pending;
    this.#pending = undefined;
    if (pending !== undefined) this.reveal(pending[0], pending[1]);
    await this.#drawOver();
  }

  async #drawOver(): Promise<void> {
    if (this.#drawn === undefined) return;
    const turn = this.#turn;
    const select = this.#select;
    const nothing =
      select.net === undefined &&
      select.part === undefined &&
      select.wire === undefined &&
      select.hole === undefined &&
      select.pin === undefined;
    if (nothing) {
      this.#over.innerHTML = '';
      this.element.classList.remove('chosen');
      return;
    }
    const ask = this.#ask();
    const svg = await this.#host.overlay({ ...ask, select });
    if (turn !== this.#turn || select !== this.#select) return;
    this.#over.innerHTML = svg;
    this.#overDrawn = { crop: ask.crop ?? this.#whole!, scale: ask.scale };
    this.element.classList.toggle('chosen', /class="pb-wire /.test(svg));
    this.#place();
  }

  // ------------------------------------------------------------------------------------------------- coordinates, detail

  /** Column numbers and row letters along two edges when zoomed in, and the frame of the detail; made anew for a scale. */
  #drawRules(): void {
    const { s } = this.#view;
    this.#rulesFor = undefined;
    const shows = this.#drawn !== undefined && !this.#isWhole();
    this.#top.hidden = !shows;
    this.#left.hidden = !shows;
    if (shows) {
      const pitch = PITCH * s;
      const every = pitch >= 22 ? 1 : 5;
      const seen = new Set<number>();
      let top = '';
      let left = '';
      for (const board of this.#drawn!.boards) {
        for (let column = 1; column <= board.columns; column++) {
          if (every > 1 && column !== 1 && column % every !== 0) continue;
          const at = Math.round((board.firstX + (column - 1) * PITCH) * s);
          if (seen.has(at)) continue;
          seen.add(at);
          top += `<text x="${at}" y="16">${column}</text>`;
        }
        if (pitch >= 11)
          for (const { row, y } of board.rows)
            left += `<text x="12" y="${(y * s + 4).toFixed(1)}">${row.length === 2 ? (row.endsWith('+') ? '+' : '−') : row}</text>`;
        left += `<text class="no" x="12" y="${((board.y + board.height / 2) * s + 5).toFixed(1)}">${board.board}</text>`;
      }
      const svg = (inner: string): string =>
        `<svg class="pb" width="1" height="1" aria-hidden="true" style="overflow:visible">${inner}</svg>`;
      this.#top.innerHTML = svg(top);
      this.#left.innerHTML = svg(left);
    }
    const detail = this.#drawn === undefined ? undefined : this.#detail;
    this.#frameBox.hidden = detail === undefined;
    if (detail !== undefined) {
      const [w, h] = [(detail.width * s).toFixed(1), (detail.height * s).toFixed(1)];
      this.#frameBox.innerHTML = `<svg class="pb" width="1" height="1" aria-hidden="true" style="overflow:visible"><g class="pb-detail"><rect width="${w}" height="${h}" rx="6"/><circle cx="${w}" cy="0" r="9"/><text x="${w}" y="4.3" style="font-size:12px">A</text></g></svg>`;
    }
    this.#placeRules();
  }

  /** Follows the view: three transforms, nothing made anew unless the scale has changed. */
  #placeRules(): void {
    const { x, y, s } = this.#view;
    if (this.#rulesFor !== s) {
      if (this.#rulesFor !== undefined) {
        this.#drawRules();
        return;
      }
      this.#rulesFor = s;
    }
    const move = (element: HTMLElement, dx: number, dy: number): void => {
      element.style.transform = `translate(${dx.toFixed(1)}px,${dy.toFixed(1)}px)`;
    };
    const svgOf = (element: HTMLElement): HTMLElement | null => element.querySelector<HTMLElement>('svg');
    const top = svgOf(this.#top);
    const left = svgOf(this.#left);
    if (top !== null) move(top, -x * s - 24, 0);
    if (left !== null) move(left, 0, -y * s - 24);
    if (this.#detail !== undefined) move(this.#frameBox, (this.#detail.x - x) * s, (this.#detail.y - y) * s);
  }

  // --------------------------------------------------------------------------------------------------------------- input

  #listen(): void {
    const { element } = this;
    let from: { x: number; y: number; moved: boolean; target: Element; part: string | undefined } | undefined;
    const touches = new Map<number, { x: number; y: number }>();
    let pinch = 0;
    // A drag would select text on its way, at the cost of looking for what lies under the pointer at every move.
    element.addEventListener('mousedown', (event) => {
      if ((event.target as Element).closest('button') !== null) return;
      event.preventDefault();
      element.focus({ preventScroll: true });
    });
    element.addEventListener('pointerdown', (event) => {
      if (event.button !== 0 || (event.target as Element).closest('button') !== null) return;
      touches.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (touches.size === 2) {
        const [a, b] = [...touches.values()] as [{ x: number; y: number }, { x: number; y: number }];
        pinch = Math.hypot(a.x - b.x, a.y - b.y);
        from = undefined;
        return;
      }
      const target = event.target as Element;
      const part = target.closest<HTMLElement>('[data-part]')?.dataset.part;
      const grabs = part !== undefined && part === this.#select.part && event.pointerType !== 'touch';
      from = { x: event.clientX, y: event.clientY, moved: false, target, part: grabs ? part : undefined };
      element.setPointerCapture(event.pointerId);
    });
    element.addEventListener('pointermove', (event) => {
      const last = touches.get(event.pointerId);
      if (last === undefined) return;
      touches.set(event.pointerId, { x: event.clientX, y: event.clientY });
      if (touches.size === 2) {
        const [a, b] = [...touches.values()] as [{ x: number; y: number }, { x: number; y: number }];
        const now = Math.hypot(a.x - b.x, a.y - b.y);
        const box = element.getBoundingClientRect();
        if (pinch > 0) this.zoom(now / pinch, [(a.x + b.x) / 2 - box.left, (a.y + b.y) / 2 - box.top]);
        pinch = now;
        return;
      }
      if (from === undefined) return;
      if (!from.moved && Math.hypot(event.clientX - from.x, event.clientY - from.y) < 4) return;
      from.moved = true;
      if (from.part !== undefined) {
        element.classList.add('moving');
        this.#host.dragged(
          from.part,
          (event.clientX - from.x) / this.#view.s,
          (event.clientY - from.y) / this.#view.s,
          false,
        );
      } else this.pan(event.clientX - last.x, event.clientY - last.y);
    });
    const end = (event: PointerEvent): void => {
      touches.delete(event.pointerId);
      const was = from;
      from = undefined;
      element.classList.remove('moving');
      if (was === undefined || event.type === 'pointercancel') return;
      if (was.moved) {
        if (was.part !== undefined)
          this.#host.dragged(
            was.part,
            (event.clientX - was.x) / this.#view.s,
            (event.clientY - was.y) / this.#view.s,
            true,
          );
        return;
      }
      const [x, y] = this.toBoard(event.clientX, event.clientY);
      const near = (name: 'part' | 'net' | 'wire'): string | undefined =>
        was.target.closest<HTMLElement>(`[data-${name}]`)?.dataset[name];
      const [part, net, wire] = [near('part'), near('net'), near('wire')];
      this.#host.picked({
        x,
        y,
        ...(part === undefined ? {} : { part }),
        ...(net === undefined || net === '' ? {} : { net }),
        ...(wire === undefined ? {} : { wire }),
      });
    };
    element.addEventListener('pointerup', end);
    element.addEventListener('pointercancel', end);
    element.addEventListener(
      'wheel',
      (event) => {
        event.preventDefault();
        const box = element.getBoundingClientRect();
        if (event.ctrlKey || Math.abs(event.deltaY) > Math.abs(event.deltaX) * 3)
          this.zoom(Math.exp(-event.deltaY * (event.deltaMode === 1 ? 0.04 : 0.0016)), [
            event.clientX - box.left,
            event.clientY - box.top,
          ]);
        else this.pan(-event.deltaX, -event.deltaY);
      },
      { passive: false },
    );
    element.addEventListener('keydown', (event) => {
      if (event.shiftKey || event.altKey || event.ctrlKey || event.metaKey) return;
      const step = 60;
      const act: Record<string, () => void> = {
        ArrowLeft: () => this.pan(step, 0),
        ArrowRight: () => this.pan(-step, 0),
        ArrowUp: () => this.pan(0, step),
        ArrowDown: () => this.pan(0, -step),
        '+': () => this.zoom(1.3),
        '=': () => this.zoom(1.3),
        '-': () => this.zoom(1 / 1.3),
        f: () => this.fitOther(),
      };
      if (act[event.key] === undefined) return;
      event.preventDefault();
      event.stopPropagation();
      act[event.key]!();
    });
  }
}
