// A machine of twenty chips or more for measuring the simulator, every pin wired on its own: Z80, ROM, RAM, latches, buffers,
// transceiver, dividers, decoders; and a program that reads, adds, writes, calls, stacks, outputs and inputs.

import { createLibrary, pinsNamed } from '../../src/parts/index.ts';
import { buildCircuit, type Circuit, type SimContents, type SimNetlist } from '../../src/sim/index.ts';
import { readShipped } from '../support/library.ts';

const records = readShipped().parts;
const library = createLibrary(records, []);
const nets = new Map<string, { part: number; number: number }[]>();
const parts: SimNetlist['parts'][number][] = [];
function add(name: string, type: string, pins: Readonly<Record<string, string>>, rateHz?: number): void {
  const record = library.find(type)?.record ?? records.find((one) => one.part === type.replace(/^74[A-Z]*/, '74x'))!;
  const part = parts.length;
  parts.push({ name, type, record, ...(rateHz === undefined ? {} : { rateHz }) });
  const join = (net: string, number: number): void => {
    nets.set(net, [...(nets.get(net) ?? []), { part, number }]);
  };
  for (const row of record.pins) {
    if (row.kind === 'supply') join('VCC', row.number);
    if (row.kind === 'ground') join('GND', row.number);
  }
  for (const [pin, net] of Object.entries(pins)) {
    const rows = pinsNamed(record, pin);
    if (rows.length === 0) throw new Error(`${type} has no ${pin}`);
    for (const row of rows) join(net, row.number);
  }
}
const each = (count: number, pin: (k: number) => string, net: (k: number) => string): Record<string, string> =>
  Object.fromEntries(Array.from({ length: count }, (_, k) => [pin(k), net(k)]));

