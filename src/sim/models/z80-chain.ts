// What the parts of the Z80 family have in common: access by /CE, /IORQ and /RD without a write strobe, the interrupt chain from
// IEI to IEO, the vector in the acknowledge, and the return that they see on the bus. Source: Zilog UM0081 (Z80 CPU Peripherals,
// UM008101-0601), chapters on interrupt acknowledge and return from interrupt; Zilog Z80 PIO technical manual, chapter 6.
//
//   /IORQ low, /CE low, /M1 high: a read while /RD is low, else a write, taken when the cycle ends
//   /M1 and /IORQ low: acknowledge; the first source that asks, with IEI high, puts its vector out and is in service
//   0xED then 0x4D in two fetches: the source in service that has IEI high is done. After 0xED sources that only ask do not
//   hold IEO low, so that the one in service below them sees the return.
//
// No source begins to ask while /M1 is low (the chain needs that time to come to rest). Not modelled: the chain's delay, prefixes
// before 0xED.

import { isKnown } from '../values.ts';
import { highs, lows } from './levels.ts';

/** Bits of the control word, the same in all of them; further pins follow. */
export const CE = 1;
export const IORQ = 2;
export const RD = 4;
export const M1 = 8;
export const IEI = 16;
export const CHAIN_PINS = ['/CE', '/IORQ', '/RD', '/M1', 'IEI'];

/** Words of state of the chain, from its base: sources that ask, are in service, want to ask; the opcode before; /M1 seen with a strobe. */
export const ASKING = 0;
export const SERVICE = 1;
const WAITING = 2;
const PREFIX = 3;
const STROBED = 4;
export const CHAIN_WORDS = 5;

/** 1 while a read is under way, 2 a write, 0 neither. */
export function accessOf(control: number): number {
  const low = lows(control);
  const high = highs(control);
  if ((low & (CE | IORQ)) !== (CE | IORQ) || (high & M1) === 0) return 0;
  return low & RD ? 1 : high & RD ? 2 : 0;
}

/** The source that would be acknowledged: the first that asks with none in service before it; -1 for none. */
function first(s: Int32Array, c: number): number {
  const asking = s[c + ASKING]!;
  if (asking === 0) return -1;
  const lowest = asking & -asking;
  const service = s[c + SERVICE]!;
  return service !== 0 && (service & -service) <= lowest ? -1 : 31 - Math.clz32(lowest);
}

/** The source whose vector is on the bus now, or -1. */
export function acknowledged(s: Int32Array, c: number, control: number): number {
  if ((lows(control) & (M1 | IORQ)) !== (M1 | IORQ) || (highs(control) & IEI) === 0) return -1;
  return first(s, c);
}

/** Whether /INT is pulled low. */
export function isAsking(s: Int32Array, c: number, control: number): boolean {
  return (highs(control) & IEI) !== 0 && first(s, c) >= 0;
}

/** Whether IEO is high. */
export function enablesNext(s: Int32Array, c: number, control: number): boolean {
  if ((highs(control) & IEI) === 0 || s[c + SERVICE] !== 0) return false;
  return s[c + PREFIX] === 0xed || s[c + ASKING] === 0;
}

/** Sources that want to ask; they do at once, or when /M1 is high again. */
export function ask(s: Int32Array, c: number, sources: number): void {
  s[c + WAITING]! |= sources;
}

/** Sources that no longer ask. */
export function withdraw(s: Int32Array, c: number, sources: number): void {
  s[c + WAITING]! &= ~sources;
  s[c + ASKING]! &= ~sources;
}

/** What `follow` gives: bit 0 the chain changed, bit 1 /M1 ended without a strobe. */
export const CHANGED = 1;
export const LONE_M1 = 2;

/** Follows the bus by one step. */
export function follow(s: Int32Array, c: number, before: number, now: number, dataBefore: number): number {
  // /M1 was high and is: nothing of this.
  const was = lows(before);
  if (!(was & M1)) {
    if (lows(now) & M1) s[c + STROBED] = 0;
    return 0;
  }
  const is = lows(now);
  let result = 0;
  if (was & (RD | IORQ)) s[c + STROBED] = 1;
  if (was & IORQ && !(is & M1 && is & IORQ)) {
    const taken = acknowledged(s, c, before);
    if (taken >= 0) {
      s[c + ASKING]! &= ~(1 << taken);
      s[c + SERVICE]! |= 1 << taken;
      result = CHANGED;
    }
  }
  if (was & RD && !(is & M1 && is & RD)) {
    const opcode = isKnown(dataBefore, 0xff) ? dataBefore & 0xff : -1;
    if (opcode === 0x4d && s[c + PREFIX] === 0xed && highs(before) & IEI && s[c + SERVICE] !== 0) {
      // The source in service that comes first is the one that returns.
      s[c + SERVICE]! &= s[c + SERVICE]! - 1;
      result = CHANGED;
    }
    const prefix = opcode === 0xed ? 0xed : 0;
    if (s[c + PREFIX] !== prefix) {
      s[c + PREFIX] = prefix;
      result = CHANGED;
    }
  }
  return !(is & M1) && s[c + STROBED] === 0 ? result | LONE_M1 : result;
}

/** Lets waiting sources ask where /M1 allows it; true when one began. To be called at the end of each commit. */
export function admit(s: Int32Array, c: number, control: number): boolean {
  const waiting = s[c + WAITING]!;
  if (waiting === 0 || lows(control) & M1) return false;
  s[c + WAITING] = 0;
  const asking = s[c + ASKING]! | waiting;
  if (asking === s[c + ASKING]) return false;
  s[c + ASKING] = asking;
  return true;
}
