// Captures of 110 MB read in pieces: seconds and memory for a dump and for tables of levels and of volts. Made as they are read; no
// file is written.

import { CaptureReader } from '../src/format/capture/index.ts';
import { createRng } from '../src/base/index.ts';

const BYTES = 110e6;

/** Lines of one kind, from a row's number and 32 random bits. */
const KINDS = {
  'dump, 32 channels': {
    head: `$timescale 1 ns $end\n${Array.from({ length: 32 }, (_, k) => `$var wire 1 ${String.fromCharCode(40 + k)} L${k} $end\n`).join('')}$enddefinitions $end\n`,
    row: (k: number, bits: number, before: number): string => {
      let text = `#${20 * k}\n`;
      for (let c = 0; c < 32; c++)
        if (((bits ^ before) >>> c) & 1) text += `${(bits >>> c) & 1}${String.fromCharCode(40 + c)}\n`;
      return text;
    },
  },
  'table of levels, 32 channels': {
    head: `Time [s],${Array.from({ length: 32 }, (_, k) => `L${k}`).join(',')}\n`,
    row: (k: number, bits: number): string => {
      let text = (k * 2e-8).toFixed(9);
      for (let c = 0; c < 32; c++) text += (bits >>> c) & 1 ? ',1' : ',0';
      return `${text}\n`;
    },
  },
  'table of volts, 4 channels': {
    head: `Time [s],${Array.from({ length: 4 }, (_, k) => `CH${k} (V)`).join(',')}\n`,
    row: (k: number, bits: number): string => {
      let text = (k * 2e-8).toFixed(9);
      for (let c = 0; c < 4; c++) text += `,${(((bits >>> c) & 1) * 3.3 + ((bits >>> 8) & 255) / 1000).toFixed(4)}`;
      return `${text}\n`;
    },
  },
} as const;

for (const [name, { head, row }] of Object.entries(KINDS)) {
  const rng = createRng(1);
  const reader = new CaptureReader('made');
  reader.push(Buffer.from(head, 'latin1'));
  let spent = 0;
  let most = 0;
  let before = 0;
  for (let k = 0; reader.bytes < BYTES; ) {
    let text = '';
    for (const end = k + 2000; k < end; k++) {
      const bits = rng.next32();
      text += row(k, bits, before);
      before = bits;
    }
    const piece = Buffer.from(text, 'latin1');
    const start = process.cpuUsage().user;
    reader.push(piece);
    spent += process.cpuUsage().user - start;
    most = Math.max(most, process.memoryUsage().rss);
  }
  const start = process.cpuUsage().user;
  const { value, findings } = reader.end();
  spent += process.cpuUsage().user - start;
  most = Math.max(most, process.memoryUsage().rss);
  const entries = value!.channels.reduce((sum, { times }) => sum + times.length, 0);
  process.stdout.write(
    `${name}: ${(reader.bytes / 1e6).toFixed(0)} MB in ${(spent / 1e6).toFixed(1)} s, ${(entries / 1e6).toFixed(1)} million changes, at most ${Math.round(most / 1e6)} MB of memory, ${findings.length} findings\n`,
  );
}
