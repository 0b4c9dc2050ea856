// Captures as files, the way instruments export them: a table of changes or of samples, or a value change dump.

import type { Capture } from '../../src/bringup/index.ts';

/** Level of a channel at a time. */
function levelAt(capture: Capture, channel: number, time: number): number {
  const { times, levels } = capture.channels[channel]!;
  let low = 0;
  let high = times.length - 1;
  if (times[0]! > time) return 2;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (times[middle]! <= time) low = middle;
    else high = middle - 1;
  }
  return levels[low]!;
}

/** Every sample as a row. */
export function csvOf(capture: Capture): string {
  const step = capture.samplePeriod!;
  const rows = [['Time [ns]', ...capture.channels.map(({ name }) => `"${name}"`)].join(',')];
  const count = Math.round((capture.end - capture.start) / step);
  for (let k = 0; k <= count; k++) {
    const time = capture.start + k * step;
    const levels = capture.channels.map((_, channel) => {
      const level = levelAt(capture, channel, time + step * 0.01);
      return level === 2 ? 'X' : String(level);
    });
    rows.push([(time * 1e9).toFixed(2), ...levels].join(','));
  }
  return `${rows.join('\n')}\n`;
}

/** The changes as a dump with a rate in its comment. */
export function vcdOf(capture: Capture): string {
  const rate =
    capture.samplePeriod === null
      ? ''
      : `$comment ${capture.channels.length} channels at ${1e-6 / capture.samplePeriod} MHz $end\n`;
  const code = (k: number): string => String.fromCharCode(33 + k);
  const changes = capture.channels.flatMap(({ times, levels }, k) =>
    [...times].map((time, j) => ({
      ps: Math.round(time * 1e12),
      text: `${levels[j] === 2 ? 'x' : levels[j]}${code(k)}`,
    })),
  );
  changes.sort((a, b) => a.ps - b.ps);
  const lines: string[] = [];
  let last = -1;
  for (const { ps, text } of changes) {
    if (ps !== last) lines.push(`#${ps}`);
    last = ps;
    lines.push(text);
  }
  const names = capture.channels.map(({ name }, k) => `$var wire 1 ${code(k)} ${name} $end\n`).join('');
  return `${rate}$timescale 1 ps $end\n${names}$enddefinitions $end\n${lines.join('\n')}\n#${Math.round(capture.end * 1e12)}\n`;
}
