// The part record: one YAML file of data/parts (or of a project's parts/) in the one form that pinout, checks, margins,
// layout, simulation, labels and book all read. This schema is the only definition: the TypeScript types, the JSON Schema
// shipped beside the records, and the reader all come from it.

import { type Static, Type } from 'typebox';

const closed = { additionalProperties: false } as const;

/** How a pin behaves electrically. `passive` is a lead of a resistor, switch, connector or the like. */
export const PIN_KINDS = [
  'input',
  'output',
  'three-state',
  'bidirectional',
  'open-drain',
  'supply',
  'ground',
  'passive',
  'unconnected',
] as const;
export type PinKind = (typeof PIN_KINDS)[number];

const PinRow = Type.Object(
  {
    number: Type.Integer({ minimum: 1, maximum: 200, description: 'Pin number, counted as on the package.' }),
    name: Type.String({
      minLength: 1,
      description: "The maker's name, active low with a leading slash. Several pins may bear one name.",
    }),
    kind: Type.Union(
      PIN_KINDS.map((kind) => Type.Literal(kind)),
      { description: 'How the pin behaves electrically.' },
    ),
    aliases: Type.Optional(Type.Array(Type.String(), { description: 'Other names in use for this pin.' })),
    group: Type.Optional(Type.String({ description: 'A set of pins that belong together, such as address or data.' })),
    input: Type.Optional(
      Type.String({ description: 'The class of `inputs` that gives its levels and load; `default` unless said.' }),
    ),
    output: Type.Optional(
      Type.String({ description: 'The class of `outputs` that gives its drive; `default` unless said.' }),
    ),
    edge: Type.Optional(
      Type.Boolean({ description: 'True for an input that acts on an edge: clocks, strobes, interrupts that latch.' }),
    ),
    schmitt: Type.Optional(Type.Boolean({ description: 'True for an input with hysteresis made for slow edges.' })),
    pull: Type.Optional(
      Type.Union([Type.Literal('up'), Type.Literal('down')], {
        description: 'A pull inside the part; the input may stay open.',
      }),
    ),
    'may-float': Type.Optional(
      Type.String({ description: 'Why an open input does no harm, where the maker says so.' }),
    ),
  },
  closed,
);

const Package = Type.Object(
  {
    kind: Type.Union(
      [
        Type.Literal('dip'),
        Type.Literal('sip'),
        Type.Literal('to-92'),
        Type.Literal('to-220'),
        Type.Literal('two-lead'),
        Type.Literal('grid'),
      ],
      {
        description:
          'dip: two rows that straddle the gutter. sip: one row. to-92, to-220: three leads in a row. two-lead: bent to any span in reach. grid: leads at the given grid places.',
      },
    ),
    pins: Type.Integer({ minimum: 1, maximum: 200, description: 'Number of lead positions.' }),
    width: Type.Optional(
      Type.Union(
        [300, 400, 600, 900].map((mil) => Type.Literal(mil)),
        { description: 'dip: distance of the rows in mil.' },
      ),
    ),
    leads: Type.Optional(
      Type.Record(Type.String({ pattern: '^[0-9]+$' }), Type.Tuple([Type.Integer(), Type.Integer()]), {
        description:
          'grid: for each pin number its place [across, down] in steps of 2.54 mm, pin 1 at [0, 0], seen from above. Down 3 crosses the gutter from row f to row e.',
      }),
    ),
    only: Type.Optional(
      Type.Array(Type.Integer(), {
        description: 'dip: the lead positions that exist, where some are missing (oscillator cans).',
      }),
    ),
    span: Type.Optional(
      Type.Tuple([Type.Number(), Type.Number()], {
        description: 'two-lead: least and greatest distance of the leads in mm.',
      }),
    ),
    body: Type.Optional(
      Type.Object(
        {
          length: Type.Number({ description: 'mm, along the rows or between the leads' }),
          width: Type.Number({ description: 'mm' }),
          height: Type.Optional(Type.Number({ description: 'mm above the board' })),
        },
        closed,
      ),
    ),
    source: Type.Optional(Type.String()),
  },
  closed,
);

