// Memories, serial port, supervisor, oscillator of the bench machine, by pin number; written from the makers' tables (28C256
// and 62256 function tables; National PC16550D registers, tables II to IV), not from the simulator's models.
`timescale 1 ns / 1 ns

// 28-pin memories share their pins from 2764 on. KIND 0 ROM (writes are ignored: protected), 1 RAM.
module memory28 #(parameter D = 100, parameter SEED = 1, parameter BITS = 15, parameter RAM = 0, parameter FILE = "")
  (input [28:1] i, output [28:1] o);
  reg [7:0] m [0:(1 << BITS) - 1];
  wire [15:0] all = {BITS > 15 ? i[1] : 1'b0, BITS > 14 ? i[1] : 1'b0, BITS > 13 ? i[26] : 1'b0, i[2], i[23], i[21], i[24], i[25],
                     i[3], i[4], i[5], i[6], i[7], i[8], i[9], i[10]};
  wire [BITS-1:0] a = all[BITS-1:0];
  wire [7:0] d = {i[19], i[18], i[17], i[16], i[15], i[13], i[12], i[11]};
  wire [7:0] q = m[a];
  wire on = ~i[20] & ~i[22] & (i[27] | (BITS == 16));
  // Makers give a third or less of the access time for letting go.
  assign #(D, D, D / 4 + 5) {o[19], o[18], o[17], o[16], o[15], o[13], o[12], o[11]} = on ? q : 8'bz;
  integer k, seed;
  initial begin
    seed = SEED;
    for (k = 0; k < (1 << BITS); k = k + 1) m[k] = RAM ? $random(seed) : 8'hff;
    if (FILE != "") $readmemh(FILE, m);
  end
  // The byte is taken where the write ends: at the rise of /WE or /CE, whichever is first.
  wire wr = RAM && !i[20] && !i[27];
  reg [BITS-1:0] wa; reg [7:0] wd;
  always @* if (wr) begin wa = a; wd = d; end
  always @(negedge wr) m[wa] = wd;
endmodule
module chip_28C256 #(parameter D = 100, parameter SEED = 1, parameter FILE = "") (input [28:1] i, output [28:1] o);
  memory28 #(D, SEED, 15, 0, FILE) g(i, o);
endmodule
module chip_62256 #(parameter D = 60, parameter SEED = 1, parameter FILE = "") (input [28:1] i, output [28:1] o);
  memory28 #(D, SEED, 15, 1, FILE) g(i, o);
endmodule
// The smaller ones select by /CE alone here (pin 26 of the 6264 is a second, high one).
module chip_28C64 #(parameter D = 100, parameter SEED = 1, parameter FILE = "") (input [28:1] i, output [28:1] o);
  memory28 #(D, SEED, 13, 0, FILE) g(i, o);
endmodule
module chip_6264 #(parameter D = 60, parameter SEED = 1, parameter FILE = "") (input [28:1] i, output [28:1] o);
  memory28 #(D, SEED, 13, 1, FILE) g({i[28:21], i[20] | ~i[26], i[19:1]}, o);
endmodule

module chip_oscillator #(parameter D = 1, parameter SEED = 1, parameter HALF = 135) (input [14:1] i, output [14:1] o);
  reg ck;
  initial begin ck = 0; forever #HALF ck = ~ck; end
  assign o[8] = ck;
endmodule
module chip_oscillator_8 #(parameter D = 1, parameter SEED = 1, parameter HALF = 135) (input [8:1] i, output [8:1] o);
  reg ck;
  initial begin ck = 0; forever #HALF ck = ~ck; end
  assign o[5] = ck;
endmodule

// Three leads: 1 /RST open drain, 2 supply, 3 ground. Lets go PULSE after power, and PULSE after a button lets go of its line.
module chip_supervisor3 #(parameter D = 50, parameter SEED = 1, parameter PULSE = 20000) (input [3:1] i, output [3:1] o);
  reg low;
  initial begin low = 1; #PULSE low = 0; end
  always @(posedge i[1]) if (!low && held) begin low = 1; held = 0; #PULSE low = 0; end
  // A press shorter than a microsecond is none.
  reg held;
  initial held = 0;
  always @(negedge i[1]) begin #1000 if (!i[1] && !low) held = 1; end
  assign #D o[1] = low ? 1'b0 : 1'bz;
endmodule

// Six pins: 1 ground, 2 CTS in, 3 supply, 4 TXD out of the adapter, 5 RXD into it, 6 RTS out. What it receives is printed.
module chip_serial6 #(parameter D = 1, parameter SEED = 1, parameter BIT = 104167) (input [6:1] i, output [6:1] o);
  assign o[4] = 1'b1;
  assign o[6] = 1'b0;
  integer k; reg [7:0] c;
  always begin
    @(negedge i[5]);
    #(BIT / 2);
    if (!i[5]) begin
      for (k = 0; k < 8; k = k + 1) begin #BIT c[k] = i[5]; end
      #BIT if (i[5]) $display("serial %h", c);
    end
  end
endmodule

module chip_16550 #(parameter D = 60, parameter SEED = 1, parameter FIFO = 1) (input [40:1] i, output [40:1] o);
  wire sel = i[12] & i[13] & ~i[14] & ~i[25];
  wire rd = sel & (~i[21] | i[22]), wr = sel & (~i[18] | i[19]) & ~rd;
  wire [2:0] a = {i[26], i[27], i[28]};
  wire [7:0] d = i[8:1];
  wire reset = i[35];
  reg [7:0] ier, lcr, mcr, fcr, scr, dll, dlm, shift, rshift;
  reg [7:0] tq [0:15]; reg [7:0] rq [0:15];
  reg [4:0] tn, rn; reg [3:0] th, rh;
  reg [3:0] tleft; reg sending; reg [9:0] frame; integer ttick, rtick, rbit, baud;
  reg thre_due, oe, sout, rxing, clk16;
  reg [3:0] msr_d; reg [3:0] lines_was;
  integer seed;
  wire [4:0] depth = (FIFO && fcr[0]) ? 16 : 1;
  wire dr = rn != 0, thre = tn == 0, temt = thre & ~sending;
  wire [7:0] lsr = {1'b0, temt, thre, 3'b000, oe, dr};
  wire [3:0] lines = ~{i[38], i[39], i[37], i[36]};
  wire [7:0] msr = mcr[4] ? {mcr[3], mcr[2], mcr[0], mcr[1], msr_d} : {lines, msr_d};
  wire [3:0] level = fcr[7:6] == 0 ? 1 : fcr[7:6] == 1 ? 4 : fcr[7:6] == 2 ? 8 : 14;
  wire rx_irq = ier[0] && (fcr[0] ? rn >= level : dr);
  wire [3:0] id = (ier[2] && oe) ? 4'h6 : rx_irq ? 4'h4 : (ier[1] && thre_due) ? 4'h2 : (ier[3] && msr_d != 0) ? 4'h0 : 4'h1;
  wire [7:0] iir = {{2{fcr[0]}}, 2'b00, id};
  reg [7:0] q;
  always @* case (a)
    0: q = lcr[7] ? dll : rq[rh];
    1: q = lcr[7] ? dlm : ier;
    2: q = iir; 3: q = lcr; 4: q = mcr; 5: q = lsr; 6: q = msr; default: q = scr;
  endcase
  assign #(D, D, D / 4 + 5) o[8:1] = rd ? q : 8'bz;
  wire line = mcr[4] ? 1'b1 : sout;
  assign #D o[11] = line;
  assign #D o[15] = clk16;
  assign #D o[17] = ~i[16];
  assign #D o[23] = ~rd;
  assign #D o[24] = ~thre;
  assign #D o[29] = ~dr;
  assign #D o[30] = ~id[0];
  assign #D o[31] = mcr[4] | ~mcr[3];
  assign #D o[32] = mcr[4] | ~mcr[1];
  assign #D o[33] = mcr[4] | ~mcr[0];
  assign #D o[34] = mcr[4] | ~mcr[2];

  task clear; begin
    ier = 0; lcr = 0; mcr = 0; fcr = 0; tn = 0; rn = 0; th = 0; rh = 0; sending = 0; sout = 1;
    thre_due = 0; oe = 0; rxing = 0; msr_d = 0; ttick = 0; rbit = 0; rtick = 0;
  end endtask
  initial begin
    seed = SEED;
    {scr, dll, dlm} = $random(seed);
    clear; clk16 = 1; baud = 0; lines_was = lines;
  end
  always @(posedge reset) clear;

  // What a strobe did counts when it ends, with the address and data that stood until then.
  reg [2:0] at; reg [7:0] byte_in;
  always @* if (wr) begin at = a; byte_in = d; end
  always @* if (rd) at = a;
  always @(negedge wr) if (!reset) case (at)
    0: if (lcr[7]) dll = byte_in;
       else begin
         if (tn < depth) begin tq[th + tn] = byte_in; tn = tn + 1; end
         thre_due = 0;
       end
    1: if (lcr[7]) dlm = byte_in;
       else begin if (byte_in[1] && !ier[1] && thre) thre_due = 1; ier = byte_in & 8'h0f; end
    2: if (FIFO) begin
         if ((byte_in[0] != fcr[0]) || byte_in[1]) begin rn = 0; rh = 0; end
         if ((byte_in[0] != fcr[0]) || byte_in[2]) begin tn = 0; th = 0; end
         fcr = byte_in[0] ? byte_in & 8'hc9 : 8'h00;
       end
    3: lcr = byte_in;
    4: mcr = byte_in & 8'h1f;
    7: scr = byte_in;
    default: ;
  endcase
  always @(negedge rd) case (at)
    0: if (!lcr[7] && rn != 0) begin rn = rn - 1; rh = rh + 1; end
    2: if (id == 4'h2) thre_due = 0;
    5: oe = 0;
    6: msr_d = 0;
    default: ;
  endcase
  always @(lines) begin
    msr_d = msr_d | (lines ^ lines_was) & 4'b1011 | {1'b0, lines_was[2] & ~lines[2], 2'b00};
    lines_was = lines;
  end

  // Sixteen times the rate of the line.
  wire [15:0] divisor = {dlm, dll};
  integer bits;
  always @(posedge i[16]) if (divisor != 0 && !reset) begin
    baud = baud + 1;
    if (baud >= divisor) begin
      baud = 0;
      clk16 = 0;
      if (!sending && tn != 0) begin
        shift = tq[th]; th = th + 1; tn = tn - 1;
        if (tn == 0) thre_due = 1;
        bits = 5 + lcr[1:0];
        sending = 1; ttick = 0; tleft = 1 + bits + (lcr[3] ? 1 : 0) + (lcr[2] ? 2 : 1);
      end
      if (sending) begin
        if (ttick == 0) sout = 0;
        else if (ttick % 16 == 0) begin
          if (ttick / 16 <= bits) sout = shift[ttick / 16 - 1];
          else if (lcr[3] && ttick / 16 == bits + 1) sout = lcr[4] ? ^shift : ~^shift;
          else sout = 1;
        end
        ttick = ttick + 1;
        if (ttick >= tleft * 16) sending = 0;
      end
    end else if (baud * 2 >= divisor) clk16 = 1;
  end
  wire sin = mcr[4] ? sout : i[10];
  always @(posedge i[9]) if (!reset) begin
    if (!rxing) begin if (!sin) begin rxing = 1; rtick = 0; rbit = 0; end end
    else begin
      rtick = rtick + 1;
      if (rtick % 16 == 8) begin
        if (rtick == 8) begin if (sin) rxing = 0; end
        else begin
          rbit = rtick / 16;
          if (rbit <= 5 + lcr[1:0]) rshift[rbit - 1] = sin;
          else if (!(lcr[3] && rbit == 6 + lcr[1:0])) begin
            rxing = 0;
            if (rn < depth) begin rq[rh + rn] = rshift; rn = rn + 1; end else oe = 1;
          end
        end
      end
    end
  end
endmodule
module chip_16C550 #(parameter D = 60, parameter SEED = 1) (input [40:1] i, output [40:1] o);
  chip_16550 #(D, SEED, 1) g(i, o);
endmodule
module chip_16C450 #(parameter D = 60, parameter SEED = 1) (input [40:1] i, output [40:1] o);
  chip_16550 #(D, SEED, 0) g(i, o);
endmodule
// The same with leads 1 ground, 2 /RST, 3 supply.
module chip_supervisor_1233 #(parameter D = 50, parameter SEED = 1, parameter PULSE = 20000) (input [3:1] i, output [3:1] o);
  reg low;
  initial begin low = 1; #PULSE low = 0; end
  assign #D o[2] = low ? 1'b0 : 1'bz;
endmodule
