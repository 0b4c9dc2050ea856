// All margins of a machine: loading, levels, supply and timing of its last stage, for machines of some 10 to 200 chips. Prints the
// median in processor time, garbage collection included; the first run, with nothing worked out before, beside it.

import { readFileSync } from 'node:fs';
import { Build, marginsOf, Project, supplyWiring, wireFactsOf } from '../src/app/index.ts';
import { busTiming, loadingOf, margins, signalReport, supplyDrops } from '../src/margins/index.ts';
import { bigMachine } from './support/big-machine.ts';
import { readShipped } from './support/library.ts';

const shipped = readShipped();
const now = (): number => process.cpuUsage().user / 1000;
const median = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1]!;
const show = (ms: number): string => ms.toFixed(1).padStart(7);

process.stdout.write('chips    pins   rows   first  median   of it loading   timing   with advice (ms)\n');
for (const chains of [0, 4, 9, 18, 37]) {
  const project = new Project(shipped, new Map([['machine.yaml', bigMachine(chains)]]));
  const design = project.design().value;
  const options = { families: project.library().value.families, withoutAdvice: true };
  const stage = design.stages.length;
  const netlist = design.netlists[stage]!;
  const chips = netlist.parts.filter((part) => part.record.package.kind === 'dip' && part.implied === undefined).length;
  const timed = (run: () => unknown): number => {
    const start = now();
    run();
    return now() - start;
  };
  const first = timed(() => margins(design, stage, options));
  const repeat = (run: () => unknown): number => median(Array.from({ length: 15 }, () => timed(run)));
  const all = repeat(() => margins(design, stage, options));
  const loading = repeat(() => loadingOf(design, stage, options));
  const timing = repeat(() => busTiming(design, stage, options));
  const advised = repeat(() => margins(design, stage, { families: options.families }));
  const rows = busTiming(design, stage, options).rows.length;
  process.stdout.write(
    `${String(chips).padStart(5)} ${String(netlist.pins.filter((pin) => pin.net >= 0).length).padStart(7)} ${String(rows).padStart(6)} ${show(first)} ${show(all)}         ${show(loading)}  ${show(timing)}       ${show(advised)}\n`,
  );
}

// The shipped builds with their layouts: rails, signals and clocks as well, as the verb works them out.
process.stdout.write('\nbuild            parts  wires   first  median   of it rails  signals (ms)\n');
for (const name of ['tide-clerk', 'signal-box', 'weir-keeper', 'carillon']) {
  const files = new Map([
    ['machine.yaml', readFileSync(`projects/${name}/machine.yaml`, 'utf8')],
    ['builds/first/layout.json', readFileSync(`projects/${name}/builds/first/layout.json`, 'utf8')],
  ]);
  const build = new Build(new Project(shipped, files), 'first');
  const stage = build.design().stages.length;
  const ask = { stage, withoutAdvice: true };
  const timed = (run: () => unknown): number => {
    const start = now();
    run();
    return now() - start;
  };
  const wiring = supplyWiring(build, stage);
  if (wiring === undefined) {
    process.stdout.write(`${name.padEnd(16)} its layout is not this design\n`);
    continue;
  }
  const options = { families: build.project.library().value.families };
  const first = timed(() => marginsOf(build, ask));
  const all = median(Array.from({ length: 15 }, () => timed(() => marginsOf(build, ask))));
  const rails = median(Array.from({ length: 15 }, () => timed(() => supplyDrops(build.design(), wiring, options))));
  const { value } = marginsOf(build, ask);
  const wires = wireFactsOf(build.design(), build.layout().value!, stage);
  const signals = median(
    Array.from({ length: 15 }, () => timed(() => signalReport(build.design(), stage, value.loading, wires, options))),
  );
  process.stdout.write(
    `${name.padEnd(16)} ${String(build.design().netlists[stage]!.parts.length).padStart(5)} ${String(build.layout().value!.wires.length).padStart(6)} ${show(first)} ${show(all)}       ${show(rails)}  ${show(signals)}\n`,
  );
}
