// How fast an IEEE 1364 simulator runs the same circuit: the machine exported as Verilog, its processor that of the bench machine.

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Circuit, type SimContents, type SimNetlist, writeVerilog } from '../../src/sim/index.ts';
import { chipOf, outputsOf, SOURCES } from '../bringup-source/chips.ts';

export interface VerilogSpeedOptions {
  /** Clocks run, reset aside; a run of none is taken off. */
  readonly clocks: number;
  /** Statements that put the machine into reset and let it go, by the identifier of a net within the machine. */
  readonly hold: (net: (name: string) => string) => string;
  readonly release: (net: (name: string) => string) => string;
  /** Net whose level says that it runs: its changes are counted and printed. */
  readonly watch: string;
}

export interface VerilogSpeed {
  readonly clocksPerSecond: number;
  /** Changes of the watched net. */
  readonly changes: number;
}

/** Clocks a second of the simulator's own processor time; undefined where none is installed. */
export function verilogSpeed(
  netlist: SimNetlist,
  circuit: Circuit,
  contents: SimContents,
  options: VerilogSpeedOptions,
): VerilogSpeed | undefined {
  if (spawnSync('iverilog', ['-V']).error !== undefined) return undefined;
  const { text, nets, empty } = writeVerilog(netlist, circuit, contents).value;
  const net = (name: string): string => {
    const found = circuit.nets.indexOf(name);
    if (found < 0) throw new Error(`no net ${name}`);
    return `dut.${nets[found]}`;
  };
  const own: string[] = [];
  const defines: string[] = [];
  for (const { module, macro } of empty) {
    const chip = chipOf(module.slice(1).trim());
    if (chip === undefined || chip.special !== undefined) continue;
    defines.push(`-D${macro}`);
    const pins = Array.from({ length: chip.pins }, (_, k) => k + 1);
    own.push(
      `module ${module}(${pins.map((pin) => `p${pin}`).join(', ')});`,
      `  inout ${pins.map((pin) => `p${pin}`).join(', ')};`,
      `  wire [${chip.pins}:1] o;`,
      // Its inputs are 0 or 1.
      `  ${chip.module} #(1, 1) inner({${pins
        .map((pin) => `p${pin} === 1'b1`)
        .reverse()
        .join(', ')}}, o);`,
      ...outputsOf(chip).map((pin) => `  assign p${pin} = o[${pin}];`),
      'endmodule',
    );
  }
  const source = circuit.sources.find(({ rateHz }) => rateHz !== undefined)!;
  const period = Math.round(1e12 / source.rateHz!);
  const bench = [
    'module bench;',
    '  \\machine dut();',
    '  reg [31:0] clocks; integer changes;',
    `  always @(${net(options.watch)}) changes = changes + 1;`,
    `  initial begin changes = 0; if (!$value$plusargs("clocks=%d", clocks)) clocks = 0; ${options.hold(net)}`,
    `    repeat (10) #${period}; ${options.release(net)} repeat (clocks) #${period}; $display("%0d", changes); $finish; end`,
    'endmodule',
  ];
  const folder = mkdtempSync(join(tmpdir(), 'proofboard-speed-'));
  try {
    const file = join(folder, 'bench.v');
    const program = join(folder, 'bench.vvp');
    writeFileSync(file, [text, ...own, ...bench, ''].join('\n'));
    execFileSync('iverilog', ['-g2005', ...defines, '-s', 'bench', '-o', program, file, ...SOURCES], { stdio: 'pipe' });
    const run = (clocks: number): { seconds: number; changes: number } => {
      const shown = execFileSync('sh', ['-c', `vvp -n "$0" +clocks=${clocks} && times`, program], { encoding: 'utf8' });
      const lines = shown.trim().split('\n');
      // The last line of `times` is the user and system time of the shell's children.
      const [minutes, seconds] = /^(\d+)m([\d.]+)s/.exec(lines.at(-1)!)!.slice(1).map(Number);
      return { seconds: minutes! * 60 + seconds!, changes: Number(lines[0]) };
    };
    const none = run(0);
    const all = run(options.clocks);
    return { clocksPerSecond: options.clocks / (all.seconds - none.seconds), changes: all.changes };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
