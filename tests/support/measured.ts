// A machine on the bench that something may be wrong with: a demo project with wires taken out of its layout, run by the simulator
// with contents of RAM of its own and floating inputs that read one level, sampled and spoiled.

import { Build, netlistAt } from '../../src/app/index.ts';
import { captureSetting, runStage } from '../../src/app/capture.ts';
import { imagesOf } from '../../src/app/images.ts';
import { simInput } from '../../src/app/sim-input.ts';
import type { Capture } from '../../src/bringup/index.ts';
import { buildCircuit } from '../../src/sim/index.ts';
import { demoProject } from './demo.ts';
import { type Spoil, spoiled } from './spoil.ts';

export interface MeasuredOptions extends Spoil {
  readonly stage: number;
  readonly nets: readonly string[];
  /** Names of the channels; the nets' unless said. */
  readonly names?: readonly string[];
  readonly halfClocks?: number;
  /** Ids of wires that are not there. */
  readonly without?: readonly string[];
  /** Ids of two wires whose second ends are exchanged. */
  readonly exchanged?: readonly [string, string];
}

/** A capture of the demo project `name`. */
export function measured(name: string, options: MeasuredOptions): Capture {
  const project = demoProject(name);
  const own = new Build(project, 'first');
  const layout = JSON.parse(project.text(own.layoutPath)!) as { wires: { id: string; to: string }[] };
  const wires = layout.wires.filter((wire) => !(options.without ?? []).includes(wire.id));
  const [a, b] = (options.exchanged ?? []).map((id) => wires.find((wire) => wire.id === id));
  if (a !== undefined && b !== undefined) [a.to, b.to] = [b.to, a.to];
  project.setText(own.layoutPath, JSON.stringify({ ...layout, wires }));
  const build = new Build(project, 'first');
  const setting = captureSetting(build, options.stage);
  const floating = options.floating ?? 1;
  const input = simInput(build, options.stage, { images: imagesOf(build, options.stage).images, floating });
  const made = buildCircuit(input.netlist, input.contents).value;
  // A probe is on the strip of the processor's pin, whatever hangs on that strip now.
  const meant = netlistAt(build.design(), options.stage);
  const processor = meant.parts.findIndex((part) => part.record.category === 'processor');
  const names = made.nets.map((net) => `${net} elsewhere`);
  for (const net of [...options.nets, setting.clock!, setting.reset!.net]) {
    const pins = meant.nets.find((one) => one.name === net)!.pins.map((id) => meant.pins[id]!);
    const pin = pins.find((one) => one.part === processor) ?? pins[0]!;
    names[made.netOfPin.get(pin.part * 256 + pin.number)!] = net;
  }
  const circuit = { ...made, nets: names };
  const trace = runStage(
    { ...setting, circuit, contents: input.contents },
    options.nets,
    options.halfClocks ?? 8000,
    77 + options.seed,
  )!;
  return spoiled(trace, options.nets, setting.clock!, options, options.names ?? options.nets);
}

/** Ids of the wires of a net in the demo's layout, up to a stage. */
export function wiresOf(name: string, net: string, stage: number): string[] {
  const project = demoProject(name);
  const layout = JSON.parse(project.text('builds/first/layout.json')!) as {
    wires: { id: string; net: string; stage: number; lead?: string }[];
  };
  // The ways of a pod's lead carry nothing for the machine.
  return layout.wires
    .filter((wire) => wire.net === net && wire.stage <= stage && wire.lead === undefined)
    .map(({ id }) => id);
}