const Unit = Type.Object(
  {
    name: Type.String(),
    kind: Type.String({ description: 'Units of one kind are alike and may stand in for each other.' }),
    pins: Type.Record(Type.String(), Type.String(), {
      description: "The unit's own letter for each of its pins: { A: 1A, B: 1B, Y: 1Y }.",
    }),
  },
  closed,
);

const Freedom = Type.Object(
  {
    exchange: Type.Array(Type.Array(Type.String()), {
      description:
        'Tuples of pins; any two tuples may be exchanged as wholes. [[A0], [A1]] are single pins, [[1A, 1Y], [2A, 2Y]] elements.',
    }),
    follows: Type.Optional(
      Type.Union([Type.Literal('nothing'), Type.Literal('image'), Type.Literal('fuses')], {
        description: 'What must be permuted along with the pins.',
      }),
    ),
    why: Type.Optional(Type.String()),
  },
  closed,
);

const RequiredTie = Type.Object(
  {
    pins: Type.Array(Type.String()),
    to: Type.String({ description: '`high`, `low`, `open`, or the name of another pin of this part.' }),
    through: Type.Optional(Type.String({ description: 'A resistance such as 10 kohm; a wire unless said.' })),
    why: Type.String(),
    unless: Type.Optional(
      Type.String({ description: 'Always "connected": the tie is made only if the machine says nothing of the pin.' }),
    ),
  },
  closed,
);

/** Signals of a bus as a part names them: signal to pin, or to a list or range of pins where it has several. */
const BusRole = Type.Object(
  {
    role: Type.Union(
      [
        'processor',
        'memory',
        'peripheral',
        'latch',
        'transceiver',
        'buffer',
        'bus-controller',
        'clock-generator',
        'decoder',
        'master',
      ].map((role) => Type.Literal(role)),
    ),
    style: Type.Optional(
      Type.String({
        description:
          'How transfers are signalled. Processors: z80, 6502, 6809, 8085, 8088, 8086, 68008. Others: strobe (active-low read and write) or e-clock (E and R/W).',
      }),
    ),
    address: Type.Optional(Type.String({ description: 'Range or list of address pins, such as A14-A0.' })),
    data: Type.Optional(Type.String({ description: 'Range or list of data pins.' })),
    signals: Type.Optional(
      Type.Record(Type.String(), Type.String(), {
        description: 'Signal to pin: read, write, select, memory, io, fetch, wait, clock, reset …',
      }),
    ),
    selects: Type.Optional(
      Type.Array(Type.String(), {
        description: 'Select pins; the first one that is not tied takes the derived select.',
      }),
    ),
    inputs: Type.Optional(
      Type.Array(Type.String(), {
        description:
          'Decoder: its address inputs, lowest bit first (its enables are `selects`); latch, buffer, transceiver: the pins on one side, bit 0 first; programmable device: pins that can be inputs.',
      }),
    ),
    outputs: Type.Optional(
      Type.Array(Type.String(), {
        description:
          'Decoder: its outputs in order; latch, buffer, transceiver: the pins that answer to `inputs`; programmable device: pins that can be outputs.',
      }),
    ),
    size: Type.Optional(
      Type.String({ description: 'Memory: its size, such as 32 KiB; peripheral: the number of registers.' }),
    ),
    'address-bits': Type.Optional(Type.Integer({ description: 'Processor: width of memory addresses.' })),
    'port-bits': Type.Optional(
      Type.Integer({ description: 'Processor: width of port addresses; 0 where it has none.' }),
    ),
    vectors: Type.Optional(
      Type.Array(
        Type.Object(
          { name: Type.String(), at: Type.Integer(), bytes: Type.Integer(), reads: Type.Optional(Type.String()) },
          closed,
        ),
        { description: 'Addresses the processor reads or starts at by itself.' },
      ),
    ),
  },
  closed,
);

