// The independent source of captures: its door.

export { allFaults, drawFault } from './draw.ts';
export type { LayoutFile, SourceFault } from './boards.ts';
export { pldModule } from './fuses.ts';
export { readProject } from './project.ts';
export { type Requests, runRequests } from './requests.ts';
export { failingVectors, type Vector } from './vectors.ts';
export {
  type CaptureOptions,
  canCapture,
  type MadeCapture,
  makeCapture,
  probeHole,
  type SourceMachine,
} from './source.ts';
