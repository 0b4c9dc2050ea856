// Z80 machine code as words, for read-outs of a bus and of memory: every prefix, undocumented instructions in the maker's
// manner (SLL; IXH and IXL; a result copied to a register as a further operand). It only reads bytes; it runs nothing.

/** One instruction in words. */
export interface Disassembly {
  /** Upper-case mnemonic and operands; numbers as 0x12, jumps as the address they go to. `?` where bytes are missing. */
  readonly text: string;
  /** Bytes it takes, 1 to 4; fewer than it needs when they are not all there. */
  readonly length: number;
  /** False when bytes are missing. */
  readonly isComplete: boolean;
}

const R8 = ['B', 'C', 'D', 'E', 'H', 'L', '(HL)', 'A'] as const;
const R16 = ['BC', 'DE', 'HL', 'SP'] as const;
const CONDITIONS = ['NZ', 'Z', 'NC', 'C', 'PO', 'PE', 'P', 'M'] as const;
const ARITHMETIC = ['ADD A,', 'ADC A,', 'SUB ', 'SBC A,', 'AND ', 'XOR ', 'OR ', 'CP '] as const;
const SHIFTS = ['RLC', 'RRC', 'RL', 'RR', 'SLA', 'SRA', 'SLL', 'SRL'] as const;
const ACCUMULATOR = ['RLCA', 'RRCA', 'RLA', 'RRA', 'DAA', 'CPL', 'SCF', 'CCF'] as const;
const BLOCK = [
  ['LDI', 'CPI', 'INI', 'OUTI'],
  ['LDD', 'CPD', 'IND', 'OUTD'],
  ['LDIR', 'CPIR', 'INIR', 'OTIR'],
  ['LDDR', 'CPDR', 'INDR', 'OTDR'],
] as const;

const hex = (value: number, digits: number): string => `0x${value.toString(16).toUpperCase().padStart(digits, '0')}`;

/** Reads bytes one after another and knows when they run out. */
interface Reader {
  used: number;
  isComplete: boolean;
  byte(): number | undefined;
}

const byteText = (reader: Reader): string => {
  const value = reader.byte();
  return value === undefined ? '?' : hex(value, 2);
};
const wordText = (reader: Reader): string => {
  const low = reader.byte();
  const high = reader.byte();
  return low === undefined || high === undefined ? '?' : hex(low | (high << 8), 4);
};
const displaced = (index: string, value: number | undefined): string => {
  if (value === undefined) return `(${index}+?)`;
  return value < 128 ? `(${index}+${value})` : `(${index}-${256 - value})`;
};

/** The instruction at `offset` of `bytes`; `address` is where it stands, for relative jumps. */
export const disassembleZ80 = (bytes: ArrayLike<number>, offset = 0, address = 0): Disassembly => {
  const reader: Reader = {
    used: 0,
    isComplete: true,
    byte: () => {
      const value = bytes[offset + reader.used];
      if (value === undefined) {
        reader.isComplete = false;
        return undefined;
      }
      reader.used++;
      return value & 0xff;
    },
  };
  const text = instruction(reader, bytes, offset, address);
  return { text, length: Math.max(1, reader.used), isComplete: reader.isComplete };
};

const instruction = (reader: Reader, bytes: ArrayLike<number>, offset: number, address: number): string => {
  const opcode = reader.byte();
  if (opcode === undefined) return '?';
  if (opcode === 0xcb) {
    const second = reader.byte();
    return second === undefined ? '?' : bitText(second, R8[second & 7]!);
  }
  if (opcode === 0xed) {
    const second = reader.byte();
    return second === undefined ? '?' : extended(second, reader);
  }
  if (opcode !== 0xdd && opcode !== 0xfd) return main(opcode, reader, 'HL', address);
  const index = opcode === 0xdd ? 'IX' : 'IY';
  const next = bytes[offset + 1];
  // A prefix before a prefix does nothing but take its time.
  if (next === 0xdd || next === 0xfd || next === 0xed) return `NOP (${opcode.toString(16).toUpperCase()})`;
  const second = reader.byte();
  if (second === undefined) return '?';
  if (second !== 0xcb) return main(second, reader, index, address);
  const where = displaced(index, reader.byte());
  const last = reader.byte();
  if (last === undefined) return '?';
  const copy = last >> 6 !== 1 && (last & 7) !== 6 ? `,${R8[last & 7]}` : '';
  return bitText(last, where) + copy;
};

const bitText = (opcode: number, operand: string): string => {
  const k = (opcode >> 3) & 7;
  if (opcode >> 6 === 0) return `${SHIFTS[k]} ${operand}`;
  return `${['', 'BIT', 'RES', 'SET'][opcode >> 6]} ${k},${operand}`;
};

