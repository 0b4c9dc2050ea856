// The frame a drawing is made in: scale, crop and level of detail, and the short functions that every part of it uses.

import { num } from './text.ts';
import { PITCH, type Rect } from './places.ts';

/**
 * How much is shown, by the pitch on screen: far (under 9 px) outlines and part names; mid pin names in wide chips and every
 * name on the selected net; near (from 20 px) all pin names, and net names outside; bench (from 35 px) large type.
 */
export type Level = 'far' | 'mid' | 'near' | 'bench';

export interface Frame {
  /** mm shown. */
  readonly view: Rect;
  /** mm shown that no gutter covers: where names go. */
  readonly clear: Rect;
  /** px per mm. */
  readonly scale: number;
  readonly level: Level;
  /** near or bench */
  readonly large: boolean;
  /** mm to px, as text. */
  px(mm: number): string;
  /** Whether a point is in view, or within `margin` mm of it. */
  sees(x: number, y: number, margin?: number): boolean;
  seesBox(box: Rect, margin?: number): boolean;
}

export function createFrame(view: Rect, scale: number, clear: Rect = view): Frame {
  const pitch = PITCH * scale;
  const level: Level = pitch < 9 ? 'far' : pitch < 20 ? 'mid' : pitch < 35 ? 'near' : 'bench';
  const right = view.x + view.width;
  const bottom = view.y + view.height;
  return {
    view,
    clear,
    scale,
    level,
    large: level === 'near' || level === 'bench',
    px: (mm) => num(mm * scale),
    sees: (x, y, margin = 0) =>
      x >= view.x - margin && x <= right + margin && y >= view.y - margin && y <= bottom + margin,
    seesBox: (box, margin = 0) =>
      box.x <= right + margin &&
      box.x + box.width >= view.x - margin &&
      box.y <= bottom + margin &&
      box.y + box.height >= view.y - margin,
  };
}
