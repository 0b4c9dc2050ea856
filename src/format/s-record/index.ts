export { readSRecord } from './read.ts';
export { writeSRecord } from './write.ts';
