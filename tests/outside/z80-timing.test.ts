// The Z80's pins by half clock against the maker's timing diagrams: Zilog UM0080 (UM008007), figures 5 to 11 and the text
// beside them; which edge of the clock moves each output also from the AC characteristics of PS0178 (TdCr from a rising,
// TdCf from a falling edge). Two characters a T-state: the half after the rising edge, the half after the falling one.

import { describe, expect, test } from 'vitest';
import { Z80 } from '../../src/sim/index.ts';
import { Z80Bench } from '../support/z80-bench.ts';

const hexOf = (value: number, count: number): string[] => Array.from({ length: count }, () => value.toString(16));

describe('machine cycles', () => {
  test('figure 5: opcode fetch', () => {
    const bench = new Z80Bench([0x00]).set(Z80.I, 0x3c).set(Z80.R, 0xff).clocks(4);
    //                               T1T2T3T4
    expect(bench.line('M1')).toBe('____~~~~');
    expect(bench.line('MREQ')).toBe('~___~__~');
    expect(bench.line('RD')).toBe('~___~~~~');
    expect(bench.line('RFSH')).toBe('~~~~____');
    expect(bench.line('IORQ')).toBe('~~~~~~~~');
    expect(bench.line('WR')).toBe('~~~~~~~~');
    // The refresh address: I above, R below; R counts in seven bits and keeps its eighth.
    expect(bench.addresses()).toEqual([...hexOf(0, 4), ...hexOf(0x3cff, 4)]);
    expect(bench.get(Z80.R)).toBe(0x80);
  });

  test('figure 5: /WAIT is sampled at the falling edge of T2 and of each wait state', () => {
    // T2 falls at half 3, the wait state at half 5.
    const once = new Z80Bench([0x00]).clocks(5, [['WAIT', 3, 4]]);
    //                              T1T2TWT3T4
    expect(once.line('M1')).toBe('______~~~~');
    expect(once.line('MREQ')).toBe('~_____~__~');
    expect(once.get(Z80.INSTRUCTIONS)).toBe(1);
    const twice = new Z80Bench([0x00]).clocks(6, [['WAIT', 3, 6]]);
    expect(twice.line('RD')).toBe('~_______~~~~'.slice(0, 12));
    const unseen = new Z80Bench([0x00]).clocks(4, [
      ['WAIT', 0, 3],
      ['WAIT', 4, 8],
    ]);
    expect(unseen.get(Z80.INSTRUCTIONS)).toBe(1);
  });

  test('figure 6: memory read and write', () => {
    const bench = new Z80Bench([0x35]).set(Z80.H, 0x80).set(Z80.L, 0x01); // DEC (HL): 4, 4, 3
    bench.memory[0x8001] = 0x10;
    bench.clocks(12);
    //                                       T1T2T3T4T1T2T3
    expect(bench.line('MREQ', 8, 22)).toBe('~____~~~~____~');
    expect(bench.line('RD', 8, 22)).toBe('~____~~~~~~~~~');
    expect(bench.line('WR', 8, 22)).toBe('~~~~~~~~~~~__~');
    expect(bench.line('M1', 8, 22)).toBe('~~~~~~~~~~~~~~');
    expect(bench.driven(16, 23)).toBe('- 0f 0f 0f 0f 0f -');
    expect(bench.addresses(8, 22)).toEqual(hexOf(0x8001, 14));
    expect(bench.memory[0x8001]).toBe(0x0f);
  });

  test('figure 6: /WAIT stretches a read and a write', () => {
    const read = new Z80Bench([0x7e]).set(Z80.H, 0x80).clocks(8, [['WAIT', 8 + 3, 8 + 4]]);
    expect(read.line('RD', 8)).toBe('~______~');
    expect(read.get(Z80.INSTRUCTIONS)).toBe(1);
    const write = new Z80Bench([0x77])
      .set(Z80.H, 0x80)
      .set(Z80.A, 0x55)
      .clocks(8, [['WAIT', 8 + 3, 8 + 4]]);
    expect(write.line('WR', 8)).toBe('~~~____~');
    expect(write.memory[0x8000]).toBe(0x55);
  });

  test('figure 7: input and output have a wait state of their own', () => {
    const input = new Z80Bench([0xdb, 0x20]).set(Z80.A, 0x12);
    input.bus = 0xa5;
    input.clocks(11);
    //                                      T1T2TWT3
    expect(input.line('IORQ', 14)).toBe('~~_____~');
    expect(input.line('RD', 14)).toBe('~~_____~');
    expect(input.line('MREQ', 14)).toBe('~~~~~~~~');
    expect(input.addresses(14)).toEqual(hexOf(0x1220, 8));
    expect(input.get(Z80.A)).toBe(0xa5);
    const output = new Z80Bench([0xd3, 0x28]).set(Z80.A, 0x7e).clocks(11);
    expect(output.line('IORQ', 14)).toBe('~~_____~');
    expect(output.line('WR', 14)).toBe('~~_____~');
    expect(output.line('RD', 14)).toBe('~~~~~~~~');
    expect(output.driven(14)).toBe('- 7e 7e 7e 7e 7e 7e 7e');
    expect(output.outputs).toEqual([[0x7e28, 0x7e]]);
  });

  test('figure 7: /WAIT is sampled in the wait state, not in T2', () => {
    const early = new Z80Bench([0xdb, 0x20]).clocks(11, [['WAIT', 14 + 3, 14 + 4]]);
    expect(early.get(Z80.INSTRUCTIONS)).toBe(1);
    const late = new Z80Bench([0xdb, 0x20]).clocks(12, [['WAIT', 14 + 5, 14 + 6]]);
    expect(late.line('IORQ', 14)).toBe('~~_______~');
    expect(late.get(Z80.INSTRUCTIONS)).toBe(1);
  });
});

