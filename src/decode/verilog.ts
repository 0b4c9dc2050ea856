// A programmed device as Verilog (IEEE 1364): one module, its ports the device's pins, its equations as they were read from the
// fuses. For simulators, and so that an independent one can say whether the fuses do what was asked. Names are pin numbers only.

import type { Explained, ExplainedOutput, Term } from './explain.ts';

export interface VerilogOptions {
  /** The module's name, letters, digits and underscores; default `device`. */
  readonly module?: string;
  /** The net at a pin, for comments. */
  readonly nameOf?: (pin: number) => string | undefined;
}

/**
 * The module. Ports are `p1`, `p2`, ...; an output that can let go is `z` then. A register of pin n is `qn`, at pin level, and
 * takes `dn` at the rising edge of its clock.
 */
export function deviceVerilog(explained: Explained, options: VerilogOptions = {}): string {
  const { module = 'device', nameOf } = options;
  const outputs = [...explained.outputs, ...explained.buried];
  const driven = new Set(explained.outputs.map((output) => output.pin));
  const registers = outputs.filter((output) => output.registered);
  const read = new Set<number>();
  const note = (terms: readonly Term[]): void => {
    for (const term of terms) for (const literal of term) read.add(literal.pin);
  };
  for (const output of outputs) {
    note(output.terms);
    if (typeof output.enable !== 'boolean') note(output.enable);
  }
  note(explained.reset);
  note(explained.preset);
  if (registers.length > 0 && explained.clockPin !== undefined) read.add(explained.clockPin);
  const buried = new Set(explained.buried.map((output) => output.pin));
  const inputs = [...read].filter((pin) => !driven.has(pin) && !buried.has(pin)).sort((a, b) => a - b);
  const pins = [...explained.outputs].map((output) => output.pin).sort((a, b) => a - b);
  const comment = (pin: number): string => {
    const name = nameOf?.(pin);
    // One line, and nothing in it that could end the comment.
    return name === undefined ? '' : ` // ${name.replace(/[^\x20-\x7e]/g, '?')}`;
  };
  const ports = [
    ...inputs.map((pin) => ({ text: `input p${pin}`, pin })),
    // What is read back at the pin is what stands there, whoever drives it.
    ...pins.map((pin) => ({ text: `${read.has(pin) ? 'inout' : 'output'} p${pin}`, pin })),
  ];
  const lines = [
    `module ${module} (`,
    ...ports.map(({ text, pin }, k) => `  ${text}${k === ports.length - 1 ? '' : ','}${comment(pin)}`),
    ');',
  ];
  const level = (output: ExplainedOutput): string => (output.registered ? `q${output.pin}` : `l${output.pin}`);
  const seen = (pin: number, feedback: boolean): string => {
    const output = outputs.find((one) => one.pin === pin);
    return output?.registered === true && (feedback || output.feedbackFrom === 'register' || buried.has(pin))
      ? `q${pin}`
      : `p${pin}`;
  };
  const sum = (terms: readonly Term[]): string =>
    terms.length === 0
      ? "1'b0"
      : terms
          .map((term) =>
            term.length === 0
              ? "1'b1"
              : term
                  .map(
                    ({ pin, level: wanted, feedback }) => `${wanted === 1 ? '' : '~'}${seen(pin, feedback === true)}`,
                  )
                  .join(' & '),
          )
          .join(' | ');
  for (const output of outputs) {
    const { pin } = output;
    const function_ = `${output.activeLow ? '~' : ''}(${sum(output.terms)})`;
    if (output.registered)
      lines.push(
        `  wire d${pin} = ${function_};`,
        `  reg q${pin}${output.powerUp === undefined ? '' : ` = 1'b${output.powerUp}`};`,
      );
    else lines.push(`  wire l${pin} = ${function_};`);
    if (!driven.has(pin)) continue;
    if (output.enable === true) lines.push(`  assign p${pin} = ${level(output)};`);
    else if (output.enable !== false)
      lines.push(`  wire e${pin} = ${sum(output.enable)};`, `  assign p${pin} = e${pin} ? ${level(output)} : 1'bz;`);
  }
  if (registers.length > 0 && explained.clockPin !== undefined) {
    const hasReset = explained.reset.length > 0;
    if (hasReset) lines.push(`  wire reset = ${sum(explained.reset)};`);
    if (explained.preset.length > 0) lines.push(`  wire preset = ${sum(explained.preset)};`);
    lines.push(`  always @(posedge p${explained.clockPin}${hasReset ? ' or posedge reset' : ''})`);
    const branch = (word: string, value: (output: ExplainedOutput) => string): void => {
      lines.push(
        `    ${word}begin`,
        ...registers.map((output) => `      q${output.pin} <= ${value(output)};`),
        '    end',
      );
    };
    // Reset puts the register to 0: an active-low pin is then high.
    if (hasReset) branch('if (reset) ', (output) => `1'b${output.activeLow ? 1 : 0}`);
    if (explained.preset.length > 0)
      branch(`${hasReset ? 'else ' : ''}if (preset) `, (output) => `1'b${output.activeLow ? 0 : 1}`);
    branch(hasReset || explained.preset.length > 0 ? 'else ' : '', (output) => `d${output.pin}`);
  }
  lines.push('endmodule', '');
  return lines.join('\n');
}
