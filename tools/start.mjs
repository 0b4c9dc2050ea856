// npm start: installs and builds what is missing, runs the demo through the whole flow with a summary, then serves it on the
// loopback address. `--once` ends after the summary.

import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { buildMissing, root } from './run.mjs';

buildMissing();
const { main } = await import(pathToFileURL(join(root, 'dist', 'cli.mjs')).href);
const project = join(root, 'projects', 'tide-clerk');

async function ask(...args) {
  let text = '';
  const code = await main([...args, '--json'], root, { out: (part) => (text += part), err: () => undefined });
  return { code, ...JSON.parse(text) };
}
const say = (line) => process.stdout.write(`${line}\n`);
const count = (findings, severity) => findings.filter((finding) => finding.severity === severity).length;

const check = await ask('check', project);
const { parts, implied, nets, pins, stages } = check.value.counts;
say('Tide clerk, a Z80 machine for a harbour office');
say(`  check    ${parts} parts and ${implied} implied ones, ${nets} nets, ${pins} pins, ${stages} stages`);
say(
  `           ${count(check.findings, 'error')} errors, ${count(check.findings, 'warning')} warnings, ${count(check.findings, 'note')} notes`,
);
const netlist = await ask('netlist', project);
say(
  `  netlist  ${netlist.value.nets.filter((net) => net.derived).length} nets derived, ${netlist.value.nets.filter((net) => !net.derived).length} stated`,
);
const decode = await ask('decode', project);
for (const device of decode.value.devices) {
  say(
    `  decode   ${device.part}: ${device.jed.split('/').pop()}, ${device.outputs.length} outputs, ${device.outputs.reduce((sum, output) => sum + output.terms.length, 0)} terms, sum ${device.checksum}; proved equal to the map and the formulas`,
  );
}
const lay = await ask('lay', project);
say(
  `  lay      ${lay.value.boards.length} boards, ${lay.value.totals.wires} wires, ${(lay.value.totals.cutMm / 1000).toFixed(1)} m to cut; ${count(lay.findings, 'error')} errors`,
);
const steps = await ask('steps', project);
say(
  `  steps    ${steps.value.left} to do, ${steps.value.built.wires} wires and ${steps.value.built.parts} parts in; first:`,
);
say(`           ${steps.value.steps[0]?.text ?? 'nothing is left to do'}`);
const touch = await ask('touch', project, '--stage', '1');
say(`  touch    ${touch.value.touches.length} touches of the meter prove stage 1 before its first power`);
const worst = Math.max(check.code, decode.code, touch.code, netlist.code, lay.code, steps.code);
if (process.argv.includes('--once')) process.exit(worst === 0 ? 0 : 1);
say('');
process.exitCode = await main(['open', project], root);
