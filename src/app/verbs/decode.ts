// `decode`: the memory map to fuse files; `explain`: a fuse file to equations.

import { type Finding, formatHex, printFormula } from '../../base/index.ts';
import {
  type ExplainedOutput,
  enableFormula,
  explainFile,
  findDevice,
  levelFormula,
  type MapReport,
} from '../../decode/index.ts';
import { type Design, netlistAt } from '../../netlist/index.ts';
import type { Build } from '../build.ts';
import { mapAt, revisionAt } from '../decode.ts';
import { discreteForm, discreteText } from '../discrete.ts';
import { textTable } from '../table.ts';
import { type Effect, refuse, type VerbResult } from '../verb.ts';

/** An output as the contract lists it. */
function outputValue(output: ExplainedOutput): object {
  return {
    pin: output.pin,
    registered: output.registered,
    activeLow: output.activeLow,
    enable: output.enable,
    terms: output.terms,
  };
}

/** An output as an equation of nets. */
export function equation(output: ExplainedOutput, name: (pin: number) => string): string {
  const enable = enableFormula(output, name);
  const driven = enable === undefined ? '' : `, driven while ${printFormula(enable)}`;
  return `${name(output.pin)} ${output.registered ? '<=' : '='} ${printFormula(levelFormula(output, name)).replace(/^~~/, '')}${driven}`;
}

/** The map as lines: who answers where. */
export function mapText(map: MapReport): string {
  return map.spaces
    .map((space) => {
      const digits = space.size > 256 ? 4 : 2;
      const rows = space.segments
        .filter((segment) => segment.from < space.period)
        .map((segment) => [
          `${formatHex(segment.from, digits)} to ${formatHex(segment.to, digits)}`,
          segment.state === 'gap'
            ? 'nobody'
            : segment.answers
                .map(
                  (answer) =>
                    `${answer.part}${answer.is === 'mirror' ? ' (mirror)' : ''}${answer.when === undefined ? '' : ` when ${answer.when}`}`,
                )
                .join(' and '),
          segment.state === 'double' ? 'two answer' : '',
        ]);
      if (space.period < space.size)
        rows.push([
          `${formatHex(space.period, digits)} to ${formatHex(space.size - 1, digits)}`,
          `the same again, every ${formatHex(space.period, digits)}`,
          '',
        ]);
      return `${space.name}\n${textTable(rows, '  ')}`;
    })
    .join('\n');
}

/** Where the processors of a stage read or start by themselves, and who answers there. */
function vectorsOf(
  design: Design,
  map: MapReport | undefined,
  stage: number,
): { name: string; at: number; bytes: number; parts: string[] }[] {
  const segments = map?.spaces.find((space) => space.name === 'memory')?.segments ?? [];
  return netlistAt(design, stage).parts.flatMap((part) =>
    (part.record.bus?.role === 'processor' ? (part.record.bus.vectors ?? []) : []).map(({ name, at, bytes }) => {
      const here = segments.filter((segment) => segment.from < at + bytes && at <= segment.to);
      return {
        name,
        at,
        bytes,
        parts: [...new Set(here.flatMap((segment) => segment.answers.map((answer) => answer.part)))],
      };
    }),
  );
}

