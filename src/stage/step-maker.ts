// Makes single steps: id from content, words, and the facts that the record will state. Which steps there are, and in which
// order, is the planner's business.

import { colourName, contentId } from '../base/index.ts';
import type { CrimpedLead, Wire } from '../board/index.ts';
import type { StageInfo } from '../netlist/index.ts';
import type { StatePart, StateWire } from './difference.ts';
import type { PartInFact, WireInFact } from './facts.ts';
import type { Group } from './order.ts';
import type { Step } from './step-model.ts';
import { endText, mm, type StageWords } from './step-words.ts';

/** What a device is to hold. */
export interface WantedImage {
  readonly file: string;
  readonly bytes?: number;
  readonly sum?: string;
}

/** What the maker asks of the planner's state. */
export interface MakerFacts {
  readonly netOf: (wire: string) => string | undefined;
  /** The physical piece that stands for a part. */
  readonly deviceOf: (part: string) => string;
  readonly fileIn: (device: string) => string | undefined;
}

export class StepMaker {
  private readonly used = new Map<string, number>();
  private readonly facts: MakerFacts;

  constructor(facts: MakerFacts) {
    this.facts = facts;
  }

  /** A step with its id from content. The same act a second time in one plan (a device out and in twice) gets its own id. */
  make(
    content: string,
    stage: number,
    info: StageInfo,
    fields: Omit<Step, 'id' | 'stage' | 'stageName' | 'notes' | 'needs'> & {
      readonly notes?: readonly string[];
      readonly needs?: readonly string[];
    },
  ): Step {
    const times = (this.used.get(content) ?? 0) + 1;
    this.used.set(content, times);
    return {
      id: contentId(times === 1 ? content : `${content}|${times}`),
      stage,
      stageName: info.name,
      notes: [],
      needs: [],
      ...fields,
    };
  }

  wireOut(wire: StateWire, stage: number, info: StageInfo, group: Group, words: StageWords, keep: boolean): Step {
    const net = this.facts.netOf(wire.wire);
    const notes = keep ? ['Keep the piece at hand: it goes in again elsewhere.'] : [];
    const step = this.make(`take-out|wire|${wire.wire}`, stage, info, {
      do: 'take-out',
      group,
      wire: wire.wire,
      ...(net !== undefined ? { net } : {}),
      from: words.end(wire.from),
      to: words.end(wire.to),
      cutMm: wire.cutMm,
      colour: wire.colour,
      text: `Take out the ${colourName(wire.colour)} wire ${net === undefined ? '' : `${net} `}between ${wire.from} and ${wire.to}.`,
      notes,
      facts: [{ fact: 'wire-out', wire: wire.wire, ...(keep ? { kept: true } : {}) }],
    });
    return step;
  }

  partOut(
    part: StatePart,
    stage: number,
    info: StageInfo,
    group: Group,
    words: StageWords,
    why: string | undefined,
  ): Step {
    return this.make(
      `take-out|part|${part.part}|${part.leads.map((lead) => lead[1]).join(' ')}|${why ?? ''}`,
      stage,
      info,
      {
        do: 'take-out',
        group,
        part: part.part,
        type: part.type,
        leads: words.leads(part),
        text: `Take out ${part.part} (${part.type})${why === undefined ? '' : `, ${why}`}.`,
        facts: [{ fact: 'part-out', part: part.part }],
      },
    );
  }

  partIn(
    part: StatePart,
    stage: number,
    info: StageInfo,
    group: Group,
    words: StageWords,
    needs: readonly string[],
    how: { readonly do: 'place' | 'refit' | 'move' | 'turn'; readonly was?: StatePart },
  ): Step {
    const device = this.facts.deviceOf(part.part);
    const fact: PartInFact = {
      fact: 'part-in',
      part: part.part,
      type: part.type,
      ...(part.value !== undefined ? { value: part.value } : {}),
      rotation: part.rotation,
      leads: part.leads,
      ...(device !== part.part ? { device } : {}),
    };
    const leads = words.leads(part);
    const named = `${part.part} (${part.type}${part.value === undefined ? '' : `, ${part.value}`})`;
    const one = part.leads[0];
    const end = part.leads.at(-1);
    const where =
      part.leads.length === 2
        ? `between ${part.leads[0]![1]} and ${part.leads[1]![1]}`
        : one === undefined
          ? ''
          : `with pin ${one[0]} in ${one[1]} and pin ${end![0]} in ${end![1]}`;
    const verb = { place: 'Put in', refit: 'Put back', move: 'Move', turn: 'Turn' }[how.do];
    const ends =
      part.leads.length === 2 ? { from: words.end(part.leads[0]![1]), to: words.end(part.leads[1]![1]) } : {};
    return this.make(
      `${how.do}|${part.part}|${part.type}|${part.rotation}|${part.leads.map((lead) => lead.join(' ')).join(',')}|${this.facts.fileIn(device) ?? ''}`,
      stage,
      info,
      {
        do: how.do,
        group,
        part: part.part,
        type: part.type,
        ...(part.value !== undefined ? { value: part.value } : {}),
        ...ends,
        leads,
        rotation: part.rotation,
        ...(device !== part.part ? { device } : {}),
        ...(how.was !== undefined ? { was: how.was.leads.map(([, hole]) => hole) } : {}),
        take: named,
        text: `${verb} ${named} ${where}.`.replace(/ +\./, '.'),
        facts: [fact],
        needs,
      },
    );
  }

