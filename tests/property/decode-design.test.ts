// The demo machine's decoder, from the machine file to a proved fuse file, at every stage that has it.

import { expect, test } from 'vitest';
import { compilePlan, deviceTask, explainFile } from '../../src/decode/index.ts';
import { loadMachine } from '../support/load-machine.ts';

test('the select device of the tide clerk is compiled, proved and read back at every stage', () => {
  const design = loadMachine('tide-clerk');
  const [device] = design.devices;
  const revisions = new Map<number, string[]>();
  for (let stage = 1; stage <= design.stages.length; stage++) {
    const task = deviceTask(design, device!, stage);
    expect(task.findings).toEqual([]);
    if (task.value === undefined) continue;
    const { value, findings } = compilePlan(task.value.plan, task.value.device);
    expect(
      findings.filter((one) => one.severity === 'error'),
      `stage ${stage}`,
    ).toEqual([]);
    expect(value!.check!.isEqual).toBe(true);
    revisions.set(
      stage,
      value!.compiled.outputs.map((one) => one.net),
    );
    // Every output on the pin that the netlist wires.
    for (const output of device!.outputs) {
      const found = value!.compiled.outputs.find((one) => one.net === output.net);
      if (found === undefined) continue;
      const part = design.netlists[stage]!.parts.find((one) => one.name === device!.part)!;
      const pin = part.pins.map((id) => design.netlists[stage]!.pins[id]!).find((one) => one.name === output.pin);
      expect(found.pin).toBe(pin!.number);
    }
    const bytes = Uint8Array.from(value!.compiled.text, (c) => c.charCodeAt(0));
    const again = explainFile(bytes, '16V8', 'sel.jed');
    expect(again.findings).toEqual([]);
    expect(again.value!.vectors!.failures).toEqual([]);
    expect(again.value!.vectors!.compared).toBeGreaterThan(10);
  }
  const [first] = revisions.values();
  const last = [...revisions.values()].at(-1)!;
  expect(first).toEqual(expect.arrayContaining(['/ROM', '/RAM']));
  expect(first).not.toContain('/UART');
  expect(last).toEqual(expect.arrayContaining(['/ROM', '/RAM', '/UART']));
});
