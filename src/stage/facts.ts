// What a record of the journal states about the bench: physical facts, complete in themselves, so that the built state can be
// worked out years later without the layout of that day. Reading is strict: a fact that isn't whole is no fact.

/** A part stands in these holes. `device` is the physical piece (its label), the part's name unless said. */
export interface PartInFact {
  readonly fact: 'part-in';
  readonly part: string;
  readonly type: string;
  readonly value?: string;
  /** Degrees. */
  readonly rotation: 0 | 90 | 180 | 270;
  /** Pin number and hole of every lead. */
  readonly leads: readonly (readonly [number, string])[];
  readonly device?: string;
}

export interface PartOutFact {
  readonly fact: 'part-out';
  readonly part: string;
}

/**
 * A wire lies between these holes. `was` names the wire that the same piece was before it was moved or trimmed; `piece` names
 * the wire that it was before it was taken out and kept.
 */
export interface WireInFact {
  readonly fact: 'wire-in';
  readonly wire: string;
  readonly net: string;
  readonly from: string;
  readonly to: string;
  readonly cutMm: number;
  /** IEC 60757 code. */
  readonly colour: string;
  readonly style: string;
  /** The crimped lead it is a way of. */
  readonly lead?: string;
  readonly was?: string;
  readonly piece?: string;
}

/** A wire is out; `kept` where the piece is to go in again elsewhere. */
export interface WireOutFact {
  readonly fact: 'wire-out';
  readonly wire: string;
  readonly kept?: true;
}

/** A physical device now holds this image or fuse file. */
export interface ImageFact {
  readonly fact: 'image';
  readonly device: string;
  readonly file: string;
  readonly bytes?: number;
  /** Its sum as the programmer prints it, upper or lower case as written. */
  readonly sum?: string;
}

export interface LabelFact {
  readonly fact: 'label';
  readonly device: string;
  readonly text: string;
}

export interface LeadMadeFact {
  readonly fact: 'lead-made';
  readonly lead: string;
}

/** An instrument's lead hangs on a net, in this hole where one was kept for it. */
export interface LeadOnFact {
  readonly fact: 'lead-on';
  readonly pod: string;
  readonly channel: number;
  readonly net: string;
  readonly hole?: string;
}

export interface LeadOffFact {
  readonly fact: 'lead-off';
  readonly pod: string;
  readonly channel: number;
}

/** One physical fact. */
export type Fact =
  | PartInFact
  | PartOutFact
  | WireInFact
  | WireOutFact
  | ImageFact
  | LabelFact
  | LeadMadeFact
  | LeadOnFact
  | LeadOffFact;

type Fields = Readonly<Record<string, unknown>>;

/** Longest name or hole that a fact may carry, in UTF-16 units. */
const LONGEST_NAME = 400;

const isName = (value: unknown): value is string =>
  typeof value === 'string' && value.length > 0 && value.length <= LONGEST_NAME;
const isFigure = (value: unknown): value is number =>
  typeof value === 'number' && Number.isFinite(value) && value >= 0 && value < 1e12;
const isCount = (value: unknown): value is number => isFigure(value) && Number.isInteger(value);
const isRotation = (value: unknown): value is 0 | 90 | 180 | 270 =>
  value === 0 || value === 90 || value === 180 || value === 270;
/** Absent, or of the right kind. */
const isOptional = (value: unknown, is: (value: unknown) => boolean): boolean => value === undefined || is(value);

function readLeads(value: unknown): (readonly [number, string])[] | undefined {
  if (!Array.isArray(value) || value.length > 400) return undefined;
  const leads: (readonly [number, string])[] = [];
  for (const row of value) {
    if (!Array.isArray(row) || row.length !== 2 || !isCount(row[0]) || !isName(row[1])) return undefined;
    leads.push([row[0], row[1]]);
  }
  return leads;
}

/** Reads one fact from parsed JSON, keeping only the fields it knows; undefined where it isn't a whole fact of a known kind. */
export function readFact(value: unknown): Fact | undefined {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return undefined;
  const f = value as Fields;
  switch (f.fact) {
    case 'part-in': {
      const leads = readLeads(f.leads);
      if (leads === undefined || !isName(f.part) || !isName(f.type) || !isRotation(f.rotation)) return undefined;
      if (!isOptional(f.value, isName) || !isOptional(f.device, isName)) return undefined;
      return {
        fact: 'part-in',
        part: f.part,
        type: f.type,
        ...(isName(f.value) ? { value: f.value } : {}),
        rotation: f.rotation,
        leads,
        ...(isName(f.device) ? { device: f.device } : {}),
      };
    }
    case 'part-out':
      return isName(f.part) ? { fact: 'part-out', part: f.part } : undefined;
    case 'wire-in':
      if (!isName(f.wire) || !isName(f.net) || !isName(f.from) || !isName(f.to)) return undefined;
      if (!isFigure(f.cutMm) || !isName(f.colour) || !isName(f.style)) return undefined;
      if (![f.lead, f.was, f.piece].every((value) => isOptional(value, isName))) return undefined;
      return {
        fact: 'wire-in',
        wire: f.wire,
        net: f.net,
        from: f.from,
        to: f.to,
        cutMm: f.cutMm,
        colour: f.colour,
        style: f.style,
        ...(isName(f.lead) ? { lead: f.lead } : {}),
        ...(isName(f.was) ? { was: f.was } : {}),
        ...(isName(f.piece) ? { piece: f.piece } : {}),
      };
    case 'wire-out':
      return isName(f.wire)
        ? { fact: 'wire-out', wire: f.wire, ...(f.kept === true ? { kept: true } : {}) }
        : undefined;
    case 'image':
      if (!isName(f.device) || !isName(f.file)) return undefined;
      if (!isOptional(f.bytes, isCount) || !isOptional(f.sum, isName)) return undefined;
      return {
        fact: 'image',
        device: f.device,
        file: f.file,
        ...(isCount(f.bytes) ? { bytes: f.bytes } : {}),
        ...(isName(f.sum) ? { sum: f.sum } : {}),
      };
    case 'label':
      return isName(f.device) && isName(f.text) ? { fact: 'label', device: f.device, text: f.text } : undefined;
    case 'lead-made':
      return isName(f.lead) ? { fact: 'lead-made', lead: f.lead } : undefined;
    case 'lead-on':
      if (!isName(f.pod) || !isCount(f.channel) || !isName(f.net) || !isOptional(f.hole, isName)) return undefined;
      return {
        fact: 'lead-on',
        pod: f.pod,
        channel: f.channel,
        net: f.net,
        ...(isName(f.hole) ? { hole: f.hole } : {}),
      };
    case 'lead-off':
      return isName(f.pod) && isCount(f.channel) ? { fact: 'lead-off', pod: f.pod, channel: f.channel } : undefined;
    default:
      return undefined;
  }
}
