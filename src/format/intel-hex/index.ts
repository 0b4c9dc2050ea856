export { readIntelHex } from './read.ts';
export { writeIntelHex } from './write.ts';
