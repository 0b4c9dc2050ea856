// The words of a Z80's state: one slice of an Int32Array, so that a snapshot is a copy and a compiled kernel can keep the
// processor inside the machine's own array. Word n of a processor whose slice starts at `base` is `state[base + n]`.
// This file knows no timing and no instructions.

/** Eight-bit registers, one a word. A pair is named by the word of its high byte; the low byte follows. */
export const B = 0;
export const C = 1;
export const D = 2;
export const E = 3;
export const H = 4;
export const L = 5;
export const A = 6;
export const F = 7;
export const IXH = 8;
export const IXL = 9;
export const IYH = 10;
export const IYL = 11;
export const SPH = 12;
export const SPL = 13;
/** The internal address register (also called MEMPTR); it shows in the undocumented flags of BIT n,(HL). */
export const W = 14;
export const Z = 15;
/** B' C' D' E' H' L' A' F' follow each other from here. */
export const ALTERNATE = 16;
export const PC = 24;
export const I = 25;
export const R = 26;
/** Interrupt mode: 0, 1 or 2. */
export const IM = 27;
export const IFF1 = 28;
export const IFF2 = 29;
/** 1 while halted. */
export const HALTED = 30;
/** Flags as the instruction in hand left them, 0 when it leaves them alone; SCF and CCF of the next one look at it. */
export const Q = 31;
/** Q of the instruction before the one in hand. */
export const LAST_Q = 32;
/** Bit 0: the instruction in hand is EI; bit 1: it is LD A,I or LD A,R. */
export const RECENT = 33;
/** 0 NMOS, 1 CMOS. */
export const VARIANT = 34;
/** 1: a byte of data with unknown bits makes the processor lost; 0: it is taken as given and counted in UNSURE. */
export const STRICT = 35;
/** The edge to come: an index into the tables of phases.ts; even is a rising edge. */
export const PHASE = 36;
/** The micro-step to come. */
export const MICRO = 37;
/** Page of the opcode being fetched (see microcode.ts). */
export const PAGE = 38;
/** Address of the machine cycle to come. */
export const ADDRESS = 39;
/** Byte the machine cycle to come writes. */
export const DATA_OUT = 40;
/** Byte last read, and its unknown bits. */
export const DATA_IN = 41;
export const DATA_IN_UNKNOWN = 42;
export const TEMPORARY = 43;
/** T-states left of an internal operation. */
export const COUNT = 44;
/** The inputs as they were at the rising edge of the latest T-state that may be a machine cycle's last. */
export const LATCH = 45;
/** Things that make every edge look closer: ATTENTION_* bits. */
export const ATTENTION = 46;
/** Rising edges that found /RESET low in a row, 3 at most. */
export const RESET_EDGES = 47;
/** 1; 0 while an instruction given in an interrupt of mode 0 runs: its further bytes are read without moving PC. */
export const PC_STEP = 48;
/** What the address pins drive. */
export const PIN_ADDRESS = 49;
/** What the data pins drive: byte, and DATA_DRIVEN. */
export const PIN_DATA = 50;
/** Levels of the control outputs (1 high), and what floats or is unknown: PIN_* bits. */
export const PIN_CONTROL = 51;
/** Why the outputs are unknown: 0 they are not; a LOST_* number. */
export const LOST = 52;
/** Bytes of data read with unknown bits and taken as given, since reset. */
export const UNSURE = 53;
/** Phase to go on with when the bus comes back. */
export const RESUME = 54;
/** Address of the instruction in hand (its first byte), for views; during an interrupt, where it was taken. */
export const INSTRUCTION_AT = 55;
/** Counts instructions begun (modulo 2^32), interrupts and the no-operations of a halt too. */
export const INSTRUCTIONS = 56;
/** Words of a Z80's state. */
export const Z80_WORDS = 57;

/** Inputs given at each edge: bit set = pin high. */
export const IN_WAIT = 1;
export const IN_INT = 2;
export const IN_NMI = 4;
export const IN_BUSREQ = 8;
export const IN_RESET = 16;
/** All inputs high: nothing asked of the processor. */
export const IN_IDLE = 31;
/** The same bits shifted by this say that a level is unknown. */
export const IN_UNKNOWN_SHIFT = 8;

/** In PIN_CONTROL: level of each output, 1 high. */
export const PIN_M1 = 1;
export const PIN_MREQ = 2;
export const PIN_IORQ = 4;
export const PIN_RD = 8;
export const PIN_WR = 16;
export const PIN_RFSH = 32;
export const PIN_HALT = 64;
export const PIN_BUSACK = 128;
/** All control outputs high. */
export const PIN_ALL = 255;
/** In PIN_CONTROL: A15-A0 float. */
export const PIN_ADDRESS_FLOATS = 256;
/** In PIN_CONTROL: /MREQ, /IORQ, /RD and /WR float (their level bits mean nothing). */
export const PIN_CONTROL_FLOATS = 512;
/** In PIN_CONTROL: every output is unknown. */
export const PIN_UNKNOWN = 1024;
/** In PIN_DATA: D7-D0 are driven. */
export const DATA_DRIVEN = 256;

export const ATTENTION_RESETTING = 1;
export const ATTENTION_NMI_LOW = 2;
export const ATTENTION_NMI_PENDING = 4;

/** Power came on and there was no reset yet. */
export const LOST_POWER_UP = 1;
/** An opcode or an interrupt vector was read with unknown bits. */
export const LOST_OPCODE = 2;
/** A byte of data was read with unknown bits while STRICT is set. */
export const LOST_DATA = 3;
/** /WAIT was unknown when it was sampled. */
export const LOST_WAIT = 4;
/** /BUSREQ was unknown when it was sampled. */
export const LOST_BUSREQ = 5;
/** /INT was unknown when it was sampled with interrupts enabled. */
export const LOST_INT = 6;
/** /NMI was unknown. */
export const LOST_NMI = 7;
/** /RESET was unknown at a rising edge. */
export const LOST_RESET = 8;
/** /RESET was low for fewer than three rising edges: the maker says nothing of what happens then. */
export const LOST_SHORT_RESET = 9;
