// Slips as edits of the boards.

export { type Bench, type BenchPin, type BenchProbe, type BenchWire, makeBench, probeOf } from './bench.ts';
export { bothEdits, type DeviceFault, type Edit, type Nodes, nodesOf, signatureOf } from './edit.ts';
export { classShares, FAULT_CLASSES, type FaultClass, type FaultHistory, historyOf } from './priors.ts';
export { type Fault, makeFaults, type Place, type UniverseOptions } from './universe.ts';
