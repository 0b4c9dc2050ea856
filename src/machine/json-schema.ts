// The JSON Schema of the machine file, as shipped in data/schema for editors. Plain data, made from the one definition.

import { BlockFileSchema, IncludedFileSchema, MachineFileSchema } from './schema.ts';

const DIALECT = 'http://json-schema.org/draft-07/schema#';

/** The schema of the main file as plain JSON (draft 07). Included files and blocks stand under `definitions`. */
export function machineJsonSchema(): unknown {
  const plain = (schema: unknown): Record<string, unknown> => JSON.parse(JSON.stringify(schema)) as never;
  return {
    $schema: DIALECT,
    title: 'Machine file',
    ...plain(MachineFileSchema),
    definitions: { included: plain(IncludedFileSchema), block: plain(BlockFileSchema) },
  };
}
