// Plain tables for a terminal.

/** `1 part`, `2 parts`. */
export function counted(count: number, word: string, many = `${word}s`): string {
  return `${count} ${count === 1 ? word : many}`;
}

/** Columns as wide as they need be, two spaces apart; numbers are the caller's business. */
export function textTable(rows: readonly (readonly string[])[], indent = ''): string {
  const widths: number[] = [];
  for (const row of rows) {
    row.forEach((cell, k) => {
      widths[k] = Math.max(widths[k] ?? 0, cell.length);
    });
  }
  return rows
    .map((row) =>
      (indent + row.map((cell, k) => (k === row.length - 1 ? cell : cell.padEnd(widths[k]!))).join('  ')).trimEnd(),
    )
    .join('\n');
}
