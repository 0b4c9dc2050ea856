export { YAML_CODES } from './codes.ts';
export type { Path, SchemaReading } from './read.ts';
export { readYaml } from './read.ts';
