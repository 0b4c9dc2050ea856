// What the record holds, as blocks: headings, paragraphs, lists, tables, drawings, photos. From results that others worked
// out; nothing here computes. The page and the PDF are made of the same blocks.

import { compareNatural } from '../base/index.ts';
import { type Layout, layoutAt } from '../board/index.ts';
import { type ChipLabel, chipLabels, createScene, renderBoards, wireName } from '../drawing/index.ts';
import { type Design, netlistAt } from '../netlist/index.ts';
import { type Built, cuttingList, type JournalRecord, leadsToMake, type StepPlan } from '../stage/index.ts';

/** A finding as the record prints it. */
export interface BookFinding {
  readonly severity: string;
  readonly message: string;
  readonly place: string;
  readonly why: readonly string[];
  readonly help: string | undefined;
}

export interface BookInput {
  readonly design: Design;
  readonly about: string | undefined;
  readonly layout: Layout | undefined;
  /** What is left to do. */
  readonly plan: StepPlan | undefined;
  readonly built: Built;
  readonly records: readonly JournalRecord[];
  /** The address maps of the last stage as drawings, and the equations of its programmable devices. */
  readonly maps?: readonly { readonly title: string; readonly svg: string }[];
  readonly equations?: readonly { readonly device: string; readonly file: string; readonly lines: readonly string[] }[];
  readonly findings: readonly BookFinding[];
  readonly waived: readonly { readonly message: string; readonly reason: string }[];
}

/** A piece of running text. */
export interface Run {
  readonly text: string;
  readonly style?: 'strong' | 'code' | 'small';
}

export type Block =
  | { readonly kind: 'section'; readonly id: string; readonly title: string }
  | { readonly kind: 'heading'; readonly text: string }
  | { readonly kind: 'paragraph'; readonly runs: readonly Run[] }
  | {
      readonly kind: 'list';
      /** Number of the first item, for a list with numbers. */
      readonly from?: number;
      readonly items: readonly { readonly mark?: string; readonly lines: readonly (readonly Run[])[] }[];
    }
  | {
      readonly kind: 'table';
      readonly head: readonly string[];
      readonly rows: readonly (readonly string[])[];
      /** Columns of figures, and columns of names as they stand on boards and in files. */
      readonly right?: readonly number[];
      readonly mono?: readonly number[];
    }
  | { readonly kind: 'drawing'; readonly id: string; readonly svg: string; readonly caption: string }
  | { readonly kind: 'labels'; readonly labels: readonly ChipLabel[] }
  | { readonly kind: 'photo'; readonly file: string; readonly caption: string };

export const CAUTIONS = [
  'Local electrical rules, and for mains work a licensed person, come first. Use an isolated, current-limited supply, and never open a mains one.',
  'Check the polarity at the boards with a meter before a chip goes in. Never join a USB supply and a bench supply.',
  'Power off before chips, wires or leads are put in or moved: a chip without its supply feeds itself through its inputs.',
  'A chip that is hot to the touch is reversed or fighting another: switch off.',
  'Discharge yourself before handling CMOS parts. Mind the polarity of electrolytic capacitors.',
];

const say = (text: string): Run => ({ text });
const paragraph = (text: string): Block => ({ kind: 'paragraph', runs: [say(text)] });

/** The blocks of the record. Same input, same blocks. */
export function bookContent(input: BookInput): readonly Block[] {
  return [
    { kind: 'section', id: 'cautions', title: 'Before the power' },
    { kind: 'list', items: CAUTIONS.map((text) => ({ lines: [[say(text)]] })) },
    ...drawings(input),
    ...findings(input),
    ...parts(input),
    ...addresses(input),
    ...steps(input),
    ...wires(input),
    ...cutSheet(input),
    ...journal(input),
    ...labels(input),
  ];
}

