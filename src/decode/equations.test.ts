import { expect, test } from 'vitest';
import { printFormula } from '../base/index.ts';
import { compileDevice, enableFormula, explainFuses, levelFormula, proveFile } from './index.ts';

test('explained outputs read as formulas of the pin, and compile to the same again', () => {
  const { value } = compileDevice({
    device: '20V8',
    outputs: [
      { name: '/ROM', formula: '/MREQ | A15' },
      { name: 'data', formula: 'a ^ b', enable: 'low(/MREQ)' },
      { name: 'none', formula: '0' },
    ],
  });
  const nameOf = (pin: number): string | undefined => value!.pins[pin - 1]!.name;
  const texts = value!.outputs.map((output) => {
    const enable = enableFormula(output, nameOf);
    return `${output.net}: ${printFormula(levelFormula(output, nameOf))}${enable === undefined ? '' : ` while ${printFormula(enable)}`}`;
  });
  expect(texts).toEqual(['/ROM: ~(~/MREQ & ~A15)', 'data: ~(~a & ~b | a & b) while ~/MREQ', 'none: 0']);
  const again = {
    device: '20V8' as const,
    inputs: value!.pins.filter((pin) => pin.use === 'input').map((pin) => ({ name: pin.name!, pin: pin.pin })),
    outputs: value!.outputs.map((output) => {
      const enable = enableFormula(output, nameOf);
      const formula = printFormula(levelFormula(output, nameOf));
      return { name: output.net, pin: output.pin, formula, ...(enable === undefined ? {} : { enable }) };
    }),
  };
  const bytes = Uint8Array.from(value!.text, (c) => c.charCodeAt(0));
  expect(proveFile(again, bytes, 'same.jed').value!.isEqual).toBe(true);
});

test('pins without a net keep their number', () => {
  const fuses = new Uint8Array(5892);
  fuses.fill(1, 44, 132);
  fuses[88] = 0; // pin 23: enabled always, one term of pin 1
  fuses[5808] = 1;
  fuses[5809] = 1;
  const [output] = explainFuses(fuses, '22V10').value!.outputs;
  expect(printFormula(levelFormula(output!, () => undefined))).toBe('pin1');
});