describe('bus request, figure 8', () => {
  // Sampled at the rising edge of the last T-state of a machine cycle (half 6 of a fetch); the bus floats and /BUSACK falls from
  // the next rising edge; at each rising edge it is sampled again, /BUSACK rises from the falling edge after.
  test('the bus floats at the end of the machine cycle', () => {
    const bench = new Z80Bench([0x3e, 0x11]).clocks(10, [['BUSREQ', 6, 12]]);
    //                                T1T2T3T4TxTxTxT1T2T3
    expect(bench.line('BUSACK')).toBe('~~~~~~~~_____~~~~~~~');
    expect(bench.line('MREQ')).toBe('~___~__~------~____~');
    expect(bench.line('RD')).toBe('~___~~~~------~____~');
    expect(bench.line('M1')).toBe('____~~~~~~~~~~~~~~~~');
    expect(bench.addresses(8, 16)).toEqual([...Array(6).fill('-'), '1', '1']);
    expect(bench.get(Z80.A)).toBe(0x11);
  });

  test('a request that comes after the sample waits for the next machine cycle', () => {
    const bench = new Z80Bench([0x3e, 0x11, 0x00]).clocks(9, [['BUSREQ', 7, 18]]);
    expect(bench.line('BUSACK', 8)).toBe('~~~~~~____');
  });

  test('no interrupt is taken meanwhile (text beside figure 8); a pending /NMI follows', () => {
    const bench = new Z80Bench([0x00, 0x00, 0x00]).set(Z80.SPH, 0x90);
    bench.clocks(20, [
      ['BUSREQ', 4, 20],
      ['NMI', 10, 12],
    ]);
    expect(bench.line('BUSACK', 8, 24)).toBe('_____________~~~');
    // The instruction after the bus comes back is fetched, then the interrupt.
    bench.clocks(9);
    expect(bench.get(Z80.PC)).toBe(0x66);
  });

  test('a halted processor keeps /HALT low while the bus is away', () => {
    const bench = new Z80Bench([0x76]).clocks(12, [['BUSREQ', 14, 20]]);
    expect(bench.line('HALT')).toBe('~~~~~~~_________________');
    expect(bench.line('BUSACK', 14)).toBe('~~_____~~~');
  });
});