function drawings(input: BookInput): Block[] {
  const { layout, design } = input;
  const section: Block = { kind: 'section', id: 'drawings', title: 'Boards' };
  if (layout === undefined)
    return [
      section,
      {
        kind: 'paragraph',
        runs: [say('Nothing is laid out yet: run '), { text: 'proofboard lay', style: 'code' }, say('.')],
      },
    ];
  const built = { parts: new Set(input.built.parts.keys()), wires: new Set(input.built.wires.keys()) };
  const figures = design.stages.map((stage): Block => {
    const scene = createScene({ design, layout, stage: stage.number, built });
    const { parts: placed, wires: laid } = layoutAt(layout, stage.number);
    const metres = laid.reduce((sum, wire) => sum + wire.cutMm, 0) / 1000;
    return {
      kind: 'drawing',
      id: `stage-${stage.number}`,
      svg: renderBoards({ design, layout, stage: stage.number, built, scene, scale: 6 }),
      caption: `Stage ${stage.number}, ${stage.name}: ${placed.length} parts, ${laid.length} wires, ${metres.toFixed(1)} m cut.`,
    };
  });
  return [section, ...figures.reverse()];
}

function addresses({ maps = [], equations = [] }: BookInput): Block[] {
  if (maps.length === 0 && equations.length === 0) return [];
  return [
    { kind: 'section', id: 'addresses', title: 'Who answers where' },
    ...maps.map(
      ({ title, svg }): Block => ({
        kind: 'drawing',
        id: `map-${title.toLowerCase()}`,
        svg,
        caption: `${title}, with every part in.`,
      }),
    ),
    ...equations.flatMap(({ device, file, lines }): Block[] => [
      { kind: 'heading', text: `${device}: ${file}` },
      { kind: 'list', items: lines.map((text) => ({ lines: [[{ text, style: 'code' }]] })) },
    ]),
  ];
}

function findings(input: BookInput): Block[] {
  const out: Block[] = [{ kind: 'section', id: 'findings', title: 'Findings' }];
  if (input.findings.length === 0) out.push(paragraph('Nothing wrong was found.'));
  else
    out.push({
      kind: 'list',
      items: input.findings.map((finding) => ({
        mark: finding.severity,
        lines: [
          [
            { text: finding.severity, style: 'strong' },
            say(` ${finding.message} `),
            { text: finding.place, style: 'code' },
          ],
          ...finding.why.map((text) => [say(text)]),
          ...(finding.help === undefined ? [] : [[say(`To mend: ${finding.help}`)]]),
        ],
      })),
    });
  if (input.waived.length > 0)
    out.push(
      { kind: 'heading', text: 'Waived' },
      {
        kind: 'list',
        items: input.waived.map((entry) => ({ lines: [[say(`${entry.message} Waived: ${entry.reason}`)]] })),
      },
    );
  return out;
}

function parts(input: BookInput): Block[] {
  const netlist = netlistAt(input.design, input.design.stages.length);
  const placed = new Map(
    input.layout === undefined
      ? []
      : layoutAt(input.layout, netlist.stage).parts.map((part) => [part.part, part.leads[0]?.hole ?? '']),
  );
  return [
    { kind: 'section', id: 'parts', title: 'Parts' },
    {
      kind: 'table',
      head: ['Part', 'Type', 'Serves', 'Stage', 'First lead'],
      right: [3],
      mono: [0, 4],
      rows: [...netlist.parts]
        .sort((a, b) => compareNatural(a.name, b.name))
        .map((part) => [
          part.name,
          [part.type, part.grade, part.value].filter((text) => text !== undefined).join(', '),
          part.implied === undefined ? '' : `for ${part.implied.serves}`,
          String(part.stage),
          placed.get(part.name) ?? '',
        ]),
    },
  ];
}

function steps(input: BookInput): Block[] {
  const section: Block = { kind: 'section', id: 'steps', title: 'Steps' };
  const { plan } = input;
  if (plan === undefined) return [section, paragraph('Steps follow from a layout.')];
  const out: Block[] = [];
  let number = 0;
  for (const group of plan.groups) {
    const ids = new Set(group.ids);
    const of = plan.steps.filter((step) => ids.has(step.id));
    out.push(
      {
        kind: 'heading',
        text: `Stage ${group.stage}, ${input.design.stages[group.stage - 1]?.name ?? ''}: ${group.group}`,
      },
      {
        kind: 'list',
        from: number + 1,
        items: of.map((step) => ({
          lines: [
            [say(`${step.text} `), { text: step.id, style: 'code' }],
            ...step.notes.map((note): Run[] => [{ text: note, style: 'small' }]),
          ],
        })),
      },
    );
    number += of.length;
  }
  return [section, paragraph(number === 1 ? '1 step left.' : `${number} steps left.`), ...out];
}

