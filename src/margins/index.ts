export type { Band, DriveLevel } from './levels.ts';
export {
  drive,
  fanOut,
  highLevel,
  highThresholdAt,
  lowLevel,
  lowThreshold,
  noiseMargins,
  UNIT_LOAD,
  unitLoads,
} from './levels.ts';
export type { DriverLoad, LampLoad, LevelRow, NetLoading } from './loading.ts';
export { addedDelay, bandOf, loadingOf, outputOhms, STRAY } from './loading.ts';
export type { FigureSource, MarginOptions, NetWiring, Wiring } from './model.ts';
export type { PartCurrent, StageCurrent } from './supply.ts';
export { currentAt, currentOf } from './supply.ts';
