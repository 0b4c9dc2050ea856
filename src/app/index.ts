export {
  busNets,
  type CaptureReading,
  type CaptureSetting,
  captureSetting,
  channelsPath,
  type MeasuringPoint,
  measuringPoints,
  predictedBus,
  predictStage,
  printChannels,
  readStageCapture,
  toldChannels,
} from './capture.ts';
export type { ToldChannel } from '../bringup/index.ts';
export { CaptureReader, type Capture, type CaptureOptions } from '../format/capture/index.ts';
export { Build, buildNames, chooseBuild } from './build.ts';
export { MachineRun, type RunHand, type RunPin, type RunRegister, type RunStep, type RunView } from './machine-run.ts';
export { imagesOf as stageImages } from './images.ts';
export { simInput as stageMachine } from './sim-input.ts';
export { stageStates } from './stage-states.ts';
export { MACHINE_FINDING_CODES, WAIVER_CODES } from './codes.ts';
export { countFindings, findingToJson, findingToText, type JsonFinding, type JsonPlace, Places } from './findings.ts';
export { Project, type Shipped } from './project.ts';
export { type Effect, refuse, type VerbResult } from './verb.ts';
export { type BookInput, type Paper, renderPdf } from '../book/index.ts';
export { bookInputOf, bookVerb, pageOf } from './verbs/book.ts';
export { cardVerb, overVerb, proofsVerb, readingVerb, touchVerb, whereVerb } from './verbs/bench.ts';
export { failedVerb, journalVerb, mendedVerb, renamedVerb, wordVerb } from './verbs/journal.ts';
export { checkVerb } from './verbs/check.ts';
export { compileDevices, mapAt, type Revision, revisionAt } from './decode.ts';
export { decodeVerb, explainVerb } from './verbs/decode.ts';
export { imageVerb } from './verbs/image.ts';
export { layVerb } from './verbs/lay.ts';
export {
  type CycleAsk,
  cyclesOf,
  cycleSvg,
  type MarginsAsk,
  marginsOf,
  type MeterRow,
  meterRows,
  meterWords,
  railSvg,
  supplyWiring,
} from './margins.ts';
export { wireFactsOf } from './wire-facts.ts';
export { cycleVerb, marginsVerb, measuredVerb } from './verbs/margins.ts';
export { netlistVerb } from './verbs/netlist.ts';
export { type ProbesOptions, probesVerb } from './verbs/probes.ts';
export { foundFaultEntry, guidedSession, prepareStage, stageFaults } from './guided.ts';
export { partsVerb } from './verbs/parts.ts';
export { type CaptureFile, type DiagnoseOptions, diagnoseVerb } from './verbs/diagnose.ts';
export { Guide } from './guide.ts';
export { diagnoseStage, type StageDiagnosis } from './diagnose.ts';
export { expectVerb, runVerb, type RunOptions } from './verbs/sim.ts';
export { type WalkOptions, type WalkRow, walkVerb } from './verbs/walk.ts';
export { shoppingVerb } from './verbs/shopping.ts';
export { doneVerb, progressValue, stepsVerb, undoVerb, wrongVerb } from './verbs/steps.ts';
export { readMachine } from '../machine/index.ts';
export {
  type PowerCard,
  powerCard,
  type Touch,
  planTouches,
  suspectsOf,
  touchEntry,
  touchStates,
  whereWasI,
  appendText,
  type Built,
  colourWord,
  cuttingList,
  effectiveRecords,
  type JournalEntry,
  type JournalRecord,
  lastAct,
  leadsToMake,
  markDone,
  mendsBy,
  type Step,
  type StepEnd,
  type StepPlan,
  undoLast,
  wordEntry,
  wrongEntries,
} from '../stage/index.ts';
export { type ChoiceEdit, editChoices, type Layout, layoutAt, printLayout, rewire, type Wire } from '../board/index.ts';
export { type Design, type Net, netlistAt, type NetPart } from '../netlist/index.ts';
export { editMap, type MapDecl, type MapEdit, machineJsonSchema } from '../machine/index.ts';
export type { Substitute } from './verbs/shopping.ts';
export { type ExplainedOutput, enableFormula, levelFormula, type MapReport } from '../decode/index.ts';
export { type DiscreteForm, discreteForm, discreteText } from './discrete.ts';