const Range = {
  min: Type.Optional(Type.Number()),
  typ: Type.Optional(Type.Number()),
  max: Type.Optional(Type.Number()),
};

const Source = Type.Optional(Type.String({ description: 'A key of `sources`, or `from memory`.' }));

const InputClass = Type.Object(
  {
    vil: Type.Optional(Type.Number({ description: 'V, highest level read as low' })),
    vih: Type.Optional(Type.Number({ description: 'V, lowest level read as high' })),
    'vil-of-supply': Type.Optional(
      Type.Number({
        description: 'The low threshold as a part of the supply, where it follows it; `vil` is then for 5 V',
      }),
    ),
    'vih-of-supply': Type.Optional(
      Type.Number({
        description: 'The high threshold as a part of the supply, where it follows it; `vih` is then for 5 V',
      }),
    ),
    'vih-below-supply': Type.Optional(
      Type.Number({ description: 'V, where the high threshold is given as the supply less this much' }),
    ),
    low: Type.Optional(Type.Number({ description: 'uA drawn out of the driver at low, negative as makers print it' })),
    high: Type.Optional(Type.Number({ description: 'uA drawn at high' })),
    capacitance: Type.Optional(Type.Number({ description: 'pF, maximum, or typical where the maker gives no other' })),
    'slowest-edge': Type.Optional(Type.Number({ description: 'ns/V' })),
    source: Source,
  },
  closed,
);

const DrivePoint = Type.Object(
  {
    volts: Type.Number({ description: 'V: greatest low level or least high level' }),
    at: Type.Number({ description: 'mA: sunk at low (positive), sourced at high (negative)' }),
  },
  closed,
);

const OutputClass = Type.Object(
  {
    low: Type.Optional(Type.Array(DrivePoint)),
    high: Type.Optional(Type.Array(DrivePoint)),
    'high-below-supply': Type.Optional(
      Type.Array(DrivePoint, { description: 'high levels as the supply less this many volts' }),
    ),
    capacitance: Type.Optional(Type.Number({ description: 'pF of the pin itself' })),
    'test-load': Type.Optional(Type.Number({ description: 'pF at which the delays are specified' })),
    'edge-time': Type.Optional(Type.Number({ description: 'ns, fastest usual transition, for estimates of ringing' })),
    leakage: Type.Optional(Type.Number({ description: 'uA when off' })),
    source: Source,
  },
  closed,
);

const Arc = Type.Object(
  {
    symbol: Type.String({ description: "The maker's symbol." }),
    kind: Type.Union(
      ['delay', 'enable', 'disable', 'setup', 'hold', 'width', 'period', 'recovery', 'access', 'other'].map((kind) =>
        Type.Literal(kind),
      ),
    ),
    from: Type.Optional(Type.String({ description: 'Pin, group or edge such as `rise CLK`.' })),
    to: Type.Optional(Type.String()),
    meaning: Type.Optional(Type.String()),
    ...Range,
    unit: Type.Optional(Type.String({ description: 'ns unless said' })),
    conditions: Type.Optional(Type.String()),
    source: Source,
  },
  closed,
);

const Grade = Type.Object(
  {
    clock: Type.Optional(
      Type.Object(
        { min: Type.Optional(Type.Number()), max: Type.Optional(Type.Number()), source: Source },
        { ...closed, description: 'Hz' },
      ),
    ),
    current: Type.Optional(
      Type.Object(
        { ...Range, conditions: Type.Optional(Type.String()), source: Source },
        { ...closed, description: 'mA drawn from the supply' },
      ),
    ),
    supply: Type.Optional(
      Type.Object({ min: Type.Number(), max: Type.Number(), source: Source }, { ...closed, description: 'V' }),
    ),
    inputs: Type.Optional(Type.Record(Type.String(), InputClass)),
    outputs: Type.Optional(Type.Record(Type.String(), OutputClass)),
    arcs: Type.Optional(Type.Array(Arc)),
  },
  closed,
);

