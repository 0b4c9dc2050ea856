// Programmable devices of a design, compiled: a fuse file for each revision (the stages in which the same functions are asked
// of a device), proved by the decoder engine against map and formulas before anybody may see it.

import { contentId, type Finding, foldName, hasErrors } from '../base/index.ts';
import {
  type CompiledPlan,
  compilePlan,
  type DesignMap,
  designMap,
  type DeviceName,
  deviceTask,
  findDevice,
  type ProvedPlan,
  provePlan,
} from '../decode/index.ts';
import type { Machine, NameRef } from '../machine/index.ts';
import type { Design, DeviceOutput } from '../netlist/index.ts';
import type { Library } from '../parts/index.ts';

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
  readonly own:
    | { readonly file: string; readonly isProved: boolean; readonly result: ProvedPlan | undefined }
    | undefined;
  /** Nets by pin number. */
  readonly nets: ReadonlyMap<number, string>;
}

const inAt = (item: { readonly stage: number; readonly until: number | undefined }, stage: number): boolean =>
  item.stage <= stage && (item.until === undefined || stage < item.until);

/** What tells one revision from another: the functions asked of the device as of a stage. */
function functionsKey(outputs: readonly DeviceOutput[], stage: number): string {
  const asked = outputs.map((output) => [
    output.net,
    output.pin,
    output.formula,
    output.clock,
    output.enable,
    output.reset,
    output.preset,
    output.select?.when,
    output.select?.regions
      .filter((region) => inAt(region, stage))
      .map((region) => [region.at, region.bytes, region.decl.when?.name]),
  ]);
  return contentId(JSON.stringify(asked), 10);
}

/** What a programmer shows of a device: its part and revision, the part's name cut where both are too long. */
function signatureOf(part: string, revision: number): string {
  const end = ` r${revision}`;
  return `${part.slice(0, 8 - end.length)}${end}`.padEnd(8);
}

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
    const device = findDevice(plan.type);
    if (record === undefined || record.category !== 'logic-device' || device === undefined) continue;
    const own = machine.parts.find((part) => foldName(part.name) === foldName(plan.part))?.uses;
    let last: { key: string; at: number } | undefined;
    let number = 0;
    for (const { number: stage } of design.stages) {
      const outputs = plan.outputs.filter((output) => inAt(output, stage));
      const task = deviceTask(design, plan, stage);
      if (task.value === undefined) continue;
      const key = functionsKey(outputs, stage);
      if (last?.key === key) continue;
      if (last !== undefined) revisions[last.at] = { ...revisions[last.at]!, until: stage };
      number++;
      const made =
        own === undefined
          ? compilePlan(task.value.plan, { ...task.value.device, signature: signatureOf(plan.part, number) })
          : proveOwn(task.value, own, text(own.name));
      for (const finding of [...task.findings, ...made.findings]) {
        findings.push({ ...finding, stage, about: [...new Set([...(finding.about ?? []), plan.part])] });
      }
      last = { key, at: revisions.length };
      revisions.push({
        part: plan.part,
        device,
        number,
        stage,
        until: undefined,
        file: `${plan.part}-r${number}.jed`,
        result: own === undefined ? (made.value as CompiledPlan | undefined) : undefined,
        own:
          own === undefined
            ? undefined
            : {
                file: own.name,
                isProved: made.value !== undefined && !hasErrors(made.findings),
                result: made.value as ProvedPlan | undefined,
              },
        nets: new Map(
          [...plan.inputs, ...outputs].map((use) => [
            record.pins.find((row) => row.name === use.pin)?.number ?? 0,
            use.net,
          ]),
        ),
      });
    }
  }
  return { revisions, findings };
}

/** A builder's own fuse file, held against what the map and the formulas ask of the device. */
function proveOwn(
  task: NonNullable<ReturnType<typeof deviceTask>['value']>,
  own: NameRef,
  text: string | undefined,
): { readonly value: ProvedPlan | undefined; readonly findings: readonly Finding[] } {
  if (text === undefined) {
    return {
      value: undefined,
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
  const bytes = Uint8Array.from(text, (character) => character.charCodeAt(0) & 0xff);
  const proved = provePlan(task.plan, task.device, bytes, own.name);
  return proved;
}

/** The map of the machine as of a stage, as its devices make it by the files read back. */
export function mapAt(design: Design, revisions: readonly Revision[], stage: number): DesignMap | undefined {
  return designMap(design, stage, (part) => {
    const revision = revisionAt(revisions, part, stage);
    const explained = revision?.result?.compiled.explained ?? revision?.own?.result?.explained;
    return revision === undefined || explained === undefined
      ? undefined
      : { outputs: explained.outputs, nets: revision.nets };
  });
}

/** The revision of a part's fuses as of a stage. */
export function revisionAt(revisions: readonly Revision[], part: string, stage: number): Revision | undefined {
  return revisions.find((revision) => foldName(revision.part) === foldName(part) && inAt(revision, stage));
}
