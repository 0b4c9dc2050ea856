// The outer element of the smaller drawings: title, own colours where it stands alone, the ground behind.

import { escapeStyle, standaloneStyle } from './style.ts';
import { escapeXml, num } from './text.ts';
import type { Ground } from './tokens.ts';

/** Wraps a drawing of `width` x `height` px. With a ground it stands alone; without, it takes the page's colours. */
export function wrapSvg(
  inner: string,
  width: number,
  height: number,
  title: string,
  ground: Ground | undefined,
): string {
  const style = ground === undefined ? '' : `<style>${escapeStyle(standaloneStyle(ground))}</style>`;
  const back = ground === undefined ? '' : `<rect class="table" width="${num(width)}" height="${num(height)}"/>`;
  const attribute = ground === undefined ? '' : ` data-ground="${ground}"`;
  const name = escapeXml(title);
  return `<svg xmlns="http://www.w3.org/2000/svg" class="pb" role="img" aria-label="${name}"${attribute} viewBox="0 0 ${num(width)} ${num(height)}" width="${num(width)}" height="${num(height)}"><title>${name}</title>${style}${back}${inner}</svg>`;
}