describe('interrupts', () => {
  test('figure 9: acknowledge, with two wait states of its own', () => {
    const bench = new Z80Bench([0x00]).set(Z80.IFF1, 1).set(Z80.IFF2, 1).set(Z80.IM, 1).set(Z80.SPH, 0x90);
    bench.clocks(4 + 13, [['INT', 6, 7]]);
    const from = 8;
    //                                           T1T2TWTWT3T4
    expect(bench.line('M1', from, 20)).toBe('________~~~~');
    expect(bench.line('IORQ', from, 20)).toBe('~~~~~___~~~~');
    expect(bench.line('MREQ', from, 20)).toBe('~~~~~~~~~__~');
    expect(bench.line('RD', from, 20)).toBe('~~~~~~~~~~~~');
    expect(bench.line('RFSH', from, 20)).toBe('~~~~~~~~____');
    expect(bench.addresses(from, from + 8)).toEqual(hexOf(1, 8));
    // Mode 1: a restart at 0x38, 13 clocks in all.
    expect(bench.get(Z80.PC)).toBe(0x38);
    expect(bench.get(Z80.INSTRUCTIONS)).toBe(2);
    expect([bench.get(Z80.IFF1), bench.get(Z80.IFF2)]).toEqual([0, 0]);
    expect([bench.memory[0x8fff], bench.memory[0x8ffe]]).toEqual([0, 1]);
  });

  test('figure 9: /WAIT is sampled in the second wait state', () => {
    const bench = new Z80Bench([0x00]).set(Z80.IFF1, 1).set(Z80.IM, 1).set(Z80.SPH, 0x90);
    bench.clocks(4 + 14, [
      ['INT', 6, 7],
      ['WAIT', 8 + 7, 8 + 8],
    ]);
    expect(bench.line('IORQ', 8, 22)).toBe('~~~~~_____~~~~');
    expect(bench.get(Z80.PC)).toBe(0x38);
  });

  test('/INT is sampled at the rising edge of the last T-state, when interrupts are on', () => {
    const taken = (low: readonly [number, number], on: number): boolean => {
      const bench = new Z80Bench([0x00]).set(Z80.IFF1, on).set(Z80.IM, 1).set(Z80.SPH, 0x90);
      bench.clocks(17, [['INT', ...low]]);
      return bench.get(Z80.PC) === 0x38;
    };
    expect(taken([6, 7], 1)).toBe(true);
    expect(taken([0, 6], 1)).toBe(false);
    expect(taken([7, 14], 1)).toBe(false);
    expect(taken([6, 7], 0)).toBe(false);
  });

  test('an active /BUSREQ keeps /INT from being taken', () => {
    const bench = new Z80Bench([0x00]).set(Z80.IFF1, 1).set(Z80.IM, 1).set(Z80.SPH, 0x90);
    bench.clocks(12, [
      ['INT', 6, 7],
      ['BUSREQ', 6, 10],
    ]);
    expect(bench.get(Z80.IFF1)).toBe(1);
  });

  test('mode 0: the byte on the bus is the instruction, two clocks longer than fetched', () => {
    const bench = new Z80Bench([0x00]).set(Z80.IFF1, 1).set(Z80.SPH, 0x90);
    bench.bus = 0xdf; // RST 18
    bench.clocks(4 + 13, [['INT', 6, 7]]);
    expect([bench.get(Z80.PC), bench.get(Z80.INSTRUCTIONS), bench.memory[0x8ffe]]).toEqual([0x18, 2, 1]);
  });

  test('mode 0: further bytes are memory reads that do not move the program counter', () => {
    const bench = new Z80Bench([0x00, 0x34]).set(Z80.IFF1, 1).set(Z80.SPH, 0x90);
    bench.bus = 0xcd; // CALL: both bytes of the address are read while PC stays at 1
    bench.clocks(4 + 19, [['INT', 6, 7]]);
    expect([bench.get(Z80.PC), bench.get(Z80.INSTRUCTIONS), bench.memory[0x8ffe]]).toEqual([0x3434, 2, 1]);
  });

  test('mode 2: I and the vector point at the address, 19 clocks', () => {
    const bench = new Z80Bench([0x00]).set(Z80.IFF1, 1).set(Z80.IM, 2).set(Z80.I, 0x41).set(Z80.SPH, 0x90);
    bench.bus = 0x06;
    bench.memory.set([0x78, 0x56], 0x4106);
    bench.clocks(4 + 19, [['INT', 6, 7]]);
    expect([bench.get(Z80.PC), bench.get(Z80.INSTRUCTIONS), bench.memory[0x8ffe]]).toEqual([0x5678, 2, 1]);
  });

  test('EI: not before the instruction after it', () => {
    const bench = new Z80Bench([0xfb, 0x00, 0x00]).set(Z80.IM, 1).set(Z80.SPH, 0x90);
    bench.clocks(4 + 4 + 13, [['INT', 0, 40]]);
    expect([bench.get(Z80.PC), bench.memory[0x8ffe]]).toEqual([0x38, 2]);
  });

  test('no interrupt comes between a prefix and what it is for', () => {
    const bench = new Z80Bench([0xdd, 0x23]).set(Z80.IFF1, 1).set(Z80.IM, 1).set(Z80.SPH, 0x90);
    bench.clocks(10 + 13, [['INT', 0, 24]]);
    expect([bench.pair(Z80.IXH), bench.get(Z80.PC), bench.memory[0x8ffe]]).toEqual([1, 0x38, 2]);
  });

  test('figure 10: non-maskable, edge-triggered, 11 clocks to 0x66, IFF2 keeps IFF1', () => {
    const bench = new Z80Bench([0x00, 0x00]).set(Z80.IFF1, 1).set(Z80.IFF2, 1).set(Z80.SPH, 0x90);
    bench.memory.set([0xed, 0x45], 0x66); // RETN
    bench.clocks(4 + 11, [['NMI', 2, 100]]);
    expect(bench.line('M1', 8, 18)).toBe('____~~~~~~');
    expect(bench.line('MREQ', 8, 18)).toBe('~___~__~~~');
    expect(bench.line('RD', 8, 18)).toBe('~___~~~~~~');
    expect([bench.get(Z80.PC), bench.memory[0x8ffe], bench.get(Z80.IFF1), bench.get(Z80.IFF2)]).toEqual([
      0x66, 1, 0, 1,
    ]);
    // Still low: it does not come again; RETN takes 14 clocks and brings IFF1 back.
    bench.clocks(14, [['NMI', 2, 100]]);
    expect([bench.get(Z80.PC), bench.get(Z80.IFF1)]).toEqual([1, 1]);
    bench.clocks(4, [['NMI', 2, 100]]);
    expect(bench.get(Z80.PC)).toBe(2);
  });

  test('figure 11: a halt runs no-operations with refresh until an interrupt', () => {
    const bench = new Z80Bench([0x76, 0x3c]).set(Z80.IFF1, 1).set(Z80.IM, 1).set(Z80.SPH, 0x90);
    // /HALT falls from the falling edge of T4 (PS0178, TdCf(HALT)); requests are sampled at each T4.
    bench.clocks(4 + 4 + 4 + 13, [['INT', 8 + 8 + 6, 8 + 8 + 7]]);
    expect(bench.line('HALT', 0, 28)).toBe('~~~~~~~________________~~~~~');
    expect(bench.line('M1', 8, 24)).toBe('____~~~~____~~~~');
    expect(bench.line('RFSH', 8, 24)).toBe('~~~~____~~~~____');
    expect(bench.addresses(8, 12)).toEqual(hexOf(1, 4));
    expect([bench.get(Z80.PC), bench.memory[0x8ffe], bench.get(Z80.A)]).toEqual([0x38, 1, 0]);
  });
});

