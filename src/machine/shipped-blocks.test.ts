import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { parse } from 'yaml';
import { readFiles } from '../../tests/support/machine-files.ts';
import { expandRange } from './index.ts';

const FOLDER = 'data/blocks';
const names = readdirSync(FOLDER).map((file) => file.slice(0, -'.yaml'.length));

interface BlockFile {
  readonly block: string;
  readonly joins?: Readonly<Record<string, string | { readonly default?: string }>>;
  readonly parts?: object;
}

test.each(names)('the shipped block %s reads cleanly, once and copied, with its connections joined', (name) => {
  const text = readFileSync(`${FOLDER}/${name}.yaml`, 'utf8');
  const block = parse(text) as BlockFile;
  expect(block.block).toBe(name);
  const joins = Object.keys(block.joins ?? {}).flatMap((join) => expandRange(join));
  // Each copy on nets of its own: nothing of two copies may meet.
  const join = joins.map((one) => `${JSON.stringify(one)}: net-${one.replaceAll('/', 'not-')}-of-#`).join(', ');
  const main = `machine: m
supplies: { main: { volts: 5 V } }
blocks: { ONE: { use: ${name}, join: { ${join} }, copies: 2 } }
`;
  const { value, shown } = readFiles({ 'machine.yaml': main, [`shipped:blocks/${name}.yaml`]: text });
  expect(shown).toEqual([]);
  expect(value.parts.length).toBe(2 * Object.keys(block.parts ?? {}).length);
  const netsOf = (copy: string): Set<string> =>
    new Set([
      ...value.parts.filter((part) => part.block === copy).flatMap((part) => part.pins.flatMap((pin) => pin.net ?? [])),
      ...value.nets.filter((net) => net.pins.some((pin) => pin.part.startsWith(copy))).map((net) => net.name),
    ]);
  const second = netsOf('ONE2');
  expect([...netsOf('ONE1')].filter((net) => second.has(net) && net !== 'GND' && net !== 'main')).toEqual([]);
});
