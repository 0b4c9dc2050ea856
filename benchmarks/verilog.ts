// The Z80 projects as their boards have them: clocks a second in the plain kernel, in the compiled one, and in an IEEE 1364 simulator
// that runs the exported Verilog (with the processor of the bench machine), where one is installed.

import { Build, stageImages, stageMachine } from '../src/app/index.ts';
import { buildCircuit, type Kernel, PlainKernel, Session } from '../src/sim/index.ts';
import { readDemo } from './support/demo.ts';
import { verilogSpeed } from './support/verilog-speed.ts';

const cpuMs = (): number => process.cpuUsage().user / 1000;

for (const name of ['tide-clerk', 'light-keeper']) {
  const build = new Build(readDemo(name), 'first');
  const stage = build.design().stages.length;
  const { images } = stageImages(build, stage);
  const { netlist, contents } = stageMachine(build, stage, { images });
  const circuit = buildCircuit(netlist, contents).value;
  const reset = circuit.nets.indexOf('/reset');
  const speed = (kernel: Kernel, clocks: number): number => {
    const tick = (edges: number): void => {
      for (let k = 1; k <= edges; k++) {
        kernel.setSource(0, k & 1 ? 1 : 2);
        kernel.step();
      }
    };
    kernel.force(reset, 2);
    tick(20);
    kernel.force(reset, 1);
    const t = cpuMs();
    tick(clocks * 2);
    return (clocks / (cpuMs() - t)) * 1000;
  };
  const plain = speed(new PlainKernel(circuit, contents), 3000);
  // Past its reset, a session lets the compiled kernel swing the clock by itself.
  const session = new Session(circuit, contents, { quiet: true });
  session.runTo(400e6);
  const t = cpuMs();
  const ns = 2e6 * (1e9 / circuit.sources.find(({ rateHz }) => rateHz !== undefined)!.rateHz!);
  session.runTo(session.now + ns);
  const compiled = (2e6 / (cpuMs() - t)) * 1000;
  const other = verilogSpeed(netlist, circuit, contents, {
    clocks: 60_000,
    hold: (net) => `force ${net('/reset')} = 1'b0;`,
    release: (net) => `force ${net('/reset')} = 1'b1;`,
    watch: '/M1',
  });
  const text = (value: number): string => `${(value / 1000).toFixed(1)} k clocks/s`;
  console.log(`${name}: plain ${text(plain)}, compiled ${text(compiled)}`);
  console.log(
    other === undefined
      ? 'no IEEE 1364 simulator is installed'
      : `IEEE 1364 simulator ${text(other.clocksPerSecond)} (${other.changes} edges of /M1): plain ${(plain / other.clocksPerSecond).toFixed(2)} times, compiled ${(compiled / other.clocksPerSecond).toFixed(1)} times as fast`,
  );
}