describe('reset', () => {
  test('three clocks low: buses float, control is inactive, two clocks later the first fetch at 0', () => {
    const bench = new Z80Bench([0x00, 0x00, 0xc3, 0x00, 0x40]).set(Z80.I, 0x77).set(Z80.IFF1, 1).set(Z80.IM, 2);
    bench.clocks(6);
    bench.halves(14, [['RESET', 12, 20]]);
    // Found low at the rising edges of halves 12, 14 and 16.
    expect(bench.addresses(12, 24).map((text) => text === '-')).toEqual([
      ...[false, false, false, false],
      ...Array(8).fill(true),
    ]);
    expect(bench.line('M1', 16, 26)).toBe('~~~~~~~~__');
    expect(bench.line('MREQ', 16, 26)).toBe('~~~~~~~~~_');
    expect(bench.addresses(24, 26)).toEqual(['0', '0']);
    expect([bench.get(Z80.I), bench.get(Z80.R), bench.get(Z80.IFF1), bench.get(Z80.IM)]).toEqual([0, 0, 0, 0]);
  });

  test('out of power-up nothing is known before a reset; too short a reset is no reset', () => {
    const bench = new Z80Bench([0x3e, 0x42]);
    bench.set(Z80.LOST, 0);
    const fresh = new Z80Bench([0x3e, 0x42]);
    fresh.halves(8, [['RESET', 2, 6]]);
    expect(fresh.get(Z80.LOST)).toBe(Z80.LOST_SHORT_RESET);
    expect(fresh.line('MREQ', 6)).toBe('??');
    fresh.clocks(14, [['RESET', 10, 18]]);
    expect([fresh.get(Z80.LOST), fresh.get(Z80.A)]).toEqual([0, 0x42]);
  });
});

