// `decode`: the memory map to fuse files; `explain`: a fuse file to equations.

import type { Finding } from '../../base/index.ts';
import { explainFuses, findDevice, type ExplainedOutput, type MapReport, type Term } from '../../decode/index.ts';
import { readJesd3 } from '../../format/jesd3/index.ts';
import { formatHex } from '../../base/index.ts';
import type { Build } from '../build.ts';
import { revisionAt } from '../decode.ts';
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

/** A sum of products in the operators of IEEE 1364, over net names where they are known. */
function sumText(terms: readonly Term[], name: (pin: number) => string): string {
  if (terms.length === 0) return '0';
  return terms
    .map((term) =>
      term.length === 0
        ? '1'
        : term.map((literal) => `${literal.level === 1 ? '' : '~'}${name(literal.pin)}`).join(' & '),
    )
    .join(' | ');
}

function equation(output: ExplainedOutput, name: (pin: number) => string): string {
  const sum = sumText(output.terms, name);
  const value = output.activeLow ? `~(${sum})` : sum;
  const enable =
    output.enable === true
      ? ''
      : output.enable === false
        ? ', never driven'
        : `, driven while ${sumText(output.enable, name)}`;
  return `${name(output.pin)} ${output.registered ? '<=' : '='} ${value}${enable}`;
}

export function mapText(map: MapReport): string {
  return map.spaces
    .map((space) => {
      const digits = space.size > 256 ? 4 : 2;
      const rows = space.segments.map((segment) => [
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
      return `${space.name}\n${textTable(rows, '  ')}`;
    })
    .join('\n');
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
      own: revision.own ?? null,
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
      vectors: revision.result?.compiled.vectors ?? null,
    };
  });
  const fixed = design.devices.filter((plan) => !parts.includes(plan.part) && plan.outputs.length > 0);
  const text = [
    ...shown.flatMap((revision) => {
      const result = revision.result;
      if (revision.own !== undefined)
        return [
          `${revision.part} (${revision.device}) uses ${revision.own.file}: ${revision.own.isProved ? 'proved equal to map and formulas' : 'NOT proved; see below'}`,
        ];
      if (result === undefined) return [`${revision.part}: could not be compiled; see below.`];
      const name = (pin: number): string => revision.nets.get(pin) ?? `pin ${pin}`;
      return [
        `${revision.part} (${revision.device}, ${result.compiled.mode}), revision ${revision.number} from stage ${revision.stage}: ${options.out}/${revision.file}, sum ${result.compiled.checksum.toString(16).toUpperCase().padStart(4, '0')}, ${result.compiled.vectors.count} vectors, proved equal to map and formulas`,
        ...result.compiled.outputs.map(
          (output) =>
            `  ${String(output.pin).padStart(2)}  ${equation(output, name)}${output.isProvedMinimal ? '' : '   (not proved minimal)'}`,
        ),
      ];
    }),
    ...fixed.map(
      (plan) =>
        `${plan.part} (${plan.type}): ${plan.outputs.map((output) => `${output.net} at ${output.pin}`).join(', ')}; nothing to program`,
    ),
    ...shown.flatMap((revision) => (revision.result === undefined ? [] : ['', mapText(revision.result.map)])),
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
      map: shown[0]?.result?.map ?? null,
    },
    findings,
    effects,
    text,
  };
}

/** Reads a fuse file of `device` and lists what it does. */
export function explainVerb(file: string, bytes: Uint8Array, device: string): VerbResult {
  const found = findDevice(device);
  if (found === undefined)
    return refuse(
      'explain/unknown-device',
      `${device} is no device that is known here.`,
      'Devices: 16V8, 20V8, 22V10.',
    );
  const reading = readJesd3(bytes, file);
  const span = { file, start: 0, end: Math.min(1, bytes.length) };
  const explained = explainFuses(reading.value.fuses, found, span);
  const findings = [...reading.findings, ...explained.findings];
  if (explained.value === undefined) return { value: null, findings, text: '', refused: true };
  const name = (pin: number): string => `p${pin}`;
  return {
    value: {
      device: found,
      mode: explained.value.mode,
      outputs: explained.value.outputs.map(outputValue),
      fuses: explained.value.fuses,
      clockPin: explained.value.clockPin ?? null,
      reset: explained.value.reset,
      preset: explained.value.preset,
      signature: explained.value.signature ?? null,
    },
    findings,
    text: [
      `${found}, ${explained.value.mode}, ${explained.value.fuses} fuses; pN is the level at pin N`,
      ...explained.value.outputs.map((output) => `  ${equation(output, name)}`),
    ].join('\n'),
  };
}
