// From a diagnosis on with a meter: the measurement that tells most next, answers as they are typed, and what is left of the places.

import { foldName } from '../base/index.ts';
import { type Answer, type GuidedSession, type Measurement, probeOf, readAnswer } from '../bringup/index.ts';
import type { Build } from './build.ts';
import type { StageDiagnosis } from './diagnose.ts';
import { guidedSession } from './guided.ts';

/** What to measure next, and what was answered so far: a meter or a lamp leads on from a capture. */
export class Guide {
  readonly #found: StageDiagnosis;
  readonly #session: GuidedSession;
  readonly #answers: string[] = [];

  constructor(build: Build, found: StageDiagnosis) {
    this.#found = found;
    this.#session = guidedSession(build, found.prepared, found.results);
  }

  /** Answers so far, as they were given. */
  get answers(): readonly string[] {
    return this.#answers;
  }

  /** Places with their likelihood and the likeliest slip there, best first. */
  places() {
    const faults = new Map(this.#found.diagnosis.places.map(({ place, fault }) => [place.key, fault.text]));
    return this.#session
      .places()
      .map(({ place, probability }) => ({ place, probability, fault: faults.get(place.key) ?? place.text }));
  }

  /** The measurement that tells most next, with the holes it is made in; undefined where nothing is left to ask. */
  next() {
    const suggestion = this.#session.next(1)[0];
    if (suggestion === undefined) return undefined;
    const { measurement, text, bits } = suggestion;
    return { measurement, text, bits, holes: this.#holesOf(measurement) };
  }

  #holesOf(measurement: Measurement): readonly string[] {
    const { bench } = this.#found.prepared.input;
    if (measurement.kind === 'continuity') return [measurement.from, measurement.to];
    if (measurement.kind === 'look') return measurement.place.holes;
    const hole = probeOf(bench, measurement.net)?.hole;
    return hole === undefined ? [] : [hole];
  }

  /** Takes what was typed (`A7 stuck low`, `230 kHz` to the question about a rate, `2:20a 2:34e open`); a sentence where it can't be read. */
  say(text: string): string | undefined {
    const { bench } = this.#found.prepared.input;
    const holeOf = (name: string): string | undefined => {
      const pin = bench.pins.find(({ ref }) => foldName(ref) === foldName(name));
      return pin?.hole ?? (bench.strip(name) >= 0 ? name : undefined);
    };
    const asked = this.next()?.measurement;
    const net = asked !== undefined && 'net' in asked ? asked.net : undefined;
    const read =
      readAnswer(text, this.#session.nets, holeOf) ??
      (net === undefined ? undefined : readAnswer(`${net} ${text}`, this.#session.nets, holeOf)) ??
      (asked?.kind === 'continuity'
        ? readAnswer(`${asked.from} ${asked.to} ${text}`, this.#session.nets, holeOf)
        : undefined);
    if (read === undefined)
      return `"${text}" can't be read. Say a net and what it shows ("A7 stuck low", "/RD 230 kHz"), or two holes or pins and "joined" or "open".`;
    this.take(read.measurement, read.answer, text);
    return undefined;
  }

  /** Takes an answer; `words` is how it is listed. */
  take(measurement: Measurement, answer: Answer, words: string): void {
    this.#session.answer(measurement, answer);
    this.#answers.push(words);
  }
}
