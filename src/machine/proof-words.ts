// The vocabulary of proofs, checked lightly: whether a term is one that is known and whether its value has the form. What
// it means for the machine is the simulator's business.

import { parseQuantity } from '../base/index.ts';
import { rangeLength } from './words.ts';

/** Keys under `given`. */
export const GIVEN_WORDS = ['supply', 'press', 'clock', 'hold', 'send'] as const;
/** Keys under `expect` that are no nets. */
export const EXPECT_WORDS = [
  'supply',
  'free run',
  'self-test passes',
  'terminal says',
  'display shows',
  'digits show',
  'memory',
] as const;
/** Those that stand alone, without a value. */
const ALONE: readonly string[] = ['free run', 'self-test passes'];

const isDimension = (text: string, ...dimensions: readonly string[]): boolean => {
  const quantity = parseQuantity(text);
  return quantity !== undefined && dimensions.includes(quantity.dimension);
};
const isNumber = (text: string): boolean => {
  const quantity = parseQuantity(text);
  return quantity?.dimension === 'plain' && Number.isInteger(quantity.value) && quantity.value >= 0;
};
const isByte = (text: string): boolean => isNumber(text) && parseQuantity(text)!.value <= 255;

/** `A to B` or `A within 5 %` or `A`, all of one of the dimensions. */
function isStretch(text: string, ...dimensions: readonly string[]): boolean {
  const to = /^(.*\S)\s+to\s+(\S.*)$/.exec(text);
  if (to !== null) {
    const low = parseQuantity(to[1]!);
    const high = parseQuantity(to[2]!);
    return (
      low !== undefined &&
      high !== undefined &&
      dimensions.includes(low.dimension) &&
      low.dimension === high.dimension &&
      low.value <= high.value
    );
  }
  const within = /^(.*\S)\s+within\s+(\S.*)$/.exec(text);
  if (within !== null) return isDimension(within[1]!, ...dimensions) && isDimension(within[2]!, 'ratio');
  return isDimension(text, ...dimensions);
}

/** The first word split off where the rest is still something: `main 4.2 V`. */
function named(text: string, fits: (rest: string) => boolean): { name?: string } | undefined {
  if (fits(text)) return {};
  const match = /^(\S+)\s+(\S.*)$/.exec(text);
  return match !== null && fits(match[2]!) ? { name: match[1]! } : undefined;
}

/** What a term is about, for looking names up: parts, supplies, clocks and nets as written in it. */
export interface TermNames {
  readonly part?: string;
  readonly supply?: string;
  readonly clock?: string;
  readonly net?: string;
}

/** The names in a term of `given`, or what is wrong with its value as a sentence without its end. */
export function readGiven(key: string, value: string): TermNames | string {
  const text = value.trim();
  switch (key) {
    case 'supply': {
      const hit = named(text, (rest) => isDimension(rest, 'voltage'));
      return hit === undefined
        ? 'a voltage is wanted, such as 4.2 V, or with the name of the supply: main 4.2 V'
        : supplyOf(hit.name);
    }
    case 'press': {
      const match = /^(\S+)(?:\s+for\s+(\S.*))?$/.exec(text);
      if (match === null || (match[2] !== undefined && !isDimension(match[2], 'time')))
        return 'a part is wanted, such as RESET-BUTTON, or RESET-BUTTON for 2 s';
      // A key of a part with several: PAD.KEY-5.
      return { part: match[1]!.replace(/\..*$/, '') };
    }
    case 'clock': {
      const hit = named(
        text,
        (rest) => rest === 'stopped' || isDimension(rest, 'frequency') || /^[1-9]\d{0,8} pulses?$/.test(rest),
      );
      if (hit === undefined)
        return 'a frequency, `stopped` or `8 pulses` is wanted, after the clock where there are several';
      return hit.name === undefined ? {} : { clock: hit.name };
    }
    case 'hold': {
      const match = /^(\S+)\s+at\s+(\S+)$/.exec(text);
      if (match === null || !(match[2] === 'high' || match[2] === 'low' || isNumber(match[2]!)))
        return 'a net and a level are wanted, such as /WAIT at low, or D7-D0 at 0x3E';
      return { net: match[1]! };
    }
    case 'send':
      return text === '' ? 'a text is wanted' : {};
    default:
      return `there is no \`${key}\` to give`;
  }
}

function supplyOf(name: string | undefined): TermNames {
  return name === undefined ? {} : { supply: name };
}

/** The names in a term of `expect`, or what is wrong with it. Keys that are no words of the vocabulary are nets. */
export function readExpect(key: string, value: string): TermNames | string {
  const text = value.trim();
  if (ALONE.includes(key)) return text === '' ? {} : `\`${key}\` stands alone, without a value`;
  switch (key) {
    case 'supply': {
      const hit = named(text, (rest) => isStretch(rest, 'voltage') || isStretch(rest, 'current'));
      return hit === undefined
        ? 'a voltage or a current from one value to another is wanted, such as 4.75 V to 5.25 V, or main 0 mA to 80 mA'
        : supplyOf(hit.name);
    }
    case 'terminal says':
    case 'display shows':
    case 'digits show':
      return text === '' ? 'a text is wanted' : {};
    case 'memory': {
      const match = /^(\S+)\s+holds\s+(\S.*)$/.exec(text);
      return match !== null && isNumber(match[1]!) && match[2]!.split(/\s+/).every(isByte)
        ? {}
        : 'an address and bytes are wanted, such as 0x8000 holds 0x55 0xAA';
    }
    default:
      return readNetTerm(key, text);
  }
}

const LEVEL_HELP =
  'low, high, floating, changes, still, a number, a pulse (low for 100 ms to 500 ms), a duty (high 30 % to 36 %), a frequency (1 MHz within 1 %) or a voltage';

function readNetTerm(net: string, text: string): TermNames | string {
  if (text === '') return `what ${net} must show is missing: ${LEVEL_HELP}`;
  if (/^(?:low|high|floating|changes|still)$/.test(text)) return { net };
  const pulse = /^(?:low|high)\s+for\s+(\S.*)$/.exec(text);
  if (pulse !== null)
    return isStretch(pulse[1]!, 'time') ? { net } : 'a time is wanted, such as low for 100 ms to 500 ms';
  const duty = /^(?:low|high)\s+(.*%.*)$/.exec(text);
  if (duty !== null)
    return isStretch(duty[1]!, 'ratio') ? { net } : 'a part of the time is wanted, such as high 30 % to 36 %';
  if (isNumber(text)) {
    const bits = rangeLength(net.slice(net.indexOf('.') + 1)) ?? 1;
    return parseQuantity(text)!.value < 2 ** Math.min(bits, 52)
      ? { net }
      : `${text} does not fit in ${bits === 1 ? 'one net' : `${bits} nets`}`;
  }
  if (isStretch(text, 'frequency') || isStretch(text, 'voltage')) return { net };
  return `"${text.slice(0, 60)}" is nothing that a net shows: ${LEVEL_HELP}`;
}
