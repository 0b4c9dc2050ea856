// The JSON Schema of the machine file, as shipped in data/schema for editors. Plain data, made from the one definition.

import { BlockFileSchema, IncludedFileSchema, MachineFileSchema } from './schema.ts';

const DIALECT = 'http://json-schema.org/draft-07/schema#';

type Plain = Record<string, unknown>;

/**
 * The schema of the main file as plain JSON (draft 07). Sections stand once, under `definitions`, beside `included` and
 * `block`, the schemas of included files and of blocks.
 */
export function machineJsonSchema(): Plain {
  const definitions: Plain = {};
  const plain = (schema: unknown): Plain => {
    const whole = JSON.parse(JSON.stringify(schema)) as Plain & { properties: Plain };
    for (const [key, section] of Object.entries(whole.properties)) {
      if (typeof section !== 'object' || section === null || !('type' in section)) continue;
      if (section.type !== 'object' && section.type !== 'array') continue;
      // The three kinds of file share their sections; a section of one name is the same in each.
      definitions[key] ??= section;
      whole.properties[key] = { $ref: `#/definitions/${key}` };
    }
    return whole;
  };
  const main = plain(MachineFileSchema);
  const included = plain(IncludedFileSchema);
  const block = plain(BlockFileSchema);
  return { $schema: DIALECT, title: 'Machine file', ...main, definitions: { ...definitions, included, block } };
}