  wireIn(
    wire: Wire,
    stage: number,
    info: StageInfo,
    group: Group,
    words: StageWords,
    needs: readonly string[],
    how: {
      readonly do: 'wire' | 'move' | 'trim';
      readonly was?: StateWire;
      readonly piece?: StateWire;
      readonly jumper?: boolean;
    },
  ): Step {
    const from = words.end(wire.from);
    const to = words.end(wire.to);
    const fact: WireInFact = {
      fact: 'wire-in',
      wire: wire.id,
      net: wire.net,
      from: wire.from,
      to: wire.to,
      cutMm: wire.cutMm,
      colour: wire.colour,
      style: how.jumper === true ? 'jumper' : wire.style,
      ...(wire.lead !== undefined ? { lead: wire.lead } : {}),
      ...(how.was !== undefined ? { was: how.was.wire } : {}),
      ...(how.piece !== undefined ? { piece: how.piece.wire } : {}),
    };
    const colour = colourName(wire.colour);
    const a = /^[aeiou]/.test(colour) ? 'an' : 'a';
    const piece = how.piece ?? how.was;
    const longer = piece !== undefined && piece.cutMm > wire.cutMm + 0.5;
    const take =
      piece === undefined
        ? wire.lead !== undefined
          ? `the ${colour} way of lead ${wire.lead}`
          : fact.style === 'jumper'
            ? `${a} ${colour} jumper (${wire.colour}) of ${mm(wire.cutMm)} or more`
            : `${a} ${colour} wire (${wire.colour}), cut ${mm(wire.cutMm)}`
        : `the ${colour} wire ${how.was === undefined ? 'taken from' : 'between'} ${piece.from} and ${piece.to}${longer ? `, trimmed to ${mm(wire.cutMm)}` : ''}`;
    return this.make(
      `${how.do}|${wire.id}|${piece?.wire ?? ''}|${fact.style === wire.style ? '' : fact.style}`,
      stage,
      info,
      {
        do: how.do,
        group,
        wire: wire.id,
        net: wire.net,
        from,
        to,
        cutMm: wire.cutMm,
        colour: wire.colour,
        style: how.jumper === true ? 'jumper' : wire.style,
        ...(wire.lead !== undefined ? { lead: wire.lead } : {}),
        ...(how.was !== undefined ? { was: [how.was.from, how.was.to] } : {}),
        ...(how.piece !== undefined ? { reuses: true } : {}),
        take,
        text: `${wire.net}: take ${take}; from ${endText(from)} to ${endText(to)}.`,
        facts: [fact],
        needs,
      },
    );
  }

  /** `housing` says which way of the housing each wire is; without it they are told in the order given. */
  makeLead(
    lead: string,
    stage: number,
    info: StageInfo,
    wires: readonly Wire[],
    housing: CrimpedLead | undefined = undefined,
  ): Step {
    const wayOf = new Map(housing?.ways.map((way) => [way.wire, way.way]));
    const ways = [...wires].sort((a, b) => (wayOf.get(a.id) ?? 0) - (wayOf.get(b.id) ?? 0));
    const size = housing === undefined ? '' : ` in a housing of ${housing.housing.length}, way 1 at the left`;
    const key =
      housing === undefined
        ? ''
        : housing.key === undefined
          ? '; mark way 1'
          : `; way ${housing.key} stays empty, plug it as the key`;
    return this.make(`make-lead|${lead}|${ways.map((way) => `${way.id} ${way.cutMm}`).join(',')}`, stage, info, {
      do: 'make-lead',
      group: 'leads',
      lead,
      text: `Make lead ${lead}: ${ways.length} ${ways.length === 1 ? 'way' : 'ways'}${size}: ${ways
        .map((way) => {
          const number = wayOf.get(way.id);
          return `${number === undefined ? '' : `${number} `}${way.net} ${colourName(way.colour)} ${mm(way.cutMm)}`;
        })
        .join(', ')}${key}; crimp, label both ends.`,
      facts: [{ fact: 'lead-made', lead }],
    });
  }

  program(
    device: string,
    type: string,
    wanted: WantedImage,
    stage: number,
    info: StageInfo,
    how: { readonly part: string; readonly inPlace: boolean; readonly needs: readonly string[] },
  ): Step {
    const size = wanted.bytes === undefined ? {} : { bytes: wanted.bytes };
    const sum = wanted.sum === undefined ? {} : { sum: wanted.sum };
    const details = [
      ...(wanted.bytes !== undefined ? [`, ${wanted.bytes} bytes`] : []),
      ...(wanted.sum !== undefined ? [`, sum ${wanted.sum}`] : []),
    ];
    return this.make(`program|${device}|${wanted.file}|${wanted.sum ?? ''}`, stage, info, {
      do: 'program',
      group: 'programming',
      part: how.part,
      type,
      device,
      file: wanted.file,
      ...size,
      ...sum,
      text: `Program ${device} (${type}) with ${wanted.file}${details.join('')}, and verify it.`,
      notes: how.inPlace ? ['It stays in its place: follow its own instructions for programming in circuit.'] : [],
      facts: [{ fact: 'image', device, file: wanted.file, ...size, ...sum }],
      needs: how.needs,
    });
  }
}