function wires(input: BookInput): Block[] {
  if (input.layout === undefined) return [];
  const { wires: laid } = layoutAt(input.layout, input.design.stages.length);
  return [
    { kind: 'section', id: 'wires', title: 'Wire list' },
    {
      kind: 'table',
      head: ['Net', 'From', 'To', 'Cut', 'Colour', 'Style', 'Stage', 'Wire'],
      right: [3, 6],
      mono: [0, 1, 2, 7],
      rows: [...laid]
        .sort((a, b) => compareNatural(a.net, b.net) || compareNatural(a.from, b.from))
        .map((wire) => [
          wire.net,
          wire.from,
          wire.to,
          `${wire.cutMm} mm`,
          `${wireName(wire.colour)} (${wire.colour})`,
          wire.lead === undefined ? wire.style : `${wire.style}, ${wire.lead}`,
          String(wire.stage),
          wire.id,
        ]),
    },
  ];
}

function cutSheet(input: BookInput): Block[] {
  if (input.plan === undefined) return [];
  const list = cuttingList(input.plan.steps);
  const leads = leadsToMake(input.plan.steps);
  return [
    { kind: 'section', id: 'cut', title: 'Cut sheet' },
    {
      kind: 'table',
      head: ['Colour', 'Cut', 'Pieces'],
      right: [1, 2],
      rows: list.rows.map((row) => [`${wireName(row.colour)} (${row.colour})`, `${row.cutMm} mm`, String(row.count)]),
    },
    ...(leads.length === 0
      ? []
      : [
          { kind: 'heading', text: 'Leads to make' } as const,
          {
            kind: 'table',
            head: ['Lead', 'Way', 'Net', 'Colour', 'Cut'],
            right: [1, 4],
            mono: [0, 2],
            rows: leads.flatMap((lead) =>
              lead.ways.map((way, i) => [
                lead.lead,
                String(i + 1),
                way.net,
                `${wireName(way.colour)} (${way.colour})`,
                `${way.cutMm} mm`,
              ]),
            ),
          } as const,
        ]),
  ];
}

/** Days, what was done, the words said: the steps of a day are counted, all else is printed. */
function journal(input: BookInput): Block[] {
  if (input.records.length === 0) return [];
  const out: Block[] = [{ kind: 'section', id: 'journal', title: 'Journal' }];
  const days = new Map<string, JournalRecord[]>();
  for (const record of input.records)
    days.set(record.time.slice(0, 10), [...(days.get(record.time.slice(0, 10)) ?? []), record]);
  for (const [day, records] of days) {
    const done = records.filter((record) => record.act === 'done').length;
    const undone = records.filter((record) => record.act === 'undo').length;
    out.push({ kind: 'heading', text: day });
    const counts = [
      done === 0 ? '' : `${done} ${done === 1 ? 'step' : 'steps'} done`,
      undone === 0 ? '' : `${undone} taken back`,
    ].filter((text) => text !== '');
    if (counts.length > 0) out.push(paragraph(`${counts.join(', ')}.`));
    const told = records.filter((record) => record.act !== 'done' && record.act !== 'undo' && record.act !== 'open');
    if (told.length > 0)
      out.push({
        kind: 'list',
        items: told.map((record) => ({
          lines: [
            [
              { text: record.time.slice(11, 16), style: 'code' },
              say(` ${record.act}${record.stage === undefined ? '' : `, ${record.stage}`}: `),
              say(toldOf(record)),
            ],
          ],
        })),
      });
    for (const record of records)
      if (record.act === 'photo' && record.file !== undefined)
        out.push({ kind: 'photo', file: record.file, caption: record.text ?? '' });
  }
  return out;
}

function toldOf(record: JournalRecord): string {
  const { measured } = record;
  if (measured !== undefined)
    return `${record.text ?? measured.expected}: ${measured.found}${measured.pass ? '' : ', not as expected'}`;
  if (record.act === 'power') return record.on === true ? 'on' : 'off';
  return record.text ?? '';
}

function labels(input: BookInput): Block[] {
  const made = chipLabels(netlistAt(input.design, input.design.stages.length));
  if (made.length === 0) return [];
  return [
    { kind: 'section', id: 'labels', title: 'Chip labels at true scale' },
    paragraph(
      'Print at 100 %, without fitting to the page; measure the first one against a chip before you cut them all. Pin 1 is at the cut corner.',
    ),
    { kind: 'labels', labels: made },
  ];
}