const Assignments = Type.Record(Type.String(), Type.String());
const Times = Type.Optional(
  Type.String({ description: 'A range such as 1-8: the entry is repeated with # replaced by each number.' }),
);

const Behaviour = Type.Object(
  {
    state: Type.Optional(
      Type.Array(Type.String(), { description: 'One-bit state variables; a range such as Q0-Q7 stands for each.' }),
    ),
    asynchronous: Type.Optional(
      Type.Array(Type.Object({ when: Type.String(), set: Assignments, repeat: Times }, closed), {
        description: 'Overrides while `when` is true; earlier entries win.',
      }),
    ),
    clocked: Type.Optional(
      Type.Array(
        Type.Object(
          {
            edge: Type.Union([Type.Literal('rise'), Type.Literal('fall')]),
            of: Type.String({ description: 'A pin, or a formula whose value is the clock.' }),
            when: Type.Optional(Type.String()),
            set: Assignments,
            repeat: Times,
          },
          closed,
        ),
      ),
    ),
    latched: Type.Optional(
      Type.Array(Type.Object({ while: Type.String(), set: Assignments, repeat: Times }, closed), {
        description: 'Transparent while the formula is true.',
      }),
    ),
    outputs: Type.Optional(
      Type.Record(
        Type.String(),
        Type.Union([
          Type.String({ description: 'A formula over levels of pins and state: ~ & | ^ ( ) 0 1.' }),
          Type.Object(
            {
              value: Type.String(),
              enable: Type.Optional(Type.String({ description: 'Drives only while true.' })),
              repeat: Times,
            },
            closed,
          ),
        ]),
        { description: 'What each output pin drives.' },
      ),
    ),
    joins: Type.Optional(
      Type.Array(Type.Object({ pins: Type.Array(Type.String()), when: Type.Optional(Type.String()) }, closed), {
        description: 'Pins that the part connects to each other, always or while something is pressed or set.',
      }),
    ),
    model: Type.Optional(Type.String({ description: 'The name of a model in code, where no formula can say it.' })),
    'not-modelled': Type.Optional(Type.Array(Type.String())),
    source: Source,
  },
  closed,
);

