// Lines and columns of a text, computed only where a place is shown to a person or written to JSON.

/** A place as people count it: line and column from 1, column in UTF-16 units. */
export interface Position {
  readonly line: number;
  readonly column: number;
}

/** Offsets at which each line of `text` starts; LF, CRLF and a lone CR end a line. */
export function lineStarts(text: string): number[] {
  const starts = [0];
  for (let i = 0; i < text.length; i++) {
    const c = text.charCodeAt(i);
    if (c === 10 || (c === 13 && text.charCodeAt(i + 1) !== 10)) starts.push(i + 1);
  }
  return starts;
}

/** The position of `offset`, clamped to the text. O(log lines). */
export function positionAt(starts: readonly number[], offset: number): Position {
  let low = 0;
  let high = starts.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (starts[middle]! <= offset) low = middle;
    else high = middle - 1;
  }
  return { line: low + 1, column: Math.max(0, offset - starts[low]!) + 1 };
}
