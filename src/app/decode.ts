// Programmable devices of a design, compiled: a fuse file for each revision (the stages in which the same functions are asked
// of a device), proved by the decoder engine against map and formulas before anybody may see it.

import { contentId, type Finding, foldName, hasErrors } from '../base/index.ts';
import {
  type AddressPlan,
  type AddressRange,
  type AddressSpace,
  blocksOf,
  type CompiledPlan,
  compilePlan,
  type DeviceName,
  findDevice,
  type PlanDevice,
  planFunctions,
  proveFile,
  type SelectIntent,
  type WantedInput,
  type WantedOutput,
} from '../decode/index.ts';
import type { Machine, NameRef } from '../machine/index.ts';
import type { Design, DeviceOutput, DevicePlan } from '../netlist/index.ts';
import type { Library, PartRecord } from '../parts/index.ts';

/** One revision of one device's fuses. */
export interface Revision {
  readonly part: string;
  readonly device: DeviceName;
  /** From 1, in order of stages. */
  readonly number: number;
  /** The stages in which it holds: from `stage` until (not including) `until`. */
  readonly stage: number;
  readonly until: number | undefined;
  /** File name without folder: `SEL-r2.jed`. */
  readonly file: string;
  /** Undefined where it could not be compiled, or where the builder brings a file; the findings say why. */
  readonly result: CompiledPlan | undefined;
  /** The builder's own file, and whether it was proved to do what is asked. */
  readonly own: { readonly file: string; readonly isProved: boolean } | undefined;
  readonly nets: ReadonlyMap<number, string>;
}

const inAt = (item: { readonly stage: number; readonly until: number | undefined }, stage: number): boolean =>
  item.stage <= stage && (item.until === undefined || stage < item.until);

/**
 * Every revision of every programmable device: compiled, or where the machine brings its own file, that file proved. `text`
 * gives the text of a file of the project.
 */
export function compileDevices(
  design: Design,
  library: Library,
  machine: Machine,
  text: (path: string) => string | undefined,
): { readonly revisions: readonly Revision[]; readonly findings: readonly Finding[] } {
  const revisions: Revision[] = [];
  const findings: Finding[] = [];
  for (const plan of design.devices) {
    const record = library.find(plan.type)?.record;
    const device = record === undefined || record.category !== 'logic-device' ? undefined : findDevice(record.part);
    if (record === undefined || device === undefined || plan.outputs.length === 0) continue;
    let last: { key: string; revision: Revision } | undefined;
    const presence = design.netlists.map((netlist) =>
      netlist.parts.some((part) => foldName(part.name) === foldName(plan.part)),
    );
    for (const { number: stage } of design.stages) {
      const outputs = plan.outputs.filter((output) => inAt(output, stage));
      if (presence[stage] !== true || outputs.length === 0) continue;
      const key = contentId(
        JSON.stringify(
          outputs.map((output) => [
            output.net,
            output.pin,
            output.formula,
            output.select?.when,
            output.select?.regions.filter((region) => inAt(region, stage)).map((region) => [region.at, region.bytes]),
          ]),
        ),
        10,
      );
      if (last !== undefined && last.key === key) continue;
      const number = revisions.filter((revision) => revision.part === plan.part).length + 1;
      if (last !== undefined) revisions[revisions.indexOf(last.revision)] = { ...last.revision, until: stage };
      const own = machine.parts.find((part) => foldName(part.name) === foldName(plan.part))?.uses;
      const request = revisionRequest(design, plan, record, device, outputs, stage, number);
      const proved = own === undefined ? undefined : proveOwn(request, own, text(own.name));
      const compiled = proved ?? compilePlan(request.plan, request.device);
      findings.push(
        ...compiled.findings.map(
          (finding): Finding => ({ ...finding, stage, about: [...(finding.about ?? []), plan.part] }),
        ),
      );
      const nets = new Map(
        [...plan.inputs, ...outputs].map(
          (use) => [record.pins.find((row) => row.name === use.pin)?.number ?? 0, use.net] as const,
        ),
      );
      const revision: Revision = {
        part: plan.part,
        device: device,
        number,
        stage,
        until: undefined,
        file: `${plan.part}-r${number}.jed`,
        result: proved === undefined ? (compiled.value as CompiledPlan | undefined) : undefined,
        own: own === undefined ? undefined : { file: own.name, isProved: proved?.value === true },
        nets,
      };
      revisions.push(revision);
      last = { key, revision };
    }
  }
  return { revisions, findings };
}

