// Speed of the simulator on machines of 20 and 42 chips, every pin wired on its own, values 0 1 Z X, every edge of the clock. Prints
// processor clocks a second of processor time (this process, all its threads), medians.

import { readFileSync } from 'node:fs';
import { performance } from 'node:perf_hooks';
import { CompiledKernel, type Kernel, PlainKernel } from '../src/sim/index.ts';
import { contents, wiredMachine } from './machines/wired-z80.ts';
import { verilogSpeed } from './support/verilog-speed.ts';

/** Processor time of this process: a busy machine changes it less than the clock on the wall. */
const cpuMs = (): number => process.cpuUsage().user / 1000;
/** Processor time of the main thread alone where the system tells it: what a person waits for on a machine that is not busy. */
const mainMs = (): number => {
  try {
    return Number(readFileSync(`/proc/self/task/${process.pid}/schedstat`, 'utf8').split(' ')[0]) / 1e6;
  } catch {
    return performance.now();
  }
};
const median = (list: readonly number[]): number => [...list].sort((a, b) => a - b)[list.length >> 1]!;
const nothing = { nets: [], last: new Uint8Array(0), record: () => undefined };
const CLOCKS = 500_000;

for (const copies of [1, 3]) {
  const { netlist, circuit } = wiredMachine(copies);
  /** Twenty edges in reset, then it is let go. */
  const start = (kernel: Kernel): void => {
    kernel.step();
    for (let k = 1; k <= 20; k++) {
      kernel.setSource(0, k & 1 ? 1 : 2);
      kernel.step();
    }
    kernel.setSource(circuit.sources.length - 1, 1);
    kernel.step();
  };
  const atStart = mainMs();
  const kernel = new CompiledKernel(circuit, contents);
  start(kernel);
  kernel.swing(0, 40_000, 125, nothing);
  const first = mainMs() - atStart;
  const speedOf = (watch: typeof nothing & { readonly log?: (records: Int32Array) => void }): number => {
    const runs = Array.from({ length: 9 }, () => {
      const t = cpuMs();
      for (let k = 0; k < 10; k++) kernel.swing(0, CLOCKS / 5, 125, watch);
      return (CLOCKS / (cpuMs() - t)) * 1000;
    });
    // The engine compiles in the first ones.
    return median(runs.slice(2));
  };
  const fast = speedOf(nothing);
  const nets = [...circuit.nets.keys()].filter((net) => circuit.fed[net] === 0 && !circuit.nets[net]!.startsWith('.'));
  // The last 16 million words are kept, as for a look back.
  const ring = new Int32Array(1 << 24);
  let words = 0;
  const recorded = speedOf({
    ...nothing,
    nets: nets as never[],
    last: new Uint8Array(nets.length),
    log: (records) => {
      const at = words & (ring.length - 1);
      ring.set(at + records.length <= ring.length ? records : records.subarray(0, ring.length - at), at);
      words += records.length;
    },
  });
  const away = circuit.parts.length - 1;
  kernel.setFaults([{ kind: 'open', at: { place: away, pin: -2 } }]);
  const hooked = speedOf(nothing);
  const plain = new PlainKernel(circuit, contents);
  start(plain);
  const t = cpuMs();
  const plainClocks = 500;
  for (let k = 1; k <= plainClocks * 2; k++) {
    plain.setSource(0, k & 1 ? 1 : 2);
    plain.step();
  }
  const slow = (plainClocks / (cpuMs() - t)) * 1000;
  const other = verilogSpeed(netlist, circuit, contents, {
    clocks: 20_000,
    hold: (net) => `force ${net('reset')} = 1'b0;`,
    release: (net) => `force ${net('reset')} = 1'b1;`,
    watch: 'm1',
  });
  if (other !== undefined && other.changes < 1000) throw new Error('the exported machine does not run');
  const million = (speed: number): string => `${(speed / 1e6).toFixed(2)} M`;
  console.log(
    [
      `${netlist.parts.length} parts, ${circuit.nets.length} nets: ${million(fast)} clocks/s`,
      `${million(recorded)} with all ${nets.length} nets recorded (${Math.round((1 - recorded / fast) * 100)} % less)`,
      `${million(hooked)} with faults put in`,
      `${Math.round(fast / slow)} times the plain kernel`,
      other === undefined
        ? 'no IEEE 1364 simulator is installed'
        : `${Math.round(fast / other.clocksPerSecond)} times an IEEE 1364 simulator, which makes ${(other.clocksPerSecond / slow).toFixed(1)} clocks for one of the plain kernel`,
      `from nothing to 20,000 clocks ${first.toFixed(0)} ms of the main thread`,
    ].join('; '),
  );
  if (words === 0) throw new Error('nothing was recorded');
}
