// The shape of stock.yaml: what a builder has, and what is on its way.

import { Type } from 'typebox';

const count = Type.Optional(Type.Integer({ minimum: 0, maximum: 100000 }));

export const StockSchema = Type.Object(
  {
    stock: Type.Optional(
      Type.Array(
        Type.Object(
          {
            type: Type.String({
              minLength: 1,
              description: 'As in the machine file, such as 74HCT574. Quote numbers: "62256".',
            }),
            grade: Type.Optional(Type.String({ description: 'As in the record, such as 70 ns.' })),
            value: Type.Optional(Type.String({ description: 'Of resistors and the like: 10 kohm.' })),
            have: count,
            coming: count,
            place: Type.Optional(Type.String({ description: 'Where it lies: a drawer, a box.' })),
            note: Type.Optional(Type.String()),
          },
          { additionalProperties: false, description: 'One kind of part.' },
        ),
      ),
    ),
    instead: Type.Optional(
      Type.Array(
        Type.Object(
          {
            part: Type.String({ minLength: 1, description: 'The part of the machine, by name.' }),
            type: Type.String({ minLength: 1, description: 'The type that this build puts in its place.' }),
            grade: Type.Optional(Type.String({ description: 'Its grade.' })),
            value: Type.Optional(Type.String({ description: 'Its value.' })),
            why: Type.Optional(Type.String({ description: 'For the record.' })),
          },
          { additionalProperties: false },
        ),
        { description: 'Parts that this build makes of another type than the machine file says.' },
      ),
    ),
  },
  { additionalProperties: false, $id: 'proofboard-stock-1', title: 'Proofboard stock' },
);
