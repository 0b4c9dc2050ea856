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
export { addedDelay, bandOf, lampsOf, loadingOf, outputOhms, STRAY } from './loading.ts';
export type { FigureSource, MarginOptions, NetWiring, Wiring } from './model.ts';
export type { PartCurrent, StageCurrent } from './supply.ts';
export { currentAt, currentOf } from './supply.ts';
export type { Affine } from './bus-timing/affine.ts';
export { at, shortestPeriod } from './bus-timing/affine.ts';
export type { ClockEdge, ClockModel } from './bus-timing/clock-model.ts';
export { clockSymbols, dutyClock, edgeGap } from './bus-timing/clock-model.ts';
export { formulaOf, printedFormula } from './bus-timing/printed-formula.ts';
export type { PathStep, TimingRow } from './bus-timing/row.ts';
export type { BusTiming, FasterPart, TimingOptions } from './bus-timing/timing.ts';
export { busTiming } from './bus-timing/timing.ts';
export type { CycleWaves, WaveEdge, WaveLane } from './bus-timing/waves.ts';
export { cycleWaves } from './bus-timing/waves.ts';
export { MARGINS_CODES } from './codes.ts';
export { THIN_NS } from './findings.ts';
export type { Margins, MarginsOptions } from './margins.ts';
export { margins } from './margins.ts';
export type { Break, SupervisorMargin } from './what-breaks-first.ts';
export { fallingSupply, leastSupply, risingClock, slowPart, supervisorMargin, symptomOf } from './what-breaks-first.ts';
export {
  bitRate,
  crystalCapacitors,
  crystalSeriesLimit,
  divided,
  feedbackClock,
  halfBitTolerance,
  rateError,
  receiverTolerance,
  resetDelay,
  serialFits,
  writePulseWithOutputsOn,
} from './clocks.ts';
export type { Conductor, Network, Solver } from './linear.ts';
export { prepareNetwork, solveNetwork } from './linear.ts';
export {
  capacitiveCrosstalk,
  criticalLength,
  groundBounce,
  inductiveCrosstalk,
  loopInductance,
  MM_PER_NS,
  mutualInductance,
  ringing,
  wireCapacitance,
  wireInductance,
} from './signals.ts';
export type {
  ChipVolts,
  FeedPlace,
  RailChip,
  RailFeed,
  RailPlace,
  RailReading,
  RailWiring,
  Suspect,
  SuspectOptions,
  Worse,
} from './rails.ts';
export {
  explainReadings,
  lowestVolts,
  proposeFeeds,
  RAIL_OHM,
  railProfile,
  railVolts,
  suspectContacts,
} from './rails.ts';
export type { ChipSupply, ContactSuspect, FedChip, FeedHoles, SupplyDrop, SupplyWiring } from './drop.ts';
export { badContacts, DROP_SHARE, dropAlong, supplyDrops, withCurrents } from './drop.ts';
export type { Rate } from './rates.ts';
export { ratesOf } from './rates.ts';
export type { ClockReport, ClockRow, CrystalRow, SerialRate, SerialRow } from './serial.ts';
export { clockReport, OTHER_END, serialRates, USUAL_RATES } from './serial.ts';
export type { ChipRow, CrosstalkRow, EdgeRow, SignalReport, WireFacts } from './signal-report.ts';
export {
  BULK_UF_PER_AMP,
  bounce,
  BYPASS_MM,
  DIP_VOLTS,
  FORMULAS,
  LEAD_NH,
  signalReport,
  USUAL_DRIVE,
  WIRE_MM,
} from './signal-report.ts';
export type { DisplayTimes } from './workings.ts';
export {
  accessTime,
  bytesPerSecond,
  cycleTime,
  displayTimes,
  ofUnitLoads,
  refreshSpacing,
  serviceClocks,
  slewRate,
  timeTaken,
  waitsFor,
} from './workings.ts';
