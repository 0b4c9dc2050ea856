import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { machineJsonSchema } from './index.ts';
import { BlockFileSchema, IncludedFileSchema, MachineFileSchema } from './schema.ts';

test('the shipped JSON Schema is the one that the code makes', () => {
  const shipped = readFileSync('data/schema/machine.schema.json', 'utf8');
  expect(shipped).toBe(`${JSON.stringify(machineJsonSchema(), null, 2)}\n`);
});

test('sections that stand once are the same in every kind of file', () => {
  const shared = (key: string): Set<string> =>
    new Set(
      [MachineFileSchema, IncludedFileSchema, BlockFileSchema].flatMap((schema) => {
        const section = (schema.properties as Record<string, unknown>)[key];
        return section === undefined ? [] : [JSON.stringify(section)];
      }),
    );
  const { definitions } = machineJsonSchema() as { definitions: object };
  const sections = Object.keys(definitions).filter((key) => key !== 'included' && key !== 'block');
  expect(sections.length).toBeGreaterThan(12);
  for (const key of sections) expect(shared(key).size, key).toBe(1);
});

test('every key has a description', () => {
  const bare: string[] = [];
  const walk = (schema: unknown, path: string): void => {
    if (typeof schema !== 'object' || schema === null) return;
    const properties = (schema as { properties?: Record<string, { description?: string; $ref?: string }> }).properties;
    for (const [key, value] of Object.entries(properties ?? {})) {
      if (value.description === undefined && value.$ref === undefined) bare.push(`${path}/${key}`);
    }
    for (const [key, value] of Object.entries(schema)) walk(value, `${path}/${key}`);
  };
  walk(machineJsonSchema(), '');
  expect(bare).toEqual([]);
});
