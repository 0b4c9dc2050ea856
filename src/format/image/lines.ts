// Lines of a text of records, with their places, and hexadecimal digits as bytes: shared by the readers of both formats.

/** A line without its end and without blanks around it. */
export interface TextLine {
  readonly text: string;
  readonly start: number;
  readonly end: number;
}

/** The lines of a file of records that hold anything. Any line end will do; bytes above 0x7F stay as they are. */
export const textLines = (bytes: Uint8Array): readonly TextLine[] => {
  const lines: TextLine[] = [];
  const isBlank = (byte: number): boolean => byte === 0x20 || byte === 0x09 || byte === 0 || byte === 0x1a;
  let start = 0;
  for (let k = 0; k <= bytes.length; k++) {
    const byte = k < bytes.length ? bytes[k]! : 0x0a;
    if (byte !== 0x0a && byte !== 0x0d) continue;
    let first = start;
    let last = k;
    while (first < last && isBlank(bytes[first]!)) first++;
    while (last > first && isBlank(bytes[last - 1]!)) last--;
    if (last > first) {
      let text = '';
      for (let at = first; at < Math.min(last, first + 1100); at++) text += String.fromCharCode(bytes[at]!);
      lines.push({ text, start: first, end: last });
    }
    start = k + 1;
  }
  return lines;
};

/** Pairs of hexadecimal digits as bytes; undefined when there is another character or an odd number of them. */
export const hexBytes = (digits: string): Uint8Array | undefined => {
  if (digits.length % 2 !== 0 || !/^[0-9A-Fa-f]*$/.test(digits)) return undefined;
  return Uint8Array.from({ length: digits.length / 2 }, (_, k) => Number.parseInt(digits.slice(k * 2, k * 2 + 2), 16));
};
