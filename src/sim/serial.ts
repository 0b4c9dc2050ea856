// Characters from the edges of a serial line: 8 data bits, no parity, one stop bit. The rate is found from the shortest level
// of the line where it is not given.

export interface SerialEdge {
  readonly ns: number;
  /** 0, 1, or 2 for not known. */
  readonly level: number;
}

/** Usual rates. */
export const BAUD_RATES = [
  300, 600, 1200, 2400, 4800, 9600, 14400, 19200, 28800, 38400, 57600, 76800, 115200, 230400,
] as const;

/** The usual rate nearest to a bit's length, within 4 %; else the rate itself, rounded. */
export function nearestBaud(bitNs: number): number {
  const rate = 1e9 / bitNs;
  return BAUD_RATES.find((usual) => Math.abs(rate / usual - 1) < 0.04) ?? Math.round(rate);
}

/**
 * Reads what came over a line that rests high. A frame whose stop bit is low gives U+FFFD, as does one with unknown levels.
 * `until` ends the last level; a frame that is not over by then is left out.
 */
export function readSerial(
  edges: readonly SerialEdge[],
  baud: number | undefined,
  until: number,
): { readonly text: string; readonly baud: number | undefined; readonly bytes: readonly number[] } {
  let bit = baud === undefined ? undefined : 1e9 / baud;
  if (bit === undefined) {
    let shortest = Number.POSITIVE_INFINITY;
    for (let k = 1; k < edges.length; k++) {
      const { level } = edges[k - 1]!;
      const length = edges[k]!.ns - edges[k - 1]!.ns;
      // Only lows after a high: a line that was low before it was ever high is not yet set up.
      if (level === 0 && k > 1 && edges[k - 2]!.level === 1 && length < shortest) shortest = length;
      else if (level === 1 && k > 1 && edges[k - 2]!.level === 0 && length < shortest) shortest = length;
    }
    if (!Number.isFinite(shortest)) return { text: '', baud: undefined, bytes: [] };
    bit = 1e9 / nearestBaud(shortest);
  }
  const bytes: number[] = [];
  let text = '';
  let at = 0;
  const levelAt = (ns: number): number => {
    while (at + 1 < edges.length && edges[at + 1]!.ns <= ns) at++;
    return at < edges.length && edges[at]!.ns <= ns ? edges[at]!.level : 1;
  };
  for (let k = 0; k < edges.length; k++) {
    if (edges[k]!.level !== 0 || (k > 0 && edges[k - 1]!.level !== 1)) continue;
    const start = edges[k]!.ns;
    if (start + 9.5 * bit > until) break;
    at = k;
    if (levelAt(start + bit / 2) !== 0) continue;
    let byte = 0;
    let isGood = true;
    for (let n = 0; n < 8; n++) {
      const level = levelAt(start + (n + 1.5) * bit);
      if (level === 2) isGood = false;
      byte |= (level & 1) << n;
    }
    if (levelAt(start + 9.5 * bit) !== 1) isGood = false;
    bytes.push(byte);
    text += isGood ? String.fromCharCode(byte) : '\ufffd';
    const end = start + 9.4 * bit;
    while (k + 1 < edges.length && edges[k + 1]!.ns < end) k++;
  }
  return { text, baud: nearestBaud(bit), bytes };
}
