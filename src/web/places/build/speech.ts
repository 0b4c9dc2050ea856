// A step said aloud, hole names letter by letter so that they are heard right. The browser's own voice; nothing is sent.

import { isWireCode, wireName } from '../../../drawing/index.ts';
import type { UiStep } from '../../protocol.ts';

/** A hole as it is said: `2:33i` is "board 2, column 33, i"; `2:t+31` is "board 2, top plus, column 31". */
export function holeAloud(hole: string): string {
  const rail = /^(\d+):([tb])([+-])(\d+)$/.exec(hole);
  if (rail !== null)
    return `board ${rail[1]}, ${rail[2] === 't' ? 'top' : 'bottom'} ${rail[3] === '+' ? 'plus' : 'minus'}, column ${rail[4]}`;
  const plain = /^(\d+):(\d+)([a-j])$/.exec(hole);
  return plain === null ? hole : `board ${plain[1]}, column ${plain[2]}, ${plain[3]!.toUpperCase()}`;
}

export function stepAloud(step: UiStep): string {
  if (step.do === 'wire' && step.from !== undefined && step.to !== undefined) {
    const colour = isWireCode(step.colour) ? wireName(step.colour) : step.colour;
    return `${colour}, ${step.cutMm} millimetres. From ${holeAloud(step.from.hole)}. To ${holeAloud(step.to.hole)}.`;
  }
  return step.text.replace(/\b\d+:(?:\d+[a-j]|[tb][+-]\d+)/g, holeAloud);
}

export function say(step: UiStep): void {
  if (typeof speechSynthesis === 'undefined') return;
  speechSynthesis.cancel();
  const words = new SpeechSynthesisUtterance(stepAloud(step));
  words.lang = 'en-GB';
  words.rate = 0.92;
  speechSynthesis.speak(words);
}

export function silence(): void {
  if (typeof speechSynthesis !== 'undefined') speechSynthesis.cancel();
}
