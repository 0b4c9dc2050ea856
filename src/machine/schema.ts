// The machine file's shape: the only definition of its keys. The types, the JSON Schema that editors complete and check
// with, and the reader all come from it; what each value means beyond its shape stands in the other files of this folder.

import { type Static, type TSchema, Type } from 'typebox';

const closed = { additionalProperties: false } as const;

/** The number that `format:` bears now. */
export const MACHINE_FORMAT = 1;

/** A text such as `3.6864 MHz`; bare numbers are let through here and judged by what is wanted. */
const quantity = (description: string) => Type.Union([Type.String(), Type.Number()], { description });
const text = (description: string) => Type.String({ minLength: 1, description });
/** One name or a list of names. */
const names = (description: string) => Type.Union([Type.String(), Type.Array(Type.String())], { description });
const maybe = <T extends TSchema>(schema: T) => Type.Optional(schema);

const lifetime = {
  from: maybe(text('The stage from which on this holds. Without it: from the first.')),
  until: maybe(text('The stage from which on this no longer holds. Without it: to the end.')),
};

const Supply = Type.Object(
  {
    volts: quantity('Nominal voltage, such as 5 V.'),
    tolerance: maybe(quantity('How far it may be off, such as 5 %.')),
    limit: maybe(quantity('The greatest current it gives, such as 1 A.')),
  },
  { ...closed, description: 'A supply: the net that feeds parts bears its name.' },
);

const Clock = Type.Object(
  {
    from: maybe(text('The pin it comes from, PART.PIN.')),
    rate: quantity('Frequency, such as 3.6864 MHz.'),
    duty: maybe(quantity('Part of the period that it is high, such as 50 %.')),
  },
  { ...closed, description: 'A clock, for margins and for the simulator.' },
);

const Defaults = Type.Object(
  {
    family: maybe(text('The logic family of 74-series parts that name none, such as HCT.')),
    pull: maybe(quantity('Pull-up and pull-down resistors and straps; 10 kohm unless said.')),
    bypass: maybe(quantity('The capacitor at each chip; 100 nF unless said.')),
    bulk: maybe(quantity('The capacitor at each board; 47 uF unless said.')),
    led: maybe(quantity('Series resistors of light-emitting diodes; 330 ohm unless said.')),
    supply: maybe(text('The supply of parts that name none; the first one unless said.')),
  },
  { ...closed, description: 'Values taken where a line names none.' },
);

const partKeys = {
  type: text('The type, such as Z80 or 74HCT138; 74138 takes the family from `family`. Quote numbers: "62256".'),
  grade: maybe(text('Speed grade as the record lists it, such as 6 MHz CMOS or 150 ns.')),
  value: maybe(text('Value of a resistor, capacitor or the like: 10 kohm, 100 nF, 4k7.')),
  rate: maybe(quantity('Frequency of an oscillator or crystal, such as 3.6864 MHz.')),
  family: maybe(text('Logic family, such as HC or HCT, where the type leaves it open.')),
  supply: maybe(text('The supply that feeds it.')),
  colour: maybe(text('Colour of a light-emitting diode or button.')),
  through: maybe(
    quantity('Light-emitting diodes: the resistor in series with each, such as 470 ohm; it is added as a part.'),
  ),
  holds: maybe(text('The image it holds, a path in the project.')),
  'comes-out': maybe(Type.Boolean({ description: 'True where it is taken out to be programmed.' })),
  uses: maybe(text("A logic device's own fuse file, a path in the project.")),
  pins: maybe(
    Type.Record(Type.String(), Type.String(), {
      description: 'Pin to net: { XIN: cpu-clock, INTR: open }. `open` leaves the pin open on purpose.',
    }),
  ),
  note: maybe(text('A remark for the record.')),
};
const Part = Type.Object(partKeys, { ...closed, description: 'A part: its type and what is particular to this one.' });