describe('NMOS and CMOS', () => {
  // Differences as the maker states them in its answers on the family; from memory.
  test('OUT (C),0 puts out 00 on NMOS and FF on CMOS', () => {
    for (const [technology, byte] of [
      ['NMOS', 0],
      ['CMOS', 0xff],
    ] as const) {
      const bench = new Z80Bench([0xed, 0x71], technology).set(Z80.C, 0x28).clocks(12);
      expect(bench.outputs).toEqual([[0x28, byte]]);
    }
  });

  test('LD A,I that is interrupted clears P/V on NMOS only', () => {
    for (const [technology, parity] of [
      ['NMOS', 0],
      ['CMOS', 4],
    ] as const) {
      const bench = new Z80Bench([0xed, 0x57], technology).set(Z80.SPH, 0x90).set(Z80.IM, 1);
      bench.set(Z80.IFF1, 1).set(Z80.IFF2, 1);
      bench.clocks(9 + 13, [['INT', 16, 17]]);
      expect([bench.get(Z80.PC), bench.get(Z80.F) & 4]).toEqual([0x38, parity]);
    }
  });
});

describe('unknown levels', () => {
  const lost = (bench: Z80Bench): number => bench.get(Z80.LOST);
  test('an unknown opcode loses the processor until a reset', () => {
    const bench = new Z80Bench([0x3e, 0x42]);
    bench.unknown = 0x10;
    bench.clocks(5);
    expect(lost(bench)).toBe(Z80.LOST_OPCODE);
    expect(bench.line('M1')).toBe('____~~~~??');
    bench.unknown = 0;
    bench.clocks(13, [['RESET', 10, 18]]);
    expect([lost(bench), bench.get(Z80.A)]).toEqual([0, 0x42]);
  });

  test('unknown data is counted, or loses it when strict', () => {
    for (const strict of [0, 1]) {
      const bench = new Z80Bench([0xdb, 0x20]).set(Z80.STRICT, strict);
      bench.clocks(7);
      bench.unknown = 0x81;
      bench.clocks(4);
      expect([bench.get(Z80.UNSURE), lost(bench)]).toEqual([1, strict ? Z80.LOST_DATA : 0]);
    }
  });

  test.each([
    ['WAIT', 3, 4, Z80.LOST_WAIT],
    ['BUSREQ', 6, 7, Z80.LOST_BUSREQ],
    ['INT', 6, 7, Z80.LOST_INT],
    ['NMI', 2, 3, Z80.LOST_NMI],
    ['RESET', 2, 3, Z80.LOST_RESET],
  ] as const)('an unknown /%s when it is sampled', (name, from, to, reason) => {
    const bench = new Z80Bench([0x00, 0x00]).set(Z80.IFF1, 1);
    bench.clocks(7, [[name, from, to, 'unknown']]);
    expect(lost(bench)).toBe(reason);
    expect(bench.line('MREQ').at(-1)).toBe('?');
    // An unknown /INT is nothing to a processor with interrupts off.
    const off = new Z80Bench([0x00, 0x00]);
    off.clocks(7, [[name, from, to, 'unknown']]);
    expect(lost(off)).toBe(name === 'INT' ? 0 : reason);
  });
});

test('a copy of the state goes on as the original does', () => {
  const bench = new Z80Bench([0x21, 0, 0x80, 0x34, 0x23, 0xc3, 3, 0]).clocks(23);
  const copy = new Z80Bench([0x21, 0, 0x80, 0x34, 0x23, 0xc3, 3, 0]);
  copy.state = bench.state.slice();
  copy.memory.set(bench.memory);
  const before = bench.seen.length;
  bench.clocks(60);
  copy.clocks(60);
  expect(copy.seen).toEqual(bench.seen.slice(before));
});
