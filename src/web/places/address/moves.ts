// Edits of the map, asked of the engine and done as one command that can be taken back in every place.

import type { AddressEntry, MapEditAsk } from '../../protocol.ts';
import { edit } from '../../state/history.ts';
import { engine } from '../../state/session.ts';
import { notice } from '../../state/store.ts';

/** An address as it is written. */
export function hex(address: number, digits: number): string {
  return address.toString(16).toUpperCase().padStart(digits, '0');
}

/** A size as it is written: `32 KiB`, `8`. */
export function sizeText(bytes: number): string {
  if (bytes % 2 ** 20 === 0) return `${bytes / 2 ** 20} MiB`;
  return bytes % 1024 === 0 ? `${bytes / 1024} KiB` : `${bytes}`;
}

/** A size in words: `32 KiB`, `8 bytes`. */
export function sizeWords(bytes: number): string {
  return bytes % 1024 === 0 ? sizeText(bytes) : `${bytes} ${bytes === 1 ? 'byte' : 'bytes'}`;
}

/** Does an edit; the sentence that says why not is shown at the foot. */
export async function change(label: string, ask: MapEditAsk): Promise<boolean> {
  const answer = await engine.ask('mapEdit', ask);
  if (typeof answer === 'string') {
    notice.value = answer;
    return false;
  }
  return edit(label, [{ path: answer.file, text: answer.text }]);
}

/** Where an entry goes by a key: by its own size, so that it stays aligned; with Shift twice or half as large. */
export function byKey(
  entry: AddressEntry,
  key: string,
  isShift: boolean,
  size: number,
): { at: number; bytes: number } | undefined {
  const up = key === 'ArrowUp';
  if (!up && key !== 'ArrowDown') return undefined;
  if (isShift) {
    const bytes = up ? entry.bytes * 2 : Math.floor(entry.bytes / 2);
    return bytes < 1 || entry.at + bytes > size ? undefined : { at: entry.at, bytes };
  }
  const at = entry.at + (up ? entry.bytes : -entry.bytes);
  return at < 0 || at + entry.bytes > size ? undefined : { at, bytes: entry.bytes };
}

/** The nearest place for a region that is dragged: at multiples of its size, or of the largest power of two in it. */
export function snap(address: number, bytes: number, size: number): number {
  let step = 1;
  while (step * 2 <= bytes && bytes % (step * 2) === 0) step *= 2;
  const near = Math.round(address / step) * step;
  return Math.min(Math.max(0, near), Math.max(0, size - bytes));
}

/** The nearest round edge for an end that is dragged, coarse where the addresses are many. */
export function snapEdge(address: number, perPixel: number, size: number): number {
  let step = 1;
  while (step < perPixel * 6) step *= 2;
  return Math.min(size, Math.max(0, Math.round(address / step) * step));
}