function revisionRequest(
  design: Design,
  plan: DevicePlan,
  record: PartRecord,
  device: DeviceName,
  outputs: readonly DeviceOutput[],
  stage: number,
  number: number,
): { readonly plan: AddressPlan; readonly device: PlanDevice } {
  const pinNumber = (name: string): number => record.pins.find((row) => row.name === name)?.number ?? 0;
  const part = design.netlists[stage]?.parts.find((candidate) => foldName(candidate.name) === foldName(plan.part));
  const inputs: WantedInput[] = plan.inputs.map((input) => ({ name: input.net, pin: pinNumber(input.pin) }));
  const wanted: WantedOutput[] = outputs
    .filter((output) => output.select === undefined)
    .map((output) => ({
      name: output.net,
      pin: pinNumber(output.pin),
      formula: output.formula ?? '0',
      ...(output.clock === undefined ? {} : { registered: true }),
      ...(output.enable === undefined ? {} : { enable: output.enable }),
      ...(output.origin.span === undefined ? {} : { span: output.origin.span }),
    }));
  const sequential = outputs.find((output) => output.clock !== undefined);
  const span = part?.origin.span;
  const wantedDevice: PlanDevice = {
    device,
    ...(part?.grade === undefined ? {} : { grade: part.grade }),
    title: `${design.name}, ${plan.part}, revision ${number}, from stage ${stage}`,
    inputs,
    outputs: wanted,
    ...(sequential?.clock === undefined ? {} : { clock: sequential.clock }),
    ...(sequential?.reset === undefined ? {} : { reset: sequential.reset }),
    ...(sequential?.preset === undefined ? {} : { preset: sequential.preset }),
    ...(span === undefined ? {} : { span }),
  };
  return { plan: addressPlan(plan, outputs, stage, pinNumber), device: wantedDevice };
}

/** A builder's own fuse file, held against what the map and the formulas ask of the device. */
function proveOwn(
  request: { readonly plan: AddressPlan; readonly device: PlanDevice },
  own: NameRef,
  text: string | undefined,
): { readonly value: boolean; readonly findings: readonly Finding[] } {
  if (text === undefined) {
    return {
      value: false,
      findings: [
        {
          code: 'app/no-own-file',
          severity: 'error',
          message: `There is no ${own.name}.`,
          where: [own.span],
          notes: [],
          help: 'Put the fuse file there, or leave `uses` out and let one be made.',
        },
      ],
    };
  }
  const functions = planFunctions(request.plan);
  if (functions.value === undefined) return { value: false, findings: functions.findings };
  const bytes = Uint8Array.from(text, (character) => character.charCodeAt(0) & 0xff);
  const { outputs = [], ...rest } = request.device;
  const proof = proveFile({ ...rest, outputs: [...functions.value.outputs, ...outputs] }, bytes, own.name);
  const findings = [...functions.findings, ...proof.findings];
  return { value: proof.value !== undefined && !hasErrors(findings), findings };
}

/** The condition of a select: the cycle in brackets, then whatever the part needs besides. */
function splitWhen(when: string): { cycle: string; strobe: string } {
  const match = /^\(([^()]*)\)(?: & (.+))?$/.exec(when);
  return match === null ? { cycle: '', strobe: when } : { cycle: match[1]!, strobe: match[2] ?? '' };
}

function addressPlan(
  plan: DevicePlan,
  outputs: readonly DeviceOutput[],
  stage: number,
  pinNumber: (name: string) => number,
): AddressPlan {
  const selects: SelectIntent[] = [];
  const spaces = new Map<'memory' | 'ports', AddressSpace>();
  const given = new Set(plan.inputs.map((input) => foldName(input.net)));
  let dropped = false;
  for (const output of outputs) {
    const { select } = output;
    if (select === undefined) continue;
    const space = select.regions[0]!.space;
    const lines = select.address;
    const lowest = Math.max(
      0,
      lines.findIndex((line) => given.has(foldName(line))),
    );
    const { cycle, strobe } = splitWhen(select.when);
    const known = spaces.get(space);
    const shared = known === undefined || known.cycle === cycle || (known.cycle === undefined && cycle === '');
    if (known === undefined)
      spaces.set(space, { name: space, lines, ...(lowest > 0 ? { lowest } : {}), ...(cycle === '' ? {} : { cycle }) });
    // A line that a full decode would look at, and that has no pin on the device: mirrors follow.
    const needed = Math.min(
      ...select.regions.flatMap((region) => blocksOf(region.at, region.bytes).map((block) => block.bytes)),
    );
    dropped ||= lines.some((line, bit) => 2 ** bit >= needed && bit > lowest && !given.has(foldName(line)));
    const step = 2 ** lowest;
    const ranges = select.regions
      .filter((region) => inAt(region, stage))
      .map((region): AddressRange => {
        // A part smaller than the lowest line looked at is seen repeatedly within one step of that line.
        const at = Math.floor(region.at / step) * step;
        const bytes = Math.ceil((region.at + region.bytes) / step) * step - at;
        return {
          space,
          at,
          bytes,
          ...(region.decl.when === undefined ? {} : { when: region.decl.when.name }),
          ...(region.decl.mirrors === undefined ? {} : { mirrors: region.decl.mirrors }),
          span: region.decl.span,
        };
      });
    const condition = [shared ? '' : cycle, strobe]
      .filter((text) => text !== '')
      .map((text) => `(${text})`)
      .join(' & ');
    selects.push({
      part: select.part,
      net: output.net,
      activeLow: select.activeLow,
      pin: pinNumber(output.pin),
      ranges,
      ...(condition === '' ? {} : { strobe: condition }),
      ...(output.origin.span === undefined ? {} : { span: output.origin.span }),
    });
  }
  return { spaces: [...spaces.values()], selects, ...(dropped ? { mirrors: 'allowed' as const } : {}) };
}

/** The revision of a part's fuses as of a stage. */
export function revisionAt(revisions: readonly Revision[], part: string, stage: number): Revision | undefined {
  return revisions.find((revision) => foldName(revision.part) === foldName(part) && inAt(revision, stage));
}
