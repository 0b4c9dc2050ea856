// Captures laid on the machine: channels told, half clocks found, predicted and captured compared, bus cycles read.

export { type AlignOptions, alignCapture, LEAST_SAMPLES } from './align.ts';
export { BRINGUP_CAPTURE_CODES, type BringupCaptureCode } from './codes.ts';
export {
  type Comparison,
  commonNets,
  compareTraces,
  findPlace,
  type NetComparison,
  type TracePlace,
} from './compare.ts';
export {
  type BusCycle,
  type BusNets,
  type BusReading,
  type CycleKind,
  type CycleNet,
  hexWith,
  type ReadInstruction,
  readBus,
} from './cycles.ts';
export { type Lead, type MatchOptions, matchChannels, type ToldChannel } from './match.ts';
export { bareName, netsNamed, runningNumbers } from './names.ts';
export { type PredictOptions, predictTrace } from './predict.ts';
export { matchByShape } from './shape.ts';
