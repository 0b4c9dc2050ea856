// The terminal at the other end of a serial header: its TXD rests high and sends bytes bit by bit, its request to send (or
// ready) stays low. What arrives is told to the host as edges; serial.ts reads characters from them. Frames are 8 data bits,
// no parity, one stop bit. Levels are logic levels, as of an adapter.

import { type PartRecord, pinsNamed } from '../../parts/index.ts';
import { HIGH, LOW } from '../values.ts';
import type { PartModel } from './model.ts';

/** Room for bytes that wait to be sent. */
const ROOM = 1024;
const LINE = 0;
const BIT = 1;
const HEAD = 2;
const COUNT = 3;
/** ns of one bit. */
const BIT_NS = 4;
const QUEUE = 5;

/** Default rate of the terminal until it is told another: ns of a bit at 9,600 baud. */
const DEFAULT_BIT_NS = Math.round(1e9 / 9600);

/** Sets the terminal's rate; `b` is the base of its state. */
export function setTerminalBit(s: Int32Array, b: number, ns: number): void {
  s[b + BIT_NS] = Math.round(ns);
}

/** The model of the terminal behind a serial header. */
export function terminalModel(record: PartRecord): PartModel {
  const ready = ['RTS', 'DTR'].filter((name) => pinsNamed(record, name)[0]?.kind === 'output');
  const outs = ['TXD', ...ready];
  return {
    ins: [['RXD', ...(pinsNamed(record, 'CTS')[0]?.kind === 'input' ? ['CTS'] : [])]],
    outs: [outs],
    words: QUEUE + ROOM,
    drivesFrom: [false],
    commitsFrom: [true],
    power(s, b) {
      s.fill(0, b, b + QUEUE + ROOM);
      s[b + LINE] = HIGH;
      s[b + BIT_NS] = DEFAULT_BIT_NS;
    },
    drive(s, b, _i, o) {
      let word = s[b + LINE] === HIGH ? 1 : 1 << 16;
      for (let k = 1; k < outs.length; k++) word |= 1 << (16 + k);
      s[o] = word;
    },
    commit(s, _b, p, i, moment) {
      const now = s[i]! & 0x10001;
      if (now !== (s[p]! & 0x10001)) moment.out(now === 1 ? 1 : now === 0x10000 ? 0 : 2);
      return false;
    },
    timeout(s, b, moment) {
      const bit = s[b + BIT]!;
      if (bit === 0 && s[b + COUNT] === 0) return false;
      const byte = s[b + QUEUE + s[b + HEAD]!]!;
      // Bit 0 is the start bit, 1 to 8 the data, 9 the stop bit.
      const line = bit === 0 ? LOW : bit === 9 ? HIGH : (byte >> (bit - 1)) & 1 ? HIGH : LOW;
      const changed = s[b + LINE] !== line;
      s[b + LINE] = line;
      if (bit === 9) {
        s[b + BIT] = 0;
        s[b + HEAD] = (s[b + HEAD]! + 1) % ROOM;
        s[b + COUNT]!--;
      } else s[b + BIT] = bit + 1;
      if (s[b + BIT] !== 0 || s[b + COUNT]! > 0) moment.after(s[b + BIT_NS]!);
      return changed;
    },
    give(s, b, byte, moment) {
      if (s[b + COUNT]! >= ROOM) return false;
      s[b + QUEUE + ((s[b + HEAD]! + s[b + COUNT]!) % ROOM)] = byte & 0xff;
      s[b + COUNT]!++;
      if (s[b + COUNT] === 1 && s[b + BIT] === 0) moment.after(s[b + BIT_NS]!);
      return true;
    },
  };
}
