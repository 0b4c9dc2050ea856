// Intel HEX to bytes, on its own: data records and the end record, checksums tested.

/** Bytes by address; what no record covers stays `rest`. */
export function readHex(text: string, size: number, rest = 0xff): Uint8Array {
  const bytes = new Uint8Array(size).fill(rest);
  for (const line of text.split(/\r?\n/)) {
    if (!line.startsWith(':')) continue;
    const row = Array.from({ length: (line.length - 1) >> 1 }, (_, k) =>
      Number.parseInt(line.substr(1 + k * 2, 2), 16),
    );
    if (row.reduce((sum, byte) => sum + byte, 0) % 256 !== 0) throw new Error(`checksum: ${line}`);
    const at = row[1]! * 256 + row[2]!;
    if (row[3] === 0) for (let k = 0; k < row[0]!; k++) if (at + k < size) bytes[at + k] = row[4 + k]!;
  }
  return bytes;
}

/** As $readmemh takes it. */
export function memoryText(bytes: Uint8Array): string {
  return `${Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('\n')}\n`;
}
