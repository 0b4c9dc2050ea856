// What bring-up is given for a stage: the boards with what stands in their holes, the machine as it is meant, and what its parts
// hold; slips are edits of the former, run on the latter.

import { type Finding, foldName, hasErrors, parseValue } from '../base/index.ts';
import {
  type Bench,
  type Edit,
  makeBench,
  planTrials,
  type TrialPlan,
  type UniverseOptions,
} from '../bringup/index.ts';
import { fitImage, readImage } from '../format/image/index.ts';
import { netlistAt } from '../netlist/index.ts';
import { buildCircuit } from '../sim/index.ts';
import type { Build } from './build.ts';
import { simInput } from './sim-input.ts';
import { imagesOf } from './images.ts';

export interface BringupInput {
  readonly bench: Bench;
  readonly plan: TrialPlan;
  /** Bytes by name of image, for memories that hold something else by mistake. */
  readonly images: ReadonlyMap<string, Uint8Array>;
  readonly otherImages: ReadonlyMap<string, readonly string[]>;
  /** What earlier stages put in for a time and should be out. */
  readonly leftIn: NonNullable<UniverseOptions['leftIn']>;
  readonly findings: readonly Finding[];
}

/** Undefined where nothing is laid yet. Kept by the project until a file changes. */
export function bringupInput(build: Build, stage: number): BringupInput | undefined {
  const layout = build.layout().value;
  const design = build.design();
  if (layout === undefined) return undefined;
  return build.project.memo(`bring-up ${build.name} ${stage}`, [layout, design], () => {
    const netlist = netlistAt(design, stage);
    const bench = makeBench(layout, netlist);
    const own = imagesOf(build, stage);
    const input = simInput(build, stage, { from: 'netlist', images: own.images });
    const circuit = buildCircuit(input.netlist, input.contents);
    const images = new Map<string, Uint8Array>();
    const otherImages = new Map<string, string[]>();
    // What the same part holds at another stage is what it holds by mistake.
    for (const info of design.stages) {
      for (const [part, bytes] of imagesOf(build, info.number).images) {
        const mine = own.images.get(part);
        if (mine === undefined || mine.every((byte, k) => byte === bytes[k])) continue;
        const name = `what stage ${info.number} puts in it`;
        const list = otherImages.get(part) ?? [];
        if (list.some((other) => images.get(`${part} ${other}`)?.every((byte, k) => byte === bytes[k]))) continue;
        otherImages.set(part, [...list, name]);
        images.set(`${part} ${name}`, bytes);
      }
    }
    for (const path of build.project.paths().filter((name) => /\.(?:hex|s19)$/i.test(name))) {
      const bytes = Uint8Array.from(build.project.text(path)!, (character) => character.charCodeAt(0) & 0xff);
      const read = readImage(bytes, path);
      if (hasErrors(read.findings)) continue;
      for (const [part, mine] of own.images) {
        const { value } = fitImage(read.value, { address: 0, size: mine.length }, path);
        if (mine.every((byte, k) => byte === value[k])) continue;
        otherImages.set(part, [...(otherImages.get(part) ?? []), path]);
        images.set(`${part} ${path}`, value);
      }
    }
    return {
      bench,
      plan: planTrials(bench, circuit.value, input.netlist, input.contents),
      images,
      otherImages: new Map([...otherImages].map(([part, list]) => [part, list.map((name) => `${part} ${name}`)])),
      leftIn: leftIn(build, bench, stage),
      findings: [...own.findings, ...input.findings, ...circuit.findings],
    };
  });
}

/** Parts and wires of earlier stages that are out by now, as edits that leave them in. */
function leftIn(build: Build, bench: Bench, stage: number): NonNullable<UniverseOptions['leftIn']> {
  const { layout } = bench;
  const design = build.design();
  const isPast = (item: { readonly stage: number; readonly until: number | undefined }): boolean =>
    item.until !== undefined && item.stage < stage && item.until <= stage;
  const found: { text: string; key: string; edit: Edit; holes: string[] }[] = [];
  for (const placed of layout.parts.filter(isPast)) {
    const part = netlistAt(design, placed.stage).parts.find(({ name }) => foldName(name) === foldName(placed.part));
    const ohms = part?.value === undefined ? undefined : parseValue(part.value, 'resistance');
    const [a, b] = placed.leads;
    if (part?.record.symbol !== 'resistor' || a === undefined || b === undefined) continue;
    found.push({
      text: `${placed.part}, of an earlier stage,`,
      key: `part ${placed.part}`,
      edit: { resistors: [[bench.strip(a.hole), bench.strip(b.hole), ohms ?? 10e3]] },
      holes: [a.hole, b.hole],
    });
  }
  for (const wire of layout.wires.filter(isPast))
    found.push({
      text: `The wire ${wire.net} from ${wire.from} to ${wire.to}, of an earlier stage,`,
      key: `wire ${wire.id}`,
      edit: { bridges: [[bench.strip(wire.from), bench.strip(wire.to)]] },
      holes: [wire.from, wire.to],
    });
  return found;
}
