// Words for steps: pins at both ends as of a stage, colours, lengths.

import type { HoleName, PlacedPart, StripId } from '../board/index.ts';
import type { Netlist } from '../netlist/index.ts';
import type { StatePart } from './difference.ts';
import type { BenchRules } from './short.ts';
import type { StepEnd, StepLead } from './step-model.ts';

/** A length as it is written. */
export const mm = (length: number): string => `${Math.round(length * 10) / 10} mm`;

/** Everything the words of one stage's steps need. */
export class StageWords {
  private readonly at: Map<StripId, string[]> = new Map();
  private readonly pinNames = new Map<string, string>();
  private readonly rules: BenchRules;
  readonly values = new Map<string, string>();

  constructor(netlist: Netlist, parts: readonly PlacedPart[], rules: BenchRules) {
    this.rules = rules;
    for (const pin of netlist.pins) this.pinNames.set(`${netlist.parts[pin.part]!.name}\n${pin.number}`, pin.ref);
    for (const part of netlist.parts) if (part.value !== undefined) this.values.set(part.name, part.value);
    for (const part of parts)
      for (const lead of part.leads) {
        const strip = rules.stripOf(lead.hole);
        if (strip === undefined) continue;
        const there = this.at.get(strip);
        if (there === undefined) this.at.set(strip, [this.pin(part.part, lead.number)]);
        else there.push(this.pin(part.part, lead.number));
      }
  }

  pin(part: string, number: number): string {
    return this.pinNames.get(`${part}\n${number}`) ?? `${part}.${number}`;
  }

  end(hole: HoleName): StepEnd {
    const strip = this.rules.stripOf(hole);
    return { hole, strip, pins: strip === undefined ? [] : (this.at.get(strip) ?? []) };
  }

  leads(part: StatePart): StepLead[] {
    return part.leads.map(([number, hole]) => ({
      number,
      pin: this.pin(part.part, number),
      hole,
      strip: this.rules.stripOf(hole),
    }));
  }
}

/** A hole with the first pins in its strip. */
export const endText = (end: StepEnd): string =>
  end.pins.length === 0 ? end.hole : `${end.hole} (${end.pins.slice(0, 2).join(', ')})`;
