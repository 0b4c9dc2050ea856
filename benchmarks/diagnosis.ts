// Faults drawn by prior on two Z80 machines, captured by the independent source, diagnosed; strict counts with Wilson bounds.
// RUNS: captures for each machine and stage (default 6); SEED: the first seed; GOOD: captures of correct machines; LATE: without
// reset; ROWS: a file that gets one line of JSON for each.

import { appendFileSync } from 'node:fs';
import { canCapture } from './bringup-source/index.ts';
import { capture, diagnose, percent, type Row, type Setting, settingOf } from './diagnosis-support/run.ts';

const number = (name: string, otherwise: number): number => Number(process.env[name] ?? otherwise);
const runs = number('RUNS', 6);
const seed = number('SEED', 1);
const good = number('GOOD', 2);
const clocks = number('CLOCKS', 4000);
const isLate = process.env.LATE === '1';
const wanted = (process.env.MACHINES ?? 'tide-clerk:6,light-keeper:4,tide-clerk:4').split(',');

if (!canCapture()) process.stdout.write('diagnosis: no IEEE 1364 simulator (iverilog) here, nothing measured\n');
else {
  const rows: Row[] = [];
  const settings: Setting[] = wanted.map((text) => {
    const [name, stage] = text.split(':');
    return settingOf(name!, Number(stage));
  });
  let right = 0;
  let lost = 0;
  for (const setting of settings) {
    const about = `${setting.name} stage ${setting.stage}`;
    for (let k = 0; k < runs; k++) {
      const run = capture(setting, seed + k, 'draw', { clocks, late: isLate });
      if (!run.made.alters) continue;
      if (run.observed === undefined) {
        lost++;
        continue;
      }
      const { row, diagnosis } = diagnose(setting, seed + k, run, [run.observed]);
      rows.push(row);
      if (process.env.ROWS !== undefined)
        appendFileSync(process.env.ROWS, `${JSON.stringify({ ...row, top: diagnosis.groups[0]?.faults[0]?.text })}\n`);
    }
    for (let k = 0; k < good; k++) {
      const run = capture(setting, seed + 500_000 + k, 'none', { clocks, late: isLate });
      if (run.observed === undefined) continue;
      const { row } = diagnose(setting, seed + 500_000 + k, run, [run.observed]);
      if (row.verdict === 'correct') right++;
      if (process.env.ROWS !== undefined) appendFileSync(process.env.ROWS, `${JSON.stringify(row)}\n`);
    }
    process.stdout.write(`diagnosis ${about}: ${setting.faults.length} faults\n`);
  }
  const n = rows.length;
  const withReset = rows.filter((row) => row.withReset);
  for (const [name, list] of [
    ['all visible', rows],
    ['reset in the capture', withReset],
  ] as const) {
    const count = (fits: (row: Row) => boolean): string => percent(list.filter(fits).length, list.length);
    process.stdout.write(
      `${name}: first ${count(({ group }) => group === 0)}; first three ${count(({ group }) => group >= 0 && group < 3)}; first ten ${count(({ group }) => group >= 0 && group < 10)}; called correct ${count(({ verdict }) => verdict === 'correct')}\n`,
    );
    process.stdout.write(
      `  by single place: first ${count(({ place }) => place === 0)}; first three ${count(({ place }) => place >= 0 && place < 3)}; first ten ${count(({ place }) => place >= 0 && place < 10)}\n`,
    );
  }
  process.stdout.write(
    `lost captures ${lost}; correct machines called correct ${percent(right, good * settings.length)}\n`,
  );
  const times = rows.map(({ cpuMs }) => cpuMs).sort((a, b) => a - b);
  process.stdout.write(
    `processor time, one core: median ${Math.round(times[n >> 1] ?? 0)} ms, 95th percentile ${Math.round(times[Math.floor(n * 0.95)] ?? 0)} ms\n`,
  );
}
