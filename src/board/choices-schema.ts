// The schema of boards.yaml, the one definition of what may stand there.

import { type Static, Type } from 'typebox';

const closed = { additionalProperties: false } as const;
const Hole = Type.String({ description: 'A hole: board, column, row such as 2:34e, or on a rail 2:t+31.' });
const Rotation = Type.Union([Type.Literal(0), Type.Literal(90), Type.Literal(180), Type.Literal(270)], {
  description: 'Degrees counter-clockwise; at 0 a DIP has pin 1 lower left.',
});

export const BoardsFileSchema = Type.Object(
  {
    format: Type.Optional(Type.Literal(1)),
    boards: Type.Optional(
      Type.Object(
        {
          kind: Type.Optional(
            Type.String({ description: 'full, half, mini, terminal, single or bus; full unless said.' }),
          ),
          across: Type.Optional(Type.Integer({ minimum: 1, maximum: 30 })),
          down: Type.Optional(Type.Integer({ minimum: 1, maximum: 30 })),
          list: Type.Optional(
            Type.Array(
              Type.Object(
                {
                  kind: Type.String({ description: 'full, half, mini, terminal, single or bus.' }),
                  column: Type.Integer({ minimum: 1, maximum: 30 }),
                  row: Type.Integer({ minimum: 1, maximum: 60 }),
                },
                closed,
              ),
              { description: 'Boards one by one, in the order of their numbers, where they are not all alike.' },
            ),
          ),
        },
        { ...closed, description: 'Which boards and how they lie; the tool chooses what is not said.' },
      ),
    ),
    places: Type.Optional(
      Type.Record(
        Type.String(),
        Type.Object(
          {
            at: Hole,
            to: Type.Optional(Type.String({ description: 'Two-lead parts: the hole of the second lead.' })),
            rotation: Type.Optional(Rotation),
          },
          closed,
        ),
        { description: 'Places that stay: part to the hole of its first lead.' },
      ),
    ),
    moved: Type.Optional(
      Type.Array(
        Type.Object(
          {
            part: Type.String(),
            stage: Type.Integer({ minimum: 1, description: 'The number of the stage that moves the part.' }),
            at: Hole,
            to: Type.Optional(Type.String({ description: 'Two-lead parts: the hole of the second lead.' })),
            rotation: Type.Optional(Rotation),
          },
          closed,
        ),
        { description: 'Places that stay, of parts that a stage moves.' },
      ),
    ),
    'keep-clear': Type.Optional(
      Type.Array(Type.Object({ from: Hole, to: Hole, why: Type.Optional(Type.String()) }, closed), {
        description: 'Rectangles between two holes in which nothing is put.',
      }),
    ),
    forbidden: Type.Optional(Type.Array(Hole, { description: 'Holes that are worn or otherwise not to be used.' })),
    supplies: Type.Optional(
      Type.Record(Type.String(), Type.Object({ plus: Hole, ground: Hole }, closed), {
        description: 'Where each supply enters.',
      }),
    ),
    rails: Type.Optional(
      Type.Record(Type.String(), Type.String(), {
        description: 'Rails that carry another net than usual: any hole of the segment to the name of the net.',
      }),
    ),
    wires: Type.Optional(
      Type.Array(Type.Object({ net: Type.String(), from: Hole, to: Hole }, closed), {
        description: 'Wires that are to run so.',
      }),
    ),
    exchange: Type.Optional(
      Type.Array(Type.Union([Type.Literal('pins'), Type.Literal('images'), Type.Literal('fuses')]), {
        description:
          'Freedoms of part records that the layout may use to shorten wire: pins that nothing else depends on, memory pins whose image must follow, logic-device pins whose fuses must follow.',
      }),
    ),
    cutting: Type.Optional(
      Type.Object(
        {
          slack: Type.Optional(
            Type.Number({ minimum: 0, maximum: 100, description: 'mm added to every wire; 2 unless said.' }),
          ),
          round: Type.Optional(
            Type.Number({
              minimum: 1,
              maximum: 100,
              description: 'Lengths are rounded up to multiples of this many mm; 5 unless said.',
            }),
          ),
        },
        closed,
      ),
    ),
  },
  { ...closed, $id: 'proofboard-boards-1', title: "Proofboard boards.yaml: the builder's layout choices" },
);

export type BoardsFile = Static<typeof BoardsFileSchema>;