const main = (opcode: number, reader: Reader, index: 'HL' | 'IX' | 'IY', address: number): string => {
  const y = (opcode >> 3) & 7;
  const z = opcode & 7;
  const p = y >> 1;
  const indexed = index !== 'HL';
  const pair = (code: number): string => (code === 2 ? index : R16[code]!);
  // With (IX+d) in it, H and L are themselves.
  const reg = (code: number): string => (indexed && (code === 4 || code === 5) ? index + R8[code]! : R8[code]!);
  const memory = (): string => (indexed ? displaced(index, reader.byte()) : '(HL)');
  const one = (code: number): string => (code === 6 ? memory() : reg(code));
  const relative = (): string => {
    const value = reader.byte();
    if (value === undefined) return '?';
    return hex((address + reader.used + ((value << 24) >> 24)) & 0xffff, 4);
  };
  switch (opcode >> 6) {
    case 0:
      switch (z) {
        case 0:
          if (y === 0) return 'NOP';
          if (y === 1) return "EX AF,AF'";
          if (y === 2) return `DJNZ ${relative()}`;
          if (y === 3) return `JR ${relative()}`;
          return `JR ${CONDITIONS[y - 4]},${relative()}`;
        case 1:
          return y & 1 ? `ADD ${index},${pair(p)}` : `LD ${pair(p)},${wordText(reader)}`;
        case 2:
          if (y < 4) {
            const where = `(${R16[p]})`;
            return y & 1 ? `LD A,${where}` : `LD ${where},A`;
          }
          if (y === 4) return `LD (${wordText(reader)}),${index}`;
          if (y === 5) return `LD ${index},(${wordText(reader)})`;
          return y === 6 ? `LD (${wordText(reader)}),A` : `LD A,(${wordText(reader)})`;
        case 3:
          return `${y & 1 ? 'DEC' : 'INC'} ${pair(p)}`;
        case 4:
          return `INC ${one(y)}`;
        case 5:
          return `DEC ${one(y)}`;
        case 6: {
          const target = one(y);
          return `LD ${target},${byteText(reader)}`;
        }
        default:
          return ACCUMULATOR[y]!;
      }
    case 1:
      if (opcode === 0x76) return 'HALT';
      if (z === 6) return `LD ${R8[y]},${memory()}`;
      if (y === 6) return `LD ${memory()},${R8[z]}`;
      return `LD ${reg(y)},${reg(z)}`;
    case 2:
      return `${ARITHMETIC[y]}${one(z)}`;
    default:
      return upper(opcode, reader, index);
  }
};

const upper = (opcode: number, reader: Reader, index: string): string => {
  const y = (opcode >> 3) & 7;
  const p = y >> 1;
  const pushed = p === 3 ? 'AF' : p === 2 ? index : R16[p]!;
  switch (opcode & 7) {
    case 0:
      return `RET ${CONDITIONS[y]}`;
    case 1:
      if ((y & 1) === 0) return `POP ${pushed}`;
      return ['RET', 'EXX', `JP (${index})`, `LD SP,${index}`][p]!;
    case 2:
      return `JP ${CONDITIONS[y]},${wordText(reader)}`;
    case 3:
      if (y === 0) return `JP ${wordText(reader)}`;
      if (y === 2) return `OUT (${byteText(reader)}),A`;
      if (y === 3) return `IN A,(${byteText(reader)})`;
      return ['', '', '', '', `EX (SP),${index}`, 'EX DE,HL', 'DI', 'EI'][y]!;
    case 4:
      return `CALL ${CONDITIONS[y]},${wordText(reader)}`;
    case 5:
      return y & 1 ? `CALL ${wordText(reader)}` : `PUSH ${pushed}`;
    case 6:
      return `${ARITHMETIC[y]}${byteText(reader)}`;
    default:
      return `RST ${hex(y * 8, 2)}`;
  }
};

const extended = (opcode: number, reader: Reader): string => {
  const y = (opcode >> 3) & 7;
  const z = opcode & 7;
  const pair = R16[y >> 1]!;
  if (opcode >> 6 === 1) {
    switch (z) {
      case 0:
        return `IN ${y === 6 ? 'F' : R8[y]},(C)`;
      case 1:
        return `OUT (C),${y === 6 ? '0' : R8[y]}`;
      case 2:
        return `${y & 1 ? 'ADC' : 'SBC'} HL,${pair}`;
      case 3: {
        const where = `(${wordText(reader)})`;
        return y & 1 ? `LD ${pair},${where}` : `LD ${where},${pair}`;
      }
      case 4:
        return 'NEG';
      case 5:
        return y === 1 ? 'RETI' : 'RETN';
      case 6:
        return `IM ${[0, 0, 1, 2][y & 3]}`;
      default:
        return ['LD I,A', 'LD R,A', 'LD A,I', 'LD A,R', 'RRD', 'RLD'][y] ?? nothing(opcode);
    }
  }
  if (opcode >> 6 === 2 && z < 4 && y >= 4) return BLOCK[y - 4]![z]!;
  return nothing(opcode);
};

/** The processor takes unused second bytes for no operation. */
const nothing = (opcode: number): string => `NOP (ED ${opcode.toString(16).toUpperCase().padStart(2, '0')})`;
