export type { Served } from './serve.ts';
export { servePage } from './serve.ts';