const Selects = Type.Union(
  [
    Type.String(),
    Type.Array(Type.String()),
    Type.Object(
      {
        memory: maybe(names('The part that decodes memory addresses.')),
        ports: maybe(names('The part that decodes port addresses.')),
      },
      closed,
    ),
  ],
  { description: 'The part that makes the selects: a name, a list, or { memory: X, ports: Y }.' },
);

const Bus = Type.Object(
  {
    processor: text('The part that masters the bus.'),
    members: maybe(names('The parts on the bus, in any order.')),
    selects: maybe(Selects),
    masters: maybe(
      Type.Record(Type.String(), Type.String(), {
        description: 'Further parts that may drive the bus, and the condition: { DMA: low(/BUSAK) }.',
      }),
    ),
    ...lifetime,
  },
  { ...closed, description: 'A bus: nets for address, data and strobes follow from the records of its members.' },
);

/** `32 KiB at 0x8000`, `0x8000 to 0xFFFF`: the form that tells a region from a misspelt key. */
const REGION_FORM = '^.*\\S\\s+(at|to)\\s+\\S.*$';
const RegionText = Type.String({ pattern: REGION_FORM, description: '32 KiB at 0x8000, or 0x8000 to 0xFFFF.' });

const MapEntry = Type.Object(
  {
    part: maybe(text('Long form: the part that answers.')),
    at: maybe(quantity('Long form: the first address, such as 0x8000.')),
    size: maybe(quantity('Long form: the length, such as 32 KiB, or 8 for bytes.')),
    when: maybe(text('Condition on levels under which it answers, for overlays: ~rom-off.')),
    offset: maybe(quantity('Where in the part this region starts, for parts seen in several pieces.')),
    access: maybe(
      Type.Union([Type.Literal('read'), Type.Literal('write')], { description: 'Only reads or only writes reach it.' }),
    ),
    wait: maybe(
      Type.Integer({
        minimum: 1,
        maximum: 7,
        description: 'Wait states of the processor for each access there, beside those it makes by itself.',
      }),
    ),
    mirrors: maybe(
      Type.Union([Type.Literal('allowed'), Type.Literal('forbidden')], {
        description:
          'Whether it may answer at other addresses too. Unless said, mirrors come only where the decoder has too few inputs, and are reported.',
      }),
    ),
    bus: maybe(text('The bus, where the part is on several.')),
    ...lifetime,
  },
  {
    additionalProperties: Type.Union([RegionText, Type.Array(RegionText)], {
      description: 'PART: region, or a list of regions: 32 KiB at 0x8000, or 0x8000 to 0xFFFF.',
    }),
    description: 'Where parts answer: { ROM: 32 KiB at 0x0000 }, or { part: ROM, at: 0x0000, size: 32 KiB }.',
  },
);

const NetLong = Type.Object({ pins: names('The pins, PART.PIN or a range PART.D7-D0.'), ...lifetime }, closed);
const Net = Type.Union([Type.String(), Type.Array(Type.Union([Type.String(), NetLong])), NetLong], {
  description: 'A net and its pins: [CPU.CLK, OSC.OUT]; or { pins: [...], from: STAGE, until: STAGE }.',
});

const Tie = Type.Object(
  {
    high: maybe(names('Pins or nets tied to the supply.')),
    low: maybe(names('Pins or nets tied to ground.')),
    through: maybe(quantity('The resistor, such as 10 kohm. Without it: a wire.')),
    supply: maybe(text('The supply for `high`, where it is not the default one.')),
    ...lifetime,
  },
  { ...closed, description: 'Pins that stand at a level for good.' },
);

const LogicLong = Type.Object(
  {
    formula: maybe(text('The condition: high when low(/reset); or levels: ~(a & b).')),
    when: maybe(
      text('When the net is asserted: a net without a slash is then high, one with a leading slash is then low.'),
    ),
    in: maybe(text('Where it is made: "G2 unit 3" (a unit of a part) or "SEL pin 14" (a pin of a logic device).')),
    clock: maybe(text('Registered: the net whose rising edge takes the value over.')),
    enable: maybe(text('Condition under which the output drives.')),
    reset: maybe(text('Condition that makes a registered output low.')),
    preset: maybe(text('Condition that makes a registered output high.')),
    ...lifetime,
  },
  closed,
);
const Logic = Type.Union([Type.String(), LogicLong, Type.Array(LogicLong)], {
  description: 'NET: formula. The tool finds a unit or a device pin that makes it.',
});

