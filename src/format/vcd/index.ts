export { type VcdChange, type VcdDump, type VcdSignal, writeVcd } from './write.ts';
