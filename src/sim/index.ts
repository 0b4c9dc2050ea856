export type {
  Disassembly,
  FlatRun,
  FlatRunner,
  ProcessorTools,
  VectorCase,
  VectorOptions,
  VectorRunner,
  Z80Inputs,
  Z80Options,
  Z80Pins,
} from './processors/index.ts';
export {
  disassembleZ80,
  PROCESSORS,
  Z80,
  Z80_ACTION,
  Z80_PHASES,
  z80BeginAt,
  z80Commit,
  z80Drive,
  z80PowerUp,
  z80Step,
} from './processors/index.ts';
export { buildCircuit } from './circuit/build.ts';
export type { Circuit, CircuitLamp, CircuitPart, CircuitSource } from './circuit/circuit.ts';
export { type FaultPin, faultCircuit, type SimFault } from './circuit/faults.ts';
export { SIM_CODES, type SimCode } from './codes.ts';
export type { Kernel, SimNews } from './kernel.ts';
export type {
  SimContents,
  SimLevel,
  SimLiteral,
  SimLogic,
  SimLogicOutput,
  SimNet,
  SimNetlist,
  SimPart,
  SimPinRef,
} from './model.ts';
export { CompiledKernel, type Snapshot } from './compiled/kernel.ts';
export { PlainKernel } from './plain/kernel.ts';
export { type FirstChanges, firstChanges, type MeasuredNet, measureNets } from './measure.ts';
export { byteAt as memoryByte, type ProofFacts, type SelfTestEnds } from './proof-facts.ts';
export { processorNets } from './proof-terms.ts';
export {
  type ProofOptions,
  type ProofOutcome,
  proofWatch,
  resetNs,
  runProof,
  type SimProof,
  type SimTerm,
} from './proofs.ts';
export { digitsText, displays, isLit, lightOver } from './readouts.ts';
export { BAUD_RATES, nearestBaud, readSerial, type SerialEdge } from './serial.ts';
export { type SavedSession, Session, type SessionOptions, type SimChange } from './session.ts';
export { levelOf, valueOfLevel } from './values.ts';
export { type VerilogOptions, type VerilogText, writeVerilog } from './verilog/write.ts';
