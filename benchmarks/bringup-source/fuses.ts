// A 16V8 or 22V10 from its fuse file, as equations in Verilog: an own reader of the L fields and an own fuse map (JESD3; the map of the
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
export function blankFuses(pins: number): Uint8Array {
  return new Uint8Array(pins === 20 ? 2194 : 5892).fill(1);
}

/** Whether a row holds an input and its opposite, as an untouched row does: it is never true. */
function isNever(fuses: Uint8Array, from: number, width: number): boolean {
  for (let column = 0; column < width; column += 2)
    if (fuses[from + column] === 0 && fuses[from + column + 1] === 0) return true;
  return false;
}

/** Output pins of a 22V10 with their row of the enable and number of terms; S0 and S1 from 5808, two for each. */
const MACROCELLS: readonly (readonly [pin: number, row: number, terms: number])[] = [
  [23, 1, 8],
  [22, 10, 10],
  [21, 21, 12],
  [20, 34, 14],
  [19, 49, 16],
  [18, 66, 16],
  [17, 83, 14],
  [16, 98, 12],
  [15, 111, 10],
  [14, 122, 8],
];
const PAIRS = [1, 23, 2, 22, 3, 21, 4, 20, 5, 19, 6, 18, 7, 17, 8, 16, 9, 15, 10, 14, 11, 13];

/** The module of a programmed 22V10. */
function largerModule(name: string, fuses: Uint8Array): string {
  const cell = new Map(
    MACROCELLS.map(([pin], k) => [pin, { high: fuses[5808 + 2 * k] === 1, register: fuses[5809 + 2 * k] === 0 }]),
  );
  const row = (index: number): string => {
    if (isNever(fuses, index * 44, 44)) return "1'b0";
    const literals: string[] = [];
    for (let column = 0; column < 44; column++) {
      if (fuses[index * 44 + column] === 1) continue;
      const pin = PAIRS[column >> 1]!;
      const own = cell.get(pin);
      // A register is fed back as its inverted output: at pin level only where the output inverts too.
      const level = own?.register === true ? `${own.high ? '~' : ''}r[${pin}]` : `i[${pin}]`;
      literals.push(column % 2 === 0 ? level : `~(${level})`);
    }
    return literals.length === 0 ? "1'b1" : `(${literals.join(' & ')})`;
  };
  const lines = [
    `module ${name} #(parameter D = 8, parameter SEED = 1) (input [24:1] i, output [24:1] o);`,
    '  reg [23:14] r;',
    `  initial begin ${MACROCELLS.map(([pin]) => `r[${pin}] = 1'b${cell.get(pin)!.high ? 0 : 1};`).join(' ')} end`,
    '  wire [24:1] #1 before = i;',
    `  wire clear = ${row(0)}, preset = ${row(131).replaceAll('i[', 'before[')};`,
  ];
  const clocked: string[] = [];
  for (const [pin, first, terms] of MACROCELLS) {
    const { high, register } = cell.get(pin)!;
    const sum = Array.from({ length: terms }, (_, k) => row(first + 1 + k)).filter((term) => term !== "1'b0");
    const level = `${high ? '' : '~'}(${sum.length === 0 ? "1'b0" : sum.join(' | ')})`;
    // Registers take what stood before the edge: pin 1 is clock and input at once.
    if (register)
      clocked.push(
        `    r[${pin}] <= clear ? 1'b${high ? 0 : 1} : preset ? 1'b${high ? 1 : 0} : ${level.replaceAll('i[', 'before[')};`,
      );
    lines.push(`  assign #D o[${pin}] = ${row(first)} ? ${register ? `r[${pin}]` : level} : 1'bz;`);
  }
  if (clocked.length > 0) lines.push('  always @(posedge i[1] or posedge clear) begin', ...clocked, '  end');
  lines.push('endmodule');
  return lines.join('\n');
}

const COLUMNS: Readonly<Record<string, readonly number[]>> = {
  simple: [2, 1, 3, 19, 4, 18, 5, 17, 6, 14, 7, 13, 8, 12, 9, 11],
  complex: [2, 1, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 11],
  registered: [2, 19, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 12],
};

/** The module of a programmed 16V8 or 22V10, told by the number of fuses. */
export function pldModule(name: string, fuses: Uint8Array): string {
  if (fuses.length > 5000) return largerModule(name, fuses);
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
    if (fuses[2128 + index] === 0 || isNever(fuses, index * 32, 32)) return "1'b0";
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