const NetClass = Type.Object(
  {
    nets: names('The nets of the class; a range counts as its members.'),
    colour: maybe(text('Wire colour, IEC 60757 code: BK BN RD OG YE GN BU VT GY WH PK GD TQ SR GNYE.')),
    longest: maybe(quantity('The longest wire, such as 80 mm.')),
    'probe-hole': maybe(Type.Boolean({ description: 'True to keep a free hole for a probe on each net.' })),
    weight: maybe(Type.Number({ minimum: 0, maximum: 100, description: 'How dearly length is counted; 1 is usual.' })),
  },
  { ...closed, description: 'How the wires of certain nets are to be laid.' },
);

const Instance = Type.Object(
  {
    use: text('The block, as its file is named: blocks/NAME.yaml of the project, or one shipped with the tool.'),
    join: maybe(
      Type.Record(Type.String(), Type.String(), {
        description: "The block's connection to a net here. # stands for the copy's number.",
      }),
    ),
    stages: maybe(
      Type.Record(Type.String(), Type.String(), { description: "The block's stage to a stage of this machine." }),
    ),
    copies: maybe(
      Type.Integer({ minimum: 1, maximum: 256, description: 'How many; parts are then named NAME1-PART, NAME2-PART.' }),
    ),
    first: maybe(Type.Integer({ minimum: 0, maximum: 255, description: 'Number of the first copy; 1 unless said.' })),
    supply: maybe(text('The supply that feeds its parts.')),
  },
  { ...closed, description: 'A known sub-circuit, joined by named connections.' },
);

const Scalar = Type.Union([Type.String(), Type.Number(), Type.Boolean()]);
const Terms = (description: string) =>
  Type.Union(
    [Type.String(), Type.Record(Type.String(), Type.Union([Scalar, Type.Array(Scalar)])), Type.Array(Type.String())],
    { description },
  );

const Proof = Type.Object(
  {
    given: maybe(Terms('What is done: supply, press, clock, hold, send.')),
    expect: Terms(
      'What must show: NET: level, frequency or pulse; free run; self-test passes; terminal says; display shows; digits show; memory.',
    ),
  },
  { ...closed, description: 'A proof: given a stimulus, what is measured and what it must show.' },
);

const Strap = Type.Object(
  {
    hold: names('The nets that are held, highest bit first.'),
    at: Type.Union([Type.Number(), Type.String()], { description: 'high, low, or a number: 0x00.' }),
    through: maybe(quantity('The resistor of each; the default pull unless said; `wire` for none.')),
    until: maybe(text('The stage that takes it out again.')),
  },
  { ...closed, description: 'A strap: nets held at a level until a later stage.' },
);

const Leads = Type.Object(
  { until: maybe(text('The stage that takes them off again.')) },
  { additionalProperties: names('The nets, in the order of the channels.'), description: 'POD: nets.' },
);

const NoteLong = Type.Object(
  {
    text: text('The remark.'),
    photo: maybe(text('A picture, a path in the project.')),
  },
  closed,
);
const Notes = Type.Union([Type.String(), NoteLong, Type.Array(Type.Union([Type.String(), NoteLong]))], {
  description: 'A remark for the record: a text, { text, photo }, or a list of these.',
});

const Stage = Type.Object(
  {
    stage: text('The name of the stage.'),
    adds: maybe(names('Parts that are put in. The name of a block adds all its parts.')),
    removes: maybe(names('Parts that are taken out.')),
    replaces: maybe(
      Type.Record(Type.String(), Part, { description: 'Parts exchanged for another type under the same name.' }),
    ),
    moves: maybe(names('Parts that may find another place from this stage on.')),
    temporary: maybe(Type.Array(Strap, { description: 'Straps, in until a later stage.' })),
    leads: maybe(Type.Union([Leads, Type.Array(Leads)], { description: 'Where instruments are hooked up.' })),
    programs: maybe(
      Type.Record(Type.String(), Type.String(), { description: 'What is programmed: { SEL: logic, ROM: firmware }.' }),
    ),
    note: maybe(Notes),
    prove: maybe(Type.Union([Proof, Type.Array(Proof)], { description: 'What must show before the next stage.' })),
  },
  { ...closed, description: 'A step of the build that ends in proofs.' },
);

