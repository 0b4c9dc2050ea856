export type { Library, ResolvedType } from './library.ts';
export { createLibrary } from './library.ts';
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
