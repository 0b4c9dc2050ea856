export type { DecodeCode } from './codes.ts';
export { DECODE_CODES } from './codes.ts';
export type { Cover, Cube } from './cover.ts';
export type { DeviceName } from './devices.ts';
export { findDevice } from './devices.ts';
export type { Explained, ExplainedOutput, Literal, Term } from './explain.ts';
export { explainFuses } from './explain.ts';
export type { Minimised, MinimiseInput } from './minimise.ts';
export { minimise } from './minimise.ts';
export type { Compiled, CompiledOutput, PinUse } from './compile.ts';
export { compileDevice, differenceText, proveFile } from './compile.ts';
export type { PinTie } from './fit.ts';
export type { Difference, Proof } from './prove.ts';
export type { DeviceRequest, NamedCover, WantedInput, WantedOutput } from './request.ts';
export type { DeviceState, PinLevel, VectorFailure, VectorOptions, VectorRun } from './vectors.ts';
export { clock, powerUp, runVectors, settle } from './vectors.ts';
export type {
  AddressPlan,
  AddressRange,
  AddressSpace,
  GroupIntent,
  SelectIntent,
} from './address-plan.ts';
export { blocksOf, planAt } from './address-plan.ts';
export type { MapCheck, MapDifference } from './check-map.ts';
export { checkMap } from './check-map.ts';
export type { CompiledPlan, PlanDevice, ProvedPlan } from './compile-plan.ts';
export { compilePlan, describeAddress, provePlan } from './compile-plan.ts';
export type { PlanFunctions } from './intent.ts';
export { planFunctions } from './intent.ts';
export type { MapAnswer, MapReport, MapSegment } from './map-report.ts';
export { mapReport } from './map-report.ts';
export type { ExplainedFile } from './explain-file.ts';
export { explainFile } from './explain-file.ts';
export type { DeviceTask } from './design-request.ts';
export { deviceTask } from './design-request.ts';
export type { DiscreteDesign, DiscreteFigures, DiscreteType, DiscreteUnit } from './discrete.ts';
export { discreteSelects } from './discrete.ts';
export { enableFormula, levelFormula, sumFormula } from './equations.ts';
export type { DesignMap, ReadDevice } from './design-map.ts';
export { designMap } from './design-map.ts';
export type { VerilogOptions } from './verilog.ts';
export { deviceVerilog } from './verilog.ts';
export { divideOutputs } from './divide.ts';
