// The readers of captures against readers and writers that were not written here: fields and quotes of RFC 4180 against
// csv-parse (a general-purpose library), dumps against what an IEEE 1364 simulator writes, where one is installed.

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readCapture } from '../../src/format/capture/index.ts';

test('tables: names, quotes and separators as csv-parse takes them', () => {
  const name = fc
    .stringMatching(/^[A-Za-z/][A-Za-z0-9 _,;"~#]{0,8}[A-Za-z]$/)
    .filter((text) => !/time|date|start|increment|channel|index|value|sec/i.test(text));
  const table = fc.record({
    names: fc.uniqueArray(name, { minLength: 1, maxLength: 6, selector: (text) => text.toLowerCase() }),
    rows: fc.array(fc.array(fc.constantFrom('0', '1'), { minLength: 6, maxLength: 6 }), {
      minLength: 8,
      maxLength: 30,
    }),
    separator: fc.constantFrom(',', ';', '\t'),
    end: fc.constantFrom('\n', '\r\n'),
  });
  fc.assert(
    fc.property(table, ({ names, rows, separator, end }) => {
      const quoted = (text: string): string => (/["\s,;]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
      const text = [
        ['Time [ns]', ...names].map(quoted).join(separator),
        ...rows.map((row, k) => [String(10 * k), ...row.slice(0, names.length)].join(separator)),
      ].join(end);
      const oracle = parse(text, { delimiter: separator }) as string[][];
      const { value } = readCapture('t', new TextEncoder().encode(text));
      expect(value!.channels.map((channel) => channel.name)).toEqual(oracle[0]!.slice(1));
      value!.channels.forEach(({ times, levels }, column) => {
        const seen = oracle.slice(1).map((row) => {
          const at = Number(row[0]) * 1e-9;
          let level = 2;
          for (let k = 0; k < times.length && times[k]! <= at + 1e-12; k++) level = levels[k]!;
          return String(level);
        });
        expect(seen).toEqual(oracle.slice(1).map((row) => row[column + 1]));
      });
    }),
    { seed: 4, numRuns: 200 },
  );
});

const SOURCE = `\`timescale 1ns/100ps
module tide;
  reg clk = 0; reg [7:0] d = 8'hxx; wire [3:0] low = d[3:0]; real volts = 0.25; tri q = d[0] ? 1'b1 : 1'bz;
  always #62.5 clk = ~clk;
  always @(posedge clk) begin d <= #3 d === 8'hxx ? 8'h7e : d + 8'd1; volts = volts + 0.5; if (volts > 4.5) volts = 0.1; end
  initial begin $dumpfile("tide.vcd"); $dumpvars(0, tide); end
  always @(clk or d or q) $display("%0t %b %b %b", $time * 10 + 0, clk, d, q);
  initial #2000 $finish;
endmodule
`;
const hasSimulator = spawnSync('iverilog', ['-V']).status === 0;

test.skipIf(!hasSimulator)('dumps of an IEEE 1364 simulator: the levels that it prints itself', () => {
  const folder = mkdtempSync(join(tmpdir(), 'tide-'));
  try {
    writeFileSync(join(folder, 'tide.v'), SOURCE);
    execFileSync('iverilog', ['-o', 'tide', 'tide.v'], { cwd: folder });
    const printed = execFileSync('vvp', ['tide'], { cwd: folder, encoding: 'utf8' });
    const { value, findings } = readCapture('tide.vcd', readFileSync(join(folder, 'tide.vcd')));
    expect(findings).toEqual([]);
    const at = (name: string, time: number): string => {
      const channel = value!.channels.find((one) => one.name === name)!;
      let level = 2;
      for (let k = 0; k < channel.times.length && channel.times[k]! <= time + 1e-12; k++) level = channel.levels[k]!;
      return String(level);
    };
    const clock = value!.channels.find(({ name }) => name === 'clk')!;
    expect(clock.times.length).toBe(33); // the level at 0, and an edge every 62.5 ns up to 2000 ns
    expect(clock.times[1]).toBeCloseTo(62.5e-9, 13);
    const bits = [7, 6, 5, 4, 3, 2, 1, 0];
    // The last word printed for a time is the level that holds from then on; times are printed as whole ns, so look just before
    // the next edge instead, where nothing moves.
    const states = [...printed.matchAll(/^(\d+) ([01xz]) ([01xz]{8}) ([01xz])$/gm)].map((match) => match.slice(2));
    expect(states.length).toBeGreaterThan(40);
    const quiet = Array.from({ length: 30 }, (_, k) => k * 62.5e-9 + 30e-9);
    const seen = quiet.map((time) =>
      [at('clk', time), bits.map((bit) => at(`d[${bit}]`, time)).join(''), at('q', time)].join(' '),
    );
    const told = new Set(
      states.map(([clk, d, q]) => [clk, d!.replace(/[xz]/g, '2'), q!.replace(/[xz]/, '2')].join(' ')),
    );
    for (const state of seen) expect(told.has(state), state).toBe(true);
    expect(new Set(seen).size).toBeGreaterThan(25);
    const volts = value!.channels.find(({ name }) => name === 'volts')!;
    expect([...volts.levels].slice(0, 3)).toEqual([0, 1, 0]);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
