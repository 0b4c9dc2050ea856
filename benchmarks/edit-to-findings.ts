// From an edit of the machine file to its findings: a generated machine of sixty chips and 1,500 connected pins over eight
// stages; one line changes and everything is read, elaborated and checked again. Prints the first run, then the
// median, in processor time, garbage collection included.

import { Project } from '../src/app/index.ts';
import { bigMachine } from './support/big-machine.ts';
import { readShipped } from './support/library.ts';

const shipped = readShipped();
const runs = 60;
/** Processor time of this process so far: a busy machine changes it little. */
const now = (): number => process.cpuUsage().user / 1000;
const text = bigMachine();
/** The same machine with one wire moved: what a builder changes most. */
const edited = (k: number): string =>
  text
    .replace('1A: slow, 1B: slower', k % 2 === 0 ? '1A: slower, 1B: slow' : '1A: slow, 1B: slower')
    .replace('limit: 3 A', `limit: ${3 + (k % 7) / 10} A`);
const project = new Project(shipped, new Map([['machine.yaml', text]]));
const times: { read: number; elaborate: number; check: number; all: number }[] = [];
let findings = 0;
for (let k = 0; k <= runs; k++) {
  project.setText('machine.yaml', edited(k));
  const start = now();
  project.machine();
  const read = now();
  project.design();
  const elaborated = now();
  findings = project.findings().length;
  const end = now();
  times.push({ read: read - start, elaborate: elaborated - read, check: end - elaborated, all: end - start });
}
const median = (pick: (time: (typeof times)[number]) => number): number => {
  const sorted = times
    .slice(1)
    .map(pick)
    .sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)]!;
};
const netlist = project.design().value.netlists.at(-1)!;
const connected = netlist.pins.filter((pin) => pin.net >= 0).length;
const own = netlist.parts.filter((part) => part.implied === undefined).length;
const ms = (value: number): string => value.toFixed(1);
const all = median((time) => time.all);
process.stdout.write(
  [
    `${own} parts, ${netlist.parts.length - own} implied, ${connected} connected pins, ${project.design().value.stages.length} stages, ${findings} findings`,
    `first run ${ms(times[0]!.all)} ms`,
    `median of ${runs}: ${ms(all)} ms (read ${ms(median((time) => time.read))}, elaborate ${ms(median((time) => time.elaborate))}, check ${ms(median((time) => time.check))}), ${(times[0]!.all / all).toFixed(1)} times faster than the first`,
    `quickest ${ms(Math.min(...times.slice(1).map((time) => time.all)))} ms`,
    '',
  ].join('\n'),
);
