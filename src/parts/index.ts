export type { Assignment, Behaviour, BehaviourProblem, BehaviourReading, OutputRule } from './behaviour.ts';
export { expandBehaviour, readBehaviour } from './behaviour.ts';
export { PARTS_CODES } from './codes.ts';
export { leadNumbers } from './check-record.ts';
export type { PartState, PinDrive, PinLevels, PlainPart } from './evaluate.ts';
export { plainPart } from './evaluate.ts';
export type { FiguresPage, PartFigure, PartWithTables, Sureness } from './figures-page.ts';
export { figuresOf, printFiguresPage, SURENESS, surenessOf } from './figures-page.ts';
export type { Influence } from './influences.ts';
export { influences } from './influences.ts';
export type { Library, ResolvedType } from './library.ts';
export { createLibrary } from './library.ts';
export { expandPins, expandRange, expandTimes, pinNames, pinsNamed } from './pin-names.ts';
export { checkLibrary, readFamily, readPart } from './read.ts';
export type {
  FamilyRecord,
  InputFigures,
  OutputFigures,
  PartBehaviour,
  PartBusRole,
  PartFreedom,
  PartGrade,
  PartPackage,
  PartPinRow,
  PartRecord,
  PartTie,
  PartUnit,
  PinKind,
  TimingArc,
} from './record.ts';
export { FamilySchema, PartRecordSchema, PIN_KINDS } from './record.ts';
export type { SecondPin, SecondTable } from './second.ts';
export { compareTables, readSecond } from './second.ts';
export type { FigureChoice } from './figures.ts';
export { gradeOf, highThreshold, inputFigures, lightHigh, outputFigures } from './figures.ts';