/** Compiles the devices as of a stage and writes their fuse files under `out`. */
export function decodeVerb(
  build: Build,
  options: {
    readonly stage: number;
    readonly out: string /** The files are there already. */;
    readonly written?: boolean;
  },
): VerbResult {
  const compiled = build.devices();
  const design = build.design();
  const parts = [...new Set(compiled.revisions.map((revision) => revision.part))];
  const shown = parts
    .map((part) => revisionAt(compiled.revisions, part, options.stage))
    .filter((revision) => revision !== undefined);
  const findings: Finding[] = [
    ...build.project.findings(),
    ...compiled.findings.filter((finding) => (finding.stage ?? 1) <= options.stage),
  ];
  const effects: Effect[] = [];
  const forms = new Map(
    shown.map((revision) => [
      revision.part,
      discreteForm(
        design,
        build.machine().value,
        build.project.library().value,
        revision.part,
        options.stage,
        Math.max(1, ...(revision.result?.compiled.outputs ?? []).map((output) => output.passes)),
      ),
    ]),
  );
  const devices = shown.map((revision) => {
    const jed = `${options.out}/${revision.file}`;
    if (revision.result !== undefined && options.written !== true)
      effects.push({ kind: 'write', path: jed, text: revision.result.compiled.text });
    return {
      part: revision.part,
      device: revision.device,
      revision: revision.number,
      stage: revision.stage,
      jed: revision.result === undefined ? null : jed,
      own: revision.own === undefined ? null : { file: revision.own.file, isProved: revision.own.isProved },
      mode: revision.result?.compiled.mode ?? null,
      checksum:
        revision.result === undefined
          ? null
          : revision.result.compiled.checksum.toString(16).toUpperCase().padStart(4, '0'),
      outputs: (revision.result?.compiled.outputs ?? []).map((output) => ({
        ...outputValue(output),
        net: revision.nets.get(output.pin) ?? null,
        provedMinimal: output.isProvedMinimal,
      })),
      inputs: [...revision.nets]
        .filter(([pin]) => !(revision.result?.compiled.outputs ?? []).some((output) => output.pin === pin))
        .map(([pin, net]) => ({ pin, net })),
      signature: revision.result?.compiled.explained.signature ?? revision.own?.result?.explained.signature ?? null,
      vectors: revision.result?.compiled.vectors ?? null,
      discrete: forms.get(revision.part) ?? null,
    };
  });
  const holds = (output: { readonly stage: number; readonly until: number | undefined }): boolean =>
    output.stage <= options.stage && (output.until === undefined || options.stage < output.until);
  const fixed = design.devices
    .filter((plan) => !parts.includes(plan.part))
    .map((plan) => ({ ...plan, outputs: plan.outputs.filter(holds) }))
    .filter((plan) => plan.outputs.length > 0);
  const map = mapAt(design, compiled.revisions, options.stage)?.report;
  const vectors = vectorsOf(design, map, options.stage);
  const text = [
    ...shown.flatMap((revision) => {
      const result = revision.result;
      if (revision.own !== undefined)
        return [
          `${revision.part} (${revision.device}) uses ${revision.own.file}: ${revision.own.isProved ? 'proved equal to map and formulas' : 'NOT proved; see below'}`,
        ];
      if (result === undefined) return [`${revision.part}: could not be compiled; see below.`];
      const name = (pin: number): string => revision.nets.get(pin) ?? `pin ${pin}`;
      const form = forms.get(revision.part);
      return [
        `${revision.part} (${revision.device}, ${result.compiled.mode}), revision ${revision.number} from stage ${revision.stage}: ${options.out}/${revision.file}, sum ${result.compiled.checksum.toString(16).toUpperCase().padStart(4, '0')}, signature “${(result.compiled.explained.signature ?? '').trimEnd()}”, ${result.compiled.vectors.count} vectors, proved equal to map and formulas`,
        ...result.compiled.outputs.map(
          (output) =>
            `  ${String(output.pin).padStart(2)}  ${equation(output, name)}${output.isProvedMinimal ? '' : '   (not proved minimal)'}`,
        ),
        ...(form === undefined ? [] : [`  ${discreteText(form, revision.device)}`]),
      ];
    }),
    ...fixed.map(
      (plan) =>
        `${plan.part} (${plan.type}): ${plan.outputs.map((output) => `${output.net} at ${output.pin}`).join(', ')}; nothing to program`,
    ),
    ...(map === undefined ? [] : ['', mapText(map)]),
    ...vectors.map(
      (vector, k) =>
        `${k === 0 ? 'vectors\n' : ''}  ${formatHex(vector.at, 4)}  ${vector.name}, ${vector.bytes} ${vector.bytes === 1 ? 'byte' : 'bytes'}: ${vector.parts.join(' and ') || 'nobody answers'}`,
    ),
  ].join('\n');
  return {
    value: {
      devices,
      fixed: fixed.map((plan) => ({
        part: plan.part,
        type: plan.type,
        inputs: plan.inputs,
        outputs: plan.outputs.map((output) => ({ pin: output.pin, net: output.net })),
      })),
      map: map ?? null,
      vectors,
    },
    findings,
    effects,
    text,
  };
}

/** Reads a fuse file of `device` and lists what it does; its own vectors are run against its fuses. */
export function explainVerb(file: string, bytes: Uint8Array, device: string): VerbResult {
  const found = findDevice(device);
  if (found === undefined) {
    return refuse(
      'explain/unknown-device',
      `${device} is no device that is known here.`,
      'Devices: 16V8, 20V8, 22V10.',
    );
  }
  const reading = explainFile(bytes, found, file);
  if (reading.value === undefined) return { value: null, findings: reading.findings, text: '', refused: true };
  const { explained } = reading.value;
  const name = (pin: number): string => `p${pin}`;
  return {
    value: {
      device: found,
      mode: explained.mode,
      outputs: explained.outputs.map(outputValue),
      fuses: explained.fuses,
      clockPin: explained.clockPin ?? null,
      reset: explained.reset,
      preset: explained.preset,
      signature: explained.signature ?? null,
    },
    findings: reading.findings,
    text: [
      `${found}, ${explained.mode}, ${explained.fuses} fuses; pN is the level at pin N`,
      ...explained.outputs.map((output) => `  ${equation(output, name)}`),
    ].join('\n'),
  };
}