const Waiver = Type.Object(
  {
    code: text('The code of the finding.'),
    at: names('Where: parts, pins, nets or stages that the finding is about.'),
    reason: Type.String({ description: 'Why it is all right; the book prints it.' }),
  },
  { ...closed, description: 'A finding that is accepted, with the reason.' },
);

/** What a machine file, an included file and a block have in common. */
const circuit = {
  clocks: maybe(Type.Record(Type.String(), Clock, { description: 'Clocks by name.' })),
  parts: maybe(Type.Record(Type.String(), Part, { description: 'Parts by name.' })),
  buses: maybe(Type.Record(Type.String(), Bus, { description: 'Buses by name.' })),
  memory: maybe(Type.Array(MapEntry, { description: 'Where parts answer to memory addresses.' })),
  ports: maybe(Type.Array(MapEntry, { description: 'Where parts answer to port addresses.' })),
  nets: maybe(Type.Record(Type.String(), Net, { description: 'Nets by name.' })),
  ties: maybe(Type.Array(Tie, { description: 'Pins and nets that stand at a level for good.' })),
  logic: maybe(Type.Record(Type.String(), Logic, { description: 'Nets that are made from others.' })),
  classes: maybe(Type.Record(Type.String(), NetClass, { description: 'Classes of nets by name.' })),
  blocks: maybe(Type.Record(Type.String(), Instance, { description: 'Known sub-circuits by name.' })),
  stages: maybe(Type.Array(Stage, { description: 'The stages of the build, in order.' })),
};

const sections = {
  includes: maybe(
    Type.Array(Type.String(), {
      description: 'Further files of the machine, as paths in the project; they may hold every section.',
    }),
  ),
  supplies: maybe(Type.Record(Type.String(), Supply, { description: 'Supplies by name.' })),
  defaults: maybe(Defaults),
  ...circuit,
  waive: maybe(Type.Array(Waiver, { description: 'Findings that are accepted, each with its reason.' })),
};

const formatKey = maybe(
  Type.Literal(MACHINE_FORMAT, { description: 'The number of this form of the file; 1, also where it is left out.' }),
);

/** The main file. */
export const MachineFileSchema = Type.Object(
  {
    format: formatKey,
    machine: text('The name of the machine.'),
    about: maybe(text('What it does, in a sentence or two.')),
    ...sections,
  },
  { ...closed, description: 'A machine: its parts, how they are joined, and the stages in which it is built.' },
);
export type MachineFile = Static<typeof MachineFileSchema>;

/** A file that the main one includes: the same sections, no name needed. */
export const IncludedFileSchema = Type.Object(
  { format: formatKey, about: maybe(text('What this part of the machine is.')), ...sections },
  { ...closed, description: 'A part of a machine, in a file of its own.' },
);

const Join = Type.Union(
  [
    Type.String(),
    Type.Object(
      {
        about: text('What the connection is.'),
        default: maybe(text('The net that it joins where the machine names none.')),
      },
      closed,
    ),
  ],
  { description: 'A named connection: what it is, and the net it joins where the machine names none.' },
);

/** A block: a known sub-circuit with named connections. */
export const BlockFileSchema = Type.Object(
  {
    format: formatKey,
    block: text('The name of the block, as its file is named.'),
    about: maybe(text('What it does.')),
    joins: maybe(Type.Record(Type.String(), Join, { description: 'Connections by name.' })),
    ...circuit,
    layout: maybe(Type.Unknown({ description: 'Hints for the layout.' })),
  },
  { ...closed, description: 'A block: parts, nets and stages that machines use by name.' },
);