/** The machine; `copies` of its outer half make it larger: 1 for 20 parts, 3 for 42. */
function machine(copies: number): SimNetlist {
  nets.clear();
  parts.length = 0;
  add('OSC', 'oscillator-can', { OUT: 'clk' }, 4e6);
  add('CPU', 'Z80', {
    ...each(
      16,
      (k) => `A${k}`,
      (k) => `A${k}`,
    ),
    ...each(
      8,
      (k) => `D${k}`,
      (k) => `D${k}`,
    ),
    CLK: 'clk',
    '/RESET': 'reset',
    '/WAIT': 'VCC',
    '/INT': 'VCC',
    '/NMI': 'VCC',
    '/BUSREQ': 'VCC',
    '/MREQ': 'mreq',
    '/IORQ': 'iorq',
    '/RD': 'rd',
    '/WR': 'wr',
    '/M1': 'm1',
    '/RFSH': 'rfsh',
  });
  add('AL', '74HCT541', {
    ...each(
      8,
      (k) => `A${k + 1}`,
      (k) => `A${k}`,
    ),
    ...each(
      8,
      (k) => `Y${k + 1}`,
      (k) => `BA${k}`,
    ),
    '/OE1': 'GND',
    '/OE2': 'GND',
  });
  add('AH', '74HCT541', {
    ...each(
      8,
      (k) => `A${k + 1}`,
      (k) => `A${k + 8}`,
    ),
    ...each(
      8,
      (k) => `Y${k + 1}`,
      (k) => `BA${k + 8}`,
    ),
    '/OE1': 'GND',
    '/OE2': 'GND',
  });
  const a15 = { A: 'BA15' };
  add('ROM', '28C256', {
    ...each(
      15,
      (k) => `A${k}`,
      (k) => `BA${k}`,
    ),
    ...each(
      8,
      (k) => `I/O${k}`,
      (k) => `D${k}`,
    ),
    '/CE': 'romcs',
    '/OE': 'rd',
    '/WE': 'VCC',
  });
  add('RAM', '62256', {
    ...each(
      15,
      (k) => `A${k}`,
      (k) => `BA${k}`,
    ),
    ...each(
      8,
      (k) => `I/O${k}`,
      (k) => `D${k}`,
    ),
    '/CS': 'ramcs',
    '/OE': 'rd',
    '/WE': 'wr',
  });
  add('N1', '74HCT04', { '1A': a15.A, '1Y': 'low' });
  add('O1', '74HCT32', {
    '1A': 'mreq',
    '1B': 'BA15',
    '1Y': 'romcs',
    '2A': 'mreq',
    '2B': 'low',
    '2Y': 'ramcs',
    '3A': 'iorq',
    '3B': 'wr',
    '3Y': 'iow',
    '4A': 'iorq',
    '4B': 'rd',
    '4Y': 'ior',
  });
  add('X1', '74HCT245', {
    ...each(
      8,
      (k) => `A${k + 1}`,
      (k) => `D${k}`,
    ),
    ...each(
      8,
      (k) => `B${k + 1}`,
      (k) => `XD${k}`,
    ),
    DIR: 'ior',
    '/OE': 'iorq',
  });
  for (let n = 0; n < copies; n++) {
    add(`DW${n}`, '74HCT138', {
      A: 'BA0',
      B: 'BA1',
      C: 'BA2',
      '/G2A': 'iow',
      '/G2B': 'GND',
      G1: 'VCC',
      Y0: `${n}w0`,
      Y1: `${n}w1`,
      Y2: `${n}w2`,
    });
    add(`DR${n}`, '74HCT138', {
      A: 'BA0',
      B: 'BA1',
      C: 'BA2',
      '/G2A': 'ior',
      '/G2B': 'GND',
      G1: n === 0 ? 'VCC' : 'GND',
      Y0: `${n}r0`,
      Y1: `${n}r1`,
    });
    add(`L1${n}`, '74HCT574', {
      ...each(
        8,
        (k) => `${k + 1}D`,
        (k) => `XD${k}`,
      ),
      ...each(
        8,
        (k) => `${k + 1}Q`,
        (k) => `${n}p${k}`,
      ),
      CLK: `${n}w0`,
      '/OE': 'GND',
    });
    add(`L2${n}`, '74HCT574', {
      ...each(
        8,
        (k) => `${k + 1}D`,
        (k) => `XD${k}`,
      ),
      ...each(
        8,
        (k) => `${k + 1}Q`,
        (k) => `${n}q${k}`,
      ),
      CLK: `${n}w1`,
      '/OE': 'GND',
    });
    add(`I1${n}`, '74HCT541', {
      ...each(
        8,
        (k) => `A${k + 1}`,
        (k) => `${n}p${k}`,
      ),
      ...each(
        8,
        (k) => `Y${k + 1}`,
        (k) => `XD${k}`,
      ),
      '/OE1': `${n}r0`,
      '/OE2': 'GND',
    });
    add(`I2${n}`, '74HCT541', {
      ...each(
        8,
        (k) => `A${k + 1}`,
        (k) => `${n}q${k}`,
      ),
      ...each(
        8,
        (k) => `Y${k + 1}`,
        (k) => `XD${k}`,
      ),
      '/OE1': `${n}r1`,
      '/OE2': 'GND',
    });
    add(`F1${n}`, '74HCT74', {
      '1D': `${n}nq`,
      '/1Q': `${n}nq`,
      '1CLK': 'm1',
      '1Q': `${n}half`,
      '/1PRE': 'VCC',
      '/1CLR': 'reset',
      '2D': `${n}p0`,
      '2CLK': 'rfsh',
      '2Q': `${n}s`,
      '/2PRE': 'VCC',
      '/2CLR': 'reset',
    });
    add(`C1${n}`, '74HCT393', {
      '1CLK': `${n}half`,
      '1CLR': 'GND',
      '1QD': `${n}slow`,
      '2CLK': `${n}slow`,
      '2CLR': 'GND',
    });
    add(`G1${n}`, '74HCT00', {
      '1A': `${n}p0`,
      '1B': `${n}q0`,
      '1Y': `${n}g`,
      '2A': `${n}g`,
      '2B': `${n}s`,
      '2Y': `${n}h`,
    });
    add(`B1${n}`, '74HCT541', {
      ...each(
        8,
        (k) => `A${k + 1}`,
        (k) => `D${k}`,
      ),
      ...each(
        8,
        (k) => `Y${k + 1}`,
        (k) => `${n}probe${k}`,
      ),
      '/OE1': 'GND',
      '/OE2': 'GND',
    });
    add(`V1${n}`, '74HCT08', { '1A': 'm1', '1B': 'mreq', '1Y': `${n}v` });
  }
  return {
    parts: [...parts],
    nets: [...nets].map(([name, pins]) => ({
      name,
      pins,
      ...(name === 'VCC' ? { fed: 1 as const } : name === 'GND' ? { fed: 0 as const } : {}),
    })),
  };
}

// LD SP; loop: read, add, write memory, call, push, pop, output, input, count. Hand-assembled.
const code = [
  0x31, 0x00, 0xf0, 0x21, 0x00, 0x90, 0x06, 0x00, 0x7e, 0x80, 0x77, 0x23, 0xd3, 0x00, 0xdb, 0x00, 0xd3, 0x01, 0xdb,
  0x01, 0xc5, 0xc1, 0xcd, 0x1f, 0x00, 0x04, 0xcb, 0x5c, 0x18, 0xe9, 0x00, 0x7c, 0xe6, 0x1f, 0xf6, 0x80, 0x67, 0xc9,
];
const image = new Uint8Array(32768);
image.set(code);

/** What the machine holds. */
export const contents: SimContents = { images: new Map([['ROM', image]]), flipFlops: 'random' };

/** The machine as a circuit, with a hand at /RESET as its last source: nothing is held, so that no net goes the slow way. */
export function wiredMachine(copies: number): { readonly netlist: SimNetlist; readonly circuit: Circuit } {
  const netlist = machine(copies);
  const { value, findings } = buildCircuit(netlist, contents);
  for (const finding of findings) console.log(finding.message);
  const reset = { name: 'reset', net: value.nets.indexOf('reset'), rateHz: undefined, start: 2 };
  return { netlist, circuit: { ...value, sources: [...value.sources, reset] } };
}
