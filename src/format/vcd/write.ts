// Value change dumps (IEEE 1364-2005, clause 18), four-state, one bit a signal. Times are whole picoseconds.

/** One bit that is dumped. */
export interface VcdSignal {
  readonly name: string;
}

/** A change: ps since the start, which signal, and its value. */
export interface VcdChange {
  readonly ps: number;
  readonly signal: number;
  readonly value: 0 | 1 | 'Z' | 'X';
}

export interface VcdDump {
  /** Name of the scope all signals are in. */
  readonly scope: string;
  readonly signals: readonly VcdSignal[];
  /** In order of time. Signals without a change at time 0 start unknown. */
  readonly changes: readonly VcdChange[];
  /** End of the dump in ps. */
  readonly endPs: number;
}

/** Identifier codes are made of the printable characters `!` to `~`, shortest first. */
function codeOf(index: number): string {
  let code = '';
  let rest = index;
  do {
    code += String.fromCharCode(33 + (rest % 94));
    rest = Math.floor(rest / 94) - 1;
  } while (rest >= 0);
  return code;
}

/** White space and brackets have a meaning of their own in references; they become underscores. */
function referenceOf(name: string): string {
  const text = name.replace(/[\s[\]$]/g, '_');
  return text === '' ? '_' : text;
}

/** The text of a dump. Same dump, same bytes: it has no date. Two names that come out alike get a number behind them. */
export function writeVcd(dump: VcdDump): string {
  const lines = ['$version proofboard $end', '$timescale 1 ps $end', `$scope module ${referenceOf(dump.scope)} $end`];
  const used = new Set<string>();
  dump.signals.forEach(({ name }, index) => {
    let reference = referenceOf(name);
    for (let k = 2; used.has(reference); k++) reference = `${referenceOf(name)}_${k}`;
    used.add(reference);
    lines.push(`$var wire 1 ${codeOf(index)} ${reference} $end`);
  });
  lines.push('$upscope $end', '$enddefinitions $end');
  const letter = (value: VcdChange['value']): string => (value === 'X' ? 'x' : value === 'Z' ? 'z' : String(value));
  const first = new Map<number, VcdChange['value']>();
  let at = 0;
  for (; at < dump.changes.length && dump.changes[at]!.ps <= 0; at++)
    first.set(dump.changes[at]!.signal, dump.changes[at]!.value);
  lines.push('#0', '$dumpvars');
  dump.signals.forEach((_, index) => {
    lines.push(`${letter(first.get(index) ?? 'X')}${codeOf(index)}`);
  });
  lines.push('$end');
  let time = 0;
  for (; at < dump.changes.length; at++) {
    const { ps, signal, value } = dump.changes[at]!;
    const now = Math.round(ps);
    if (now > time) {
      time = now;
      lines.push(`#${now}`);
    }
    lines.push(`${letter(value)}${codeOf(signal)}`);
  }
  if (Math.round(dump.endPs) > time) lines.push(`#${Math.round(dump.endPs)}`);
  return `${lines.join('\n')}\n`;
}
