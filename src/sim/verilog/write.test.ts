import { expect, test } from 'vitest';
import { simNetlist } from '../../../tests/support/sim.ts';
import { buildCircuit } from '../circuit/build.ts';
import type { SimContents, SimNetlist } from '../model.ts';
import { createNames, identifier } from './words.ts';
import { writeVerilog } from './write.ts';

const exported = (netlist: SimNetlist, contents: SimContents = {}) =>
  writeVerilog(netlist, buildCircuit(netlist, contents).value, contents);

test('no character of a name can end an identifier or begin something else', () => {
  const hostile = '/RD\n endmodule `include "x" /* // \\a é\u2028(*';
  expect(identifier(hostile)).toMatch(/^\\[A-Za-z0-9_$+.@:#%/-]+ $/);
  expect(identifier(hostile)).not.toMatch(/\/[/*]/);
  expect(identifier('/RD')).toBe('\\/RD ');
  expect(identifier('é')).toBe('\\%c3%a9 ');
  expect(identifier('').length).toBeGreaterThan(2);
  expect(identifier('/'.repeat(5000))).not.toMatch(/\/[/*]/);
  expect(identifier('a'.repeat(5000)).length).toBeLessThan(1024);
});

test('different names never share an identifier', () => {
  const names = createNames();
  const given = [
    'a b',
    'a%20b',
    'a/b',
    'a//b',
    'a/',
    'a',
    'A',
    '%',
    '',
    `${'x'.repeat(2000)}1`,
    `${'x'.repeat(2000)}2`,
  ];
  expect(new Set(given.map((name) => names(name))).size).toBe(given.length);
});

test('one module for each part type, ports by pin number; memories and their images apart', () => {
  const netlist = simNetlist(
    { G: '74HCT00', H: '74HCT00', M: '6116', N: '6116' },
    { a: 'G.1A H.1A', '/cs': 'M./CE N./CE' },
  );
  const { text } = exported(netlist).value;
  expect(text.match(/^module .*?\(/gm)?.sort()).toEqual([
    'module \\6116:M (',
    'module \\6116:N (',
    'module \\74HCT00 (',
  ]);
  expect(text).toContain('.p1(\\a )');
  expect(text.match(/^ {2}\\74HCT00 /gm)?.length).toBe(2);
  expect(exported(netlist).value.text).toBe(text);
});

test('a model in code comes out as an empty module that can be left out, with a finding', () => {
  const netlist = simNetlist({ CPU: 'Z80' }, { a: 'CPU.A0' });
  const { value, findings } = exported(netlist);
  expect(findings.map(({ code }) => code)).toEqual(['sim/verilog-empty']);
  expect(value.empty).toEqual([{ module: '\\Z80 ', macro: 'OWN_Z80' }]);
  expect(value.text).toContain('`ifndef OWN_Z80');
});

test('a pull that wins over a resistor between nets is told of', () => {
  const netlist = simNetlist(
    { G: '74HCT04', S: { type: 'resistor', value: '100 kohm' }, P: { type: 'resistor', value: '1 kohm' } },
    { a: 'G.1A', out: 'G.1Y S.A', far: 'S.B P.A', VCC: 'P.B' },
  );
  expect(exported(netlist).findings.map(({ code }) => code)).toEqual(['sim/verilog-strength']);
});
