export type { Jesd3Code } from './codes.ts';
export { JESD3_CODES } from './codes.ts';
export type { Checksum, FuseFile, FuseVector } from './model.ts';
export { fuseChecksum } from './model.ts';
export { readJesd3 } from './read.ts';
export type { FuseFileText } from './write.ts';
export { writeJesd3 } from './write.ts';
