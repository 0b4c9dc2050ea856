// A character on a line, bit by bit: a shift register out and one in, clocked by whoever owns them. Shared by the parts that take
// their bit clock from outside, divided by 1, 16, 32 or 64. Owners keep holding registers, flags and interrupts.
//
// The receiver looks at the line at rises of its clock; a start bit that is high again in its middle is none. With a divider of 1
// every clock is a bit. Stop bits are counted in clocks, so one and a half are possible.

/** Form of a character. `stop` in halves of a bit: 2, 3 or 4. Parity: 0 none, 1 odd, 2 even. */
export interface Frame {
  readonly bits: number;
  readonly parity: 0 | 1 | 2;
  readonly stop: number;
  readonly divider: number;
}

/** Words of a sender from its base: clocks left of the frame, the frame, clocks of the bit in hand, the line. */
const LEFT = 0;
const SHIFT = 1;
const TICK = 2;
export const LINE = 3;
export const SENDER_WORDS = 4;

/** Puts the line to rest. */
export function restSender(s: Int32Array, t: number): void {
  s[t + LEFT] = 0;
  s[t + TICK] = 0;
  s[t + LINE] = 1;
}

export function isSending(s: Int32Array, t: number): boolean {
  return s[t + LEFT]! > 0;
}

function parityOf(byte: number): number {
  let ones = byte ^ (byte >> 4);
  ones ^= ones >> 2;
  ones ^= ones >> 1;
  return ones & 1;
}

/** Begins to send a character; the start bit comes with the next clock. */
export function send(s: Int32Array, t: number, byte: number, frame: Frame): void {
  const data = byte & ((1 << frame.bits) - 1);
  let word = data;
  let length = frame.bits;
  if (frame.parity !== 0) word |= (parityOf(data) ^ (frame.parity === 1 ? 1 : 0)) << length++;
  s[t + SHIFT] = (word | (-1 << length)) << 1;
  s[t + TICK] = 0;
  s[t + LEFT] = (length + 1) * frame.divider + Math.ceil((frame.stop * frame.divider) / 2);
}

/** One clock of a sender; 0 nothing, 1 the line changed, 2 the character has ended with this clock, 3 both. */
export function sendClock(s: Int32Array, t: number, divider: number): number {
  if (s[t + LEFT] === 0) return 0;
  let result = 0;
  if (s[t + TICK] === 0) {
    const bit = s[t + SHIFT]! & 1;
    s[t + SHIFT]! >>= 1;
    if (bit !== s[t + LINE]) {
      s[t + LINE] = bit;
      result = 1;
    }
  }
  s[t + TICK] = (s[t + TICK]! + 1) % divider;
  s[t + LEFT]!--;
  return s[t + LEFT] === 0 ? result | 2 : result;
}

/** Words of a receiver from its base: bits taken (-1 idle), clocks of the bit, what came. */
const BIT = 0;
const CLOCK = 1;
const CAME = 2;
export const RECEIVER_WORDS = 3;

export function restReceiver(s: Int32Array, r: number): void {
  s[r + BIT] = -1;
}

/** What was wrong with a character, above its eight bits. */
export const PARITY_ERROR = 0x100;
export const FRAME_ERROR = 0x200;
export const BREAK = 0x400;

/** One clock of a receiver with the line's level; the character with its errors when its stop bit was seen, else -1. */
export function receiveClock(s: Int32Array, r: number, line: number, frame: Frame): number {
  const { divider, bits } = frame;
  if (s[r + BIT]! < 0) {
    if (line !== 0) return -1;
    s[r + BIT] = 0;
    s[r + CLOCK] = 0;
    s[r + CAME] = 0;
    if (divider === 1) s[r + BIT] = 1;
    return -1;
  }
  s[r + CLOCK] = (s[r + CLOCK]! + 1) % divider;
  if (s[r + CLOCK] !== divider >> 1) return -1;
  const bit = s[r + BIT]!;
  if (bit === 0) {
    s[r + BIT] = line !== 0 ? -1 : 1;
    return -1;
  }
  const all = bits + (frame.parity === 0 ? 0 : 1);
  if (bit <= all) {
    s[r + CAME]! |= line << (bit - 1);
    s[r + BIT] = bit + 1;
    return -1;
  }
  s[r + BIT] = -1;
  const came = s[r + CAME]!;
  const byte = came & ((1 << bits) - 1);
  let errors = line === 0 ? FRAME_ERROR | (came === 0 ? BREAK : 0) : 0;
  if (frame.parity !== 0 && parityOf(byte) !== (((came >> bits) & 1) ^ (frame.parity === 1 ? 1 : 0)))
    errors |= PARITY_ERROR;
  return byte | errors;
}
