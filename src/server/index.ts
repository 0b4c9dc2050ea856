export { appendJournal } from './journal-file.ts';
export type { Served } from './serve.ts';
export { servePage } from './serve.ts';
