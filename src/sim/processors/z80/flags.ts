// Arithmetic of the Z80's flags as tables: pure numbers in, numbers out. Sources: UM0080 for S, Z, H, P/V, N and C; bits 3
// and 5 (copies of result bits) are undocumented and held against measured vectors in tests/outside.

export const FLAG_S = 0x80;
export const FLAG_Z = 0x40;
export const FLAG_Y = 0x20;
export const FLAG_H = 0x10;
export const FLAG_X = 0x08;
export const FLAG_P = 0x04;
export const FLAG_N = 0x02;
export const FLAG_C = 0x01;

/** P/V as parity of each byte: FLAG_P for an even number of ones. */
export const PARITY: Uint8Array = Uint8Array.from({ length: 256 }, (_, byte) => {
  let ones = 0;
  for (let bit = byte; bit !== 0; bit >>= 1) ones += bit & 1;
  return ones & 1 ? 0 : FLAG_P;
});
/** S, Z, bits 5 and 3 of each byte. */
export const SIGN_ZERO: Uint8Array = Uint8Array.from(
  { length: 256 },
  (_, byte) => (byte & (FLAG_S | FLAG_Y | FLAG_X)) | (byte === 0 ? FLAG_Z : 0),
);
/** The same with parity. */
export const SIGN_ZERO_PARITY: Uint8Array = Uint8Array.from(
  { length: 256 },
  (_, byte) => SIGN_ZERO[byte]! | PARITY[byte]!,
);

/** A after DAA in the low byte and F above it, from A and F. UM0080, table of DAA; equal to the measured results. */
export const decimalAdjust = (a: number, f: number): number => {
  let correction = 0;
  let carry = f & FLAG_C;
  if (f & FLAG_H || (a & 15) > 9) correction = 6;
  if (carry || a > 0x99) {
    correction |= 0x60;
    carry = FLAG_C;
  }
  const result = (f & FLAG_N ? a - correction : a + correction) & 0xff;
  const flags = SIGN_ZERO_PARITY[result]! | carry | (f & FLAG_N) | ((a ^ result) & FLAG_H);
  return result | (flags << 8);
};

/**
 * A byte after a rotate or shift in the low byte, its flags above. `kind` is bits 5-3 of the opcode: RLC RRC RL RR SLA SRA
 * SLL SRL (SLL shifts a one in; undocumented). `carry` is 0 or 1.
 */
export const rotate = (kind: number, value: number, carry: number): number => {
  let result: number;
  let out: number;
  if (kind & 1) {
    out = value & 1;
    const top = kind === 1 ? out << 7 : kind === 3 ? carry << 7 : kind === 5 ? value & 0x80 : 0;
    result = (value >> 1) | top;
  } else {
    out = value >> 7;
    const bottom = kind === 0 ? out : kind === 2 ? carry : kind === 6 ? 1 : 0;
    result = ((value << 1) & 0xff) | bottom;
  }
  return result | ((SIGN_ZERO_PARITY[result]! | out) << 8);
};
