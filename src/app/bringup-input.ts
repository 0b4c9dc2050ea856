// What bring-up is given for a stage: the boards with what stands in their holes, the machine as it is meant, and what its parts
// hold; slips are edits of the former, run on the latter.

import type { Finding } from '../base/index.ts';
import { type Bench, makeBench, planTrials, type TrialPlan } from '../bringup/index.ts';
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
    return {
      bench,
      plan: planTrials(bench, circuit.value, input.netlist, input.contents),
      images,
      otherImages: new Map([...otherImages].map(([part, list]) => [part, list.map((name) => `${part} ${name}`)])),
      findings: [...own.findings, ...input.findings, ...circuit.findings],
    };
  });
}
