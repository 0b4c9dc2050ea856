// A 16V8 from its fuse file, as equations in Verilog: an own reader of the L fields and an own fuse map (JESD3; the map of the
// GAL16V8: 64 rows of 32, XOR from 2048, AC1 from 2120, PTD from 2128, SYN 2192, AC0 2193).

/** Fuses of a file, 1 where blown. The default is that of the F field. */
export function readFuses(text: string): Uint8Array {
  const fields = text
    .replace(/^[^*]*\*/, '')
    .split('*')
    .map((field) => field.replace(/\s+/g, ' ').trim());
  const count = Number(/^QF(\d+)/.exec(fields.find((field) => field.startsWith('QF')) ?? '')?.[1] ?? 0);
  const rest = /^F([01])/.exec(fields.find((field) => /^F[01]/.test(field)) ?? 'F0')![1] === '1' ? 1 : 0;
  const fuses = new Uint8Array(count).fill(rest);
  for (const field of fields) {
    const found = /^L(\d+) ([01 ]+)$/.exec(field);
    if (found === null) continue;
    let at = Number(found[1]);
    for (const bit of found[2]!.replaceAll(' ', '')) fuses[at++] = Number(bit);
  }
  return fuses;
}

/** A part as it leaves the maker: every fuse blown. */
export function blankFuses(): Uint8Array {
  return new Uint8Array(2194).fill(1);
}

const COLUMNS: Readonly<Record<string, readonly number[]>> = {
  simple: [2, 1, 3, 19, 4, 18, 5, 17, 6, 14, 7, 13, 8, 12, 9, 11],
  complex: [2, 1, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 11],
  registered: [2, 19, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 12],
};

/** The module of a programmed 16V8. */
export function pldModule(name: string, fuses: Uint8Array): string {
  const [syn, ac0] = [fuses[2192]!, fuses[2193]!];
  const mode = syn === 1 && ac0 === 0 ? 'simple' : syn === 1 ? 'complex' : 'registered';
  const columns = COLUMNS[mode]!;
  const lines = [
    `module ${name} #(parameter D = 12, parameter SEED = 1) (input [20:1] i, output [20:1] o);`,
    '  reg [19:12] r; integer seed;',
    "  initial r = 8'hff;",
  ];
  const isRegister = (output: number): boolean => mode === 'registered' && fuses[2120 + output] === 0;
  const row = (index: number): string => {
    if (fuses[2128 + index] === 0) return "1'b0";
    const literals: string[] = [];
    for (let column = 0; column < 32; column++) {
      if (fuses[index * 32 + column] === 1) continue;
      const pin = columns[column >> 1]!;
      const level = pin >= 12 && pin <= 19 && isRegister(19 - pin) ? `r[${pin}]` : `i[${pin}]`;
      literals.push(column % 2 === 0 ? level : `~${level}`);
    }
    return literals.length === 0 ? "1'b1" : `(${literals.join(' & ')})`;
  };
  const clocked: string[] = [];
  for (let output = 0; output < 8; output++) {
    const pin = 19 - output;
    const rows = Array.from({ length: 8 }, (_, k) => output * 8 + k);
    const has = isRegister(output);
    const enable = mode === 'simple' ? (fuses[2120 + output] === 0 ? "1'b1" : "1'b0") : has ? '~i[11]' : row(rows[0]!);
    const terms = mode === 'simple' || has ? rows : rows.slice(1);
    const sum = terms.map(row).filter((term) => term !== "1'b0");
    const level = `${fuses[2048 + output] === 1 ? '' : '~'}(${sum.length === 0 ? "1'b0" : sum.join(' | ')})`;
    if (has) clocked.push(`    r[${pin}] <= ${level};`);
    lines.push(`  assign #D o[${pin}] = ${enable} ? ${has ? `r[${pin}]` : level} : 1'bz;`);
  }
  if (clocked.length > 0) lines.push('  always @(posedge i[1]) begin', ...clocked, '  end');
  lines.push('endmodule');
  return lines.join('\n');
}