export const PartRecordSchema = Type.Object(
  {
    part: Type.String({ description: 'Type name. `74x138` stands for the type in each of its families (74HCT138).' }),
    title: Type.String({ description: 'What it is, in a few words.' }),
    category: Type.Union(
      [
        'processor',
        'companion',
        'memory',
        'logic-device',
        'logic',
        'supervisor',
        'clock',
        'driver',
        'discrete',
        'display',
        'switch',
        'connector',
        'supply',
      ].map((category) => Type.Literal(category)),
    ),
    families: Type.Optional(
      Type.Array(Type.String(), {
        description: 'Logic families it exists in; levels and drive then come from data/parts/families.',
      }),
    ),
    aliases: Type.Optional(Type.Array(Type.String(), { description: 'Other names for the same type, pin for pin.' })),
    symbol: Type.Optional(
      Type.Union(
        [
          'chip',
          'resistor',
          'network',
          'capacitor',
          'electrolytic',
          'diode',
          'led',
          'crystal',
          'can',
          'button',
          'switch',
          'digit',
          'header',
          'transistor',
          'fuse',
          'module',
        ].map((symbol) => Type.Literal(symbol)),
        { description: 'How it is drawn; chip unless said.' },
      ),
    ),
    value: Type.Optional(
      Type.Object(
        {
          dimension: Type.Union(
            ['resistance', 'capacitance', 'frequency', 'voltage', 'inductance', 'current'].map((dimension) =>
              Type.Literal(dimension),
            ),
          ),
          required: Type.Boolean(),
        },
        { ...closed, description: 'The value that each piece is chosen by.' },
      ),
    ),
    package: Package,
    pins: Type.Array(PinRow, { minItems: 1 }),
    joined: Type.Optional(
      Type.Array(Type.Array(Type.Integer()), { description: 'Pin numbers that are one conductor inside the part.' }),
    ),
    units: Type.Optional(Type.Array(Unit)),
    freedoms: Type.Optional(Type.Array(Freedom)),
    ties: Type.Optional(
      Type.Array(RequiredTie, { description: 'What must be tied where the machine says nothing of the pin.' }),
    ),
    bus: Type.Optional(BusRole),
    bypass: Type.Optional(
      Type.Union([Type.Literal('none'), Type.Literal('one')], {
        description: 'Bypass capacitors it wants; one per chip unless said.',
      }),
    ),
    supply: Type.Optional(
      Type.Object({ min: Type.Number(), max: Type.Number(), source: Source }, { ...closed, description: 'V' }),
    ),
    current: Type.Optional(
      Type.Object(
        { ...Range, conditions: Type.Optional(Type.String()), source: Source },
        { ...closed, description: 'mA' },
      ),
    ),
    clock: Type.Optional(
      Type.Object(
        {
          pin: Type.Optional(Type.String()),
          min: Type.Optional(Type.Number()),
          max: Type.Optional(Type.Number()),
          source: Source,
        },
        { ...closed, description: 'Hz; min above 0 for dynamic parts' },
      ),
    ),
    inputs: Type.Optional(Type.Record(Type.String(), InputClass)),
    outputs: Type.Optional(Type.Record(Type.String(), OutputClass)),
    grades: Type.Optional(
      Type.Record(Type.String(), Grade, {
        description: 'What differs by grade, by the name written in the machine file.',
      }),
    ),
    arcs: Type.Optional(Type.Array(Arc, { description: 'Timing common to all grades.' })),
    behaviour: Type.Optional(Behaviour),
    facts: Type.Optional(
      Type.Record(Type.String(), Type.Union([Type.Number(), Type.String(), Type.Boolean()]), {
        description: "Figures of one kind of part: a supervisor's threshold, an LED's forward voltage.",
      }),
    ),
    cautions: Type.Optional(Type.Array(Type.String())),
    notes: Type.Optional(Type.Array(Type.String())),
    sources: Type.Record(Type.String(), Type.String(), {
      description: 'Key to document, table and page; the key `pins` says where the pin table was read.',
    }),
  },
  { ...closed, $id: 'proofboard-part-1', title: 'Proofboard part record' },
);

/** A part record as written. */
export type PartRecord = Static<typeof PartRecordSchema>;
export type PartPackage = Static<typeof Package>;
export type PartPinRow = Static<typeof PinRow>;
export type PartUnit = Static<typeof Unit>;
export type PartFreedom = Static<typeof Freedom>;
export type PartTie = Static<typeof RequiredTie>;
export type PartBusRole = Static<typeof BusRole>;
export type PartBehaviour = Static<typeof Behaviour>;
export type InputFigures = Static<typeof InputClass>;
export type OutputFigures = Static<typeof OutputClass>;
export type TimingArc = Static<typeof Arc>;
export type PartGrade = Static<typeof Grade>;

/** Levels, drive and load of a logic family: data/parts/families/<name>.yaml. */
export const FamilySchema = Type.Object(
  {
    family: Type.String(),
    title: Type.String(),
    technology: Type.Union([Type.Literal('bipolar'), Type.Literal('cmos')]),
    supply: Type.Object({ min: Type.Number(), max: Type.Number(), source: Source }, closed),
    inputs: Type.Record(Type.String(), InputClass),
    outputs: Type.Record(Type.String(), OutputClass, {
      description: '`default` and, where bus drivers are stronger, `bus`.',
    }),
    'may-float': Type.Optional(Type.Boolean()),
    sources: Type.Record(Type.String(), Type.String()),
  },
  { ...closed, $id: 'proofboard-family-1', title: 'Proofboard logic family' },
);
export type FamilyRecord = Static<typeof FamilySchema>;
