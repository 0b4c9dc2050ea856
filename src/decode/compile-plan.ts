// A decoder from its address plan, in one step: functions, device, proof against the plan, and the map that results.

import { type Finding, foldName, formatHex, hasErrors, type Result } from '../base/index.ts';
import type { AddressPlan, AddressSpace } from './address-plan.ts';
import { checkMap, type MapCheck } from './check-map.ts';
import { type Compiled, compileDevice, proveFile } from './compile.ts';
import type { FuseFile } from '../format/jesd3/index.ts';
import type { Explained } from './explain.ts';
import { explainFile } from './explain-file.ts';
import { planFunctions } from './intent.ts';
import { type MapReport, mapReport } from './map-report.ts';
import type { Proof } from './prove.ts';
import type { DeviceRequest, WantedOutput } from './request.ts';
import { runVectors, type VectorRun } from './vectors.ts';

/** What the device does beside the plan. Where inputs are given they are all there are. */
export interface PlanDevice extends Omit<DeviceRequest, 'outputs' | 'visit'> {
  /** Outputs that are no selects. */
  readonly outputs?: readonly WantedOutput[];
}

export interface CompiledPlan {
  readonly compiled: Compiled;
  readonly map: MapReport;
  /** Undefined where the map has too many combinations to visit each; a finding says so. */
  readonly check: MapCheck | undefined;
}

/** Compiles a plan into one device. */
export function compilePlan(plan: AddressPlan, device: PlanDevice): Result<CompiledPlan | undefined> {
  const { value: functions, findings } = planFunctions(plan);
  const all: Finding[] = [...findings];
  if (functions === undefined || hasErrors(findings)) return { value: undefined, findings: all };
  const { outputs: more = [], ...rest } = device;
  const outputs = [...functions.outputs, ...more];
  const request: DeviceRequest = {
    ...rest,
    outputs,
    visit: functions.visit,
  };
  const made = compileDevice(request);
  all.push(...made.findings.filter((finding) => finding.code !== 'decode/unused-input'));
  if (made.value === undefined) return { value: undefined, findings: all };
  const compiled = made.value;
  const pins = new Map<string, number>();
  for (const pin of compiled.pins) if (pin.name !== undefined) pins.set(pin.name, pin.pin);
  const check = checkMap(plan, compiled.explained, pins);
  all.push(...check.findings);
  if (hasErrors(check.findings)) return { value: undefined, findings: all };
  const netOf = (pin: number): string | undefined => compiled.pins[pin - 1]?.name;
  const map = mapReport(plan, functions, { outputs: compiled.outputs, netOf });
  return { value: { compiled, map, check: check.value }, findings: all };
}

export interface ProvedPlan {
  readonly proof: Proof;
  /** What the file does, its vectors, and what they give. */
  readonly explained: Explained;
  readonly file: FuseFile;
  readonly run: VectorRun;
  readonly check: MapCheck | undefined;
  /** The map that the file makes. */
  readonly map: MapReport;
}

/**
 * The proof for a fuse file that somebody else made: its equations against the plan with every freedom open, who answers at
 * every address, and its own vectors. Every input and output needs its pin.
 */
export function provePlan(
  plan: AddressPlan,
  device: PlanDevice,
  bytes: Uint8Array,
  file: string,
): Result<ProvedPlan | undefined> {
  const { value: functions, findings } = planFunctions(plan);
  const all: Finding[] = [...findings];
  if (functions === undefined) return { value: undefined, findings: all };
  const { outputs: more = [], ...rest } = device;
  const pins = new Map<string, number>();
  for (const { name, pin } of [...(device.inputs ?? []), ...functions.stated, ...more])
    if (pin !== undefined) pins.set(name, pin);
  const [memory] = plan.spaces;
  const describe = memory === undefined ? undefined : describeAddress(memory, pins);
  const request: DeviceRequest = { ...rest, outputs: [...functions.stated, ...more] };
  const proved = proveFile(request, bytes, file, describe === undefined ? {} : { describe });
  all.push(...proved.findings);
  const read = explainFile(bytes, device.device, file).value;
  if (proved.value === undefined || read === undefined) return { value: undefined, findings: all };
  const { explained } = read;
  const run: VectorRun = runVectors(explained, read.file.vectors, {
    ...(read.file.defaultTest === undefined ? {} : { defaultTest: read.file.defaultTest }),
    ...(read.file.pinOrder === undefined ? {} : { pinOrder: read.file.pinOrder }),
    nameOf: (pin) => [...pins].find(([, at]) => at === pin)?.[0],
    ...(describe === undefined ? {} : { describe }),
  }).value;
  const check = checkMap(plan, explained, pins);
  all.push(...check.findings);
  const nets = new Map([...pins].map(([name, pin]) => [pin, name]));
  const outputs = explained.outputs.flatMap((output) => {
    const net = nets.get(output.pin);
    return net === undefined ? [] : [{ ...output, net }];
  });
  const map = mapReport(plan, functions, { outputs, netOf: (pin) => nets.get(pin) });
  return { value: { proof: proved.value, explained, file: read.file, run, check: check.value, map }, findings: all };
}

/** Says which address the driven levels stand for, for messages of failing vectors: `at address 0x8000`. */
export function describeAddress(
  space: AddressSpace,
  pins: ReadonlyMap<string, number>,
): (driven: ReadonlyMap<number, 0 | 1>) => string | undefined {
  const byKey = new Map([...pins].map(([name, pin]) => [foldName(name), pin]));
  const lines = space.lines.map((line) => byKey.get(foldName(line)));
  return (driven) => {
    let address = 0;
    let known = 0;
    for (const [bit, pin] of lines.entries()) {
      const level = pin === undefined ? undefined : driven.get(pin);
      if (level === undefined) continue;
      known++;
      if (level === 1) address += 2 ** bit;
    }
    if (known === 0) return undefined;
    return `at ${space.name === 'ports' ? 'port' : 'address'} ${formatHex(address, space.lines.length > 8 ? 4 : 2)}`;
  };
}
