export { machineJsonSchema } from './json-schema.ts';
export type * from './model.ts';
export type { MachineFiles, ReadOptions } from './read.ts';
export { MAIN_FILE, readMachine, SHIPPED } from './read.ts';
export { ONLY_STAGE } from './resolve.ts';
export type { MachineFile } from './schema.ts';
export { BlockFileSchema, IncludedFileSchema, MACHINE_FORMAT, MachineFileSchema } from './schema.ts';
export type { PinText } from './words.ts';
export { expandRange, rangeLength, splitPin } from './words.ts';
