// Peripherals of the second machine, by pin number: 6850, Z80 CTC and PIO with their chain of interrupts, seven-segment decoder,
// one-shots, drivers, a character display. Written from the makers' descriptions (Motorola MC6850; Zilog UM0081, chapters CTC and
// PIO; HD44780U tables 3, 6), not from the simulator's models.
`timescale 1 ns / 1 ns

module chip_6850 #(parameter D = 60, parameter SEED = 1) (input [24:1] i, output [24:1] o);
  wire sel = i[8] & i[10] & ~i[9], e = i[14], rs = i[11];
  // The sheet wants R/W held for 10 ns after E; parts are known to live with R/W that moves together with E, as here.
  wire #30 rw = i[13];
  wire [7:0] d = {i[15], i[16], i[17], i[18], i[19], i[20], i[21], i[22]};
  reg [7:0] cr, tdr, rdr; reg tfull, rfull, over, was_reset, txd;
  reg [10:0] frame; integer tleft, tdiv, rdiv, rbit; reg rxing; reg [7:0] rsh;
  integer seed;
  wire dcd = i[23], cts = i[24];
  wire [6:0] ratio = cr[1:0] == 0 ? 1 : cr[1:0] == 1 ? 16 : 64;
  wire irq = (cr[7] & (rfull | over | dcd)) | (cr[6:5] == 2'b01 & ~tfull & ~cts);
  wire [7:0] status = {irq, 1'b0, over, 1'b0, cts, dcd, ~tfull & ~cts, rfull};
  assign #(D, D, D / 4 + 5) {o[15], o[16], o[17], o[18], o[19], o[20], o[21], o[22]} = (sel & e & rw) ? (rs ? rdr : status) : 8'bz;
  assign #D o[5] = cr[6:5] == 2'b10;
  assign #D o[6] = (cr[6:5] == 2'b11) ? 1'b0 : txd;
  assign #D o[7] = irq ? 1'b0 : 1'bz;
  initial begin
    // The part holds itself in reset until the first master reset.
    seed = SEED; cr = 8'h03; tfull = 0; rfull = 0; over = 0; txd = 1; tleft = 0; tdiv = 0; rdiv = 0; rxing = 0; rdr = $random(seed);
  end
  reg doing, drw, drs; reg [7:0] dd;
  always @* if (e) begin doing = sel; drw = rw; drs = rs; dd = d; end
  always @(negedge e) if (doing) begin
    if (!drw && !drs) begin
      cr = dd;
      if (dd[1:0] == 3) begin tfull = 0; rfull = 0; over = 0; tleft = 0; txd = 1; rxing = 0; end
    end else if (!drw) begin tdr = dd; tfull = 1; end
    else if (drs) begin rfull = 0; over = 0; end
  end
  // Eight data bits or seven, parity, stop bits by CR4-CR2.
  wire eight = cr[4], par = (cr[4:2] == 0 || cr[4:2] == 1 || cr[4:2] == 2 || cr[4:2] == 3 || cr[4:2] == 6 || cr[4:2] == 7);
  wire odd = cr[2], two = (cr[4:2] == 0 || cr[4:2] == 1 || cr[4:2] == 4);
  integer bits;
  always @(negedge i[4]) if (cr[1:0] != 3) begin
    tdiv = tdiv + 1;
    if (tdiv >= ratio) begin
      tdiv = 0;
      if (tleft == 0 && tfull && !cts) begin
        bits = eight ? 8 : 7;
        frame = 11'h7ff;
        frame[0] = 0;
        if (eight) frame[8:1] = tdr; else frame[7:1] = tdr[6:0];
        if (par) frame[bits + 1] = (eight ? ^tdr : ^tdr[6:0]) ^ odd;
        tleft = 1 + bits + (par ? 1 : 0) + (two ? 2 : 1);
        tfull = 0;
      end
      if (tleft > 0) begin txd = frame[0]; frame = {1'b1, frame[10:1]}; tleft = tleft - 1; end
      else txd = 1;
    end
  end
  always @(posedge i[3]) if (cr[1:0] != 3) begin
    if (!rxing) begin if (!i[2]) begin rxing = 1; rdiv = 0; end end
    else begin
      rdiv = rdiv + 1;
      if (rdiv % ratio == ratio / 2) begin
        rbit = rdiv / ratio;
        if (rbit == 0) begin if (i[2] && ratio > 1) rxing = 0; end
        else if (rbit <= (eight ? 8 : 7)) rsh[rbit - 1] = i[2];
        else if (!(par && rbit == (eight ? 9 : 8))) begin
          rxing = 0;
          if (rfull) over = 1; else begin rdr = eight ? rsh : {1'b0, rsh[6:0]}; rfull = 1; end
        end
      end
    end
  end
endmodule

// The chain of a part with N askers, the lowest first. A request is a rise of `set`; `off` takes it back.
module daisy #(parameter N = 4, parameter D = 30) (
  input iei, m1, iorq, rd, input [7:0] d, input [N-1:0] set, off,
  output int_low, output ieo, output reg ack, output reg [3:0] who);
  reg [N-1:0] pend, ius, was; reg [7:0] op; reg ed;
  integer k; reg found, blocked; reg [3:0] first;
  initial begin pend = 0; ius = 0; was = 0; ed = 0; ack = 0; who = 0; op = 0; found = 0; first = 0; end
  always @(set or off) begin
    pend = (pend | (set & ~was)) & ~off;
    was = set;
    for (k = 0; k < N; k = k + 1) if (off[k] && !ack) pend[k] = 0;
  end
  always @(pend or ius) begin
    found = 0; blocked = 0; first = 0;
    for (k = 0; k < N; k = k + 1) begin
      if (ius[k]) blocked = 1;
      if (!found && !blocked && pend[k]) begin found = 1; first = k; end
    end
  end
  assign int_low = iei & found;
  // After an ED those that only ask let the chain through, so that a RETI finds the one in service.
  assign ieo = iei & ~|ius & (~|pend | ed);
  always @(negedge iorq) if (!m1 && iei && found) begin ack = 1; who = first; end
  always @(posedge iorq) if (ack) begin ack = 0; pend[who] = 0; ius[who] = 1; end
  always @* if (!m1 && !rd) op = d;
  always @(posedge m1) if (iorq) begin
    if (ed && op == 8'h4d && iei) begin
      found = 0;
      for (k = 0; k < N; k = k + 1) if (!found && ius[k]) begin ius[k] = 0; found = 1; end
      found = 0; blocked = 0; first = 0;
      for (k = 0; k < N; k = k + 1) begin
        if (ius[k]) blocked = 1;
        if (!found && !blocked && pend[k]) begin found = 1; first = k; end
      end
    end
    ed = op == 8'hed;
  end
endmodule

module chip_Z80_CTC #(parameter D = 50, parameter SEED = 1) (input [28:1] i, output [28:1] o);
  wire clk = i[15], m1 = i[14], iorq = i[10], rd = i[6], ce = i[16], reset = i[17];
  wire [1:0] cs = {i[19], i[18]};
  wire [7:0] d = {i[4], i[3], i[2], i[1], i[28], i[27], i[26], i[25]};
  wire [3:0] trg = {i[20], i[21], i[22], i[23]};
  reg [7:0] cw [0:3]; reg [7:0] tc [0:3]; reg [8:0] cnt [0:3]; integer pre [0:3];
  reg [3:0] running, loading, zc, set, off, trg_was, armed; reg [7:3] vec;
  integer k, seed;
  wire int_low, ieo, ack; wire [3:0] who;
  daisy #(4) chain(i[13], m1, iorq, rd, d, set, off, int_low, ieo, ack, who);
  assign #D o[12] = int_low ? 1'b0 : 1'bz;
  assign #D o[11] = ieo;
  assign #D {o[9], o[8], o[7]} = zc[2:0];
  wire reading = ~ce & ~iorq & ~rd & m1;
  wire [7:0] q = ack ? {vec, who[1:0], 1'b0} : cnt[cs][7:0];
  assign #(D, D, D / 4 + 5) {o[4], o[3], o[2], o[1], o[28], o[27], o[26], o[25]} = (ack | reading) ? q : 8'bz;
  task stop; begin
    for (k = 0; k < 4; k = k + 1) begin cw[k] = 8'h00; cnt[k] = 0; pre[k] = 0; tc[k] = 0; end
    running = 0; loading = 0; zc = 0; set = 0; off = 4'hf; armed = 0;
  end endtask
  initial begin seed = SEED; vec = $random(seed); trg_was = 0; stop; end
  always @(reset) if (!reset) stop;
  // A write is a port cycle without /RD; it counts where /IORQ ends, with the data that stood.
  wire writing = ~ce & ~iorq & rd & m1;
  reg [1:0] wc; reg [7:0] wd;
  always @* if (writing) begin wc = cs; wd = d; end
  always @(negedge writing) if (reset) begin
    if (loading[wc]) begin
      tc[wc] = wd; loading[wc] = 0;
      if (!running[wc] || cw[wc][1]) begin cnt[wc] = wd == 0 ? 256 : wd; pre[wc] = 0; end
      cw[wc][1] = 0;
      if (!running[wc]) begin
        if (!cw[wc][6] && cw[wc][3]) armed[wc] = 1;
        else running[wc] = 1;
      end
    end else if (wd[0]) begin
      cw[wc] = wd;
      off[wc] = ~wd[7];
      if (wd[1]) begin running[wc] = 0; armed[wc] = 0; zc[wc] = 0; end
      loading[wc] = wd[2];
    end else if (wc == 0) vec = wd[7:3];
  end
  task down(input integer ch); begin
    cnt[ch] = cnt[ch] - 1;
    if (cnt[ch] == 0) begin
      cnt[ch] = tc[ch] == 0 ? 256 : tc[ch];
      zc[ch] = 1;
      if (cw[ch][7]) set[ch] = 1;
    end
  end endtask
  always @(posedge clk) if (reset) begin
    zc = 0; set = 0;
    for (k = 0; k < 4; k = k + 1) begin
      if (running[k] && !cw[k][6]) begin
        pre[k] = pre[k] + 1;
        if (pre[k] >= (cw[k][5] ? 256 : 16)) begin pre[k] = 0; down(k); end
      end
      if (trg[k] != trg_was[k] && trg[k] == cw[k][4]) begin
        if (armed[k]) begin armed[k] = 0; running[k] = 1; end
        else if (running[k] && cw[k][6]) down(k);
      end
    end
    trg_was = trg;
  end
endmodule

module chip_Z80_PIO #(parameter D = 50, parameter SEED = 1) (input [40:1] i, output [40:1] o);
  wire m1 = i[37], iorq = i[36], rd = i[35], ce = i[4];
  wire control = i[5], port = i[6];
  wire [7:0] d = {i[2], i[3], i[38], i[39], i[40], i[1], i[20], i[19]};
  wire [7:0] pa = {i[7], i[8], i[9], i[10], i[12], i[13], i[14], i[15]};
  wire [7:0] pb = i[34:27];
  reg [7:0] out [0:1]; reg [7:0] dir [0:1]; reg [7:0] mask [0:1]; reg [7:1] vec [0:1]; reg [7:0] latch [0:1];
  reg [1:0] mode [0:1]; reg [7:4] icw [0:1]; reg [1:0] want_dir, want_mask, ie, set, ready, cond, cond_was, stb_was;
  integer k, seed;
  wire int_low, ieo, ack; wire [3:0] who;
  reg [1:0] off;
  daisy #(2) chain(i[24], m1, iorq, rd, d, set, off, int_low, ieo, ack, who);
  assign #D o[23] = int_low ? 1'b0 : 1'bz;
  assign #D o[22] = ieo;
  assign #D o[18] = ready[0];
  assign #D o[21] = ready[1];
  // A set bit of `dir` is an input in mode 3.
  wire [7:0] ena = mode[0] == 3 ? ~dir[0] : mode[0] == 0 ? 8'hff : (mode[0] == 2 && !i[16]) ? 8'hff : 8'h00;
  wire [7:0] enb = mode[1] == 3 ? ~dir[1] : mode[1] == 0 ? 8'hff : 8'h00;
  wire [7:0] outa = out[0], outb = out[1];
  assign #D o[15] = ena[0] ? outa[0] : 1'bz; assign #D o[14] = ena[1] ? outa[1] : 1'bz;
  assign #D o[13] = ena[2] ? outa[2] : 1'bz; assign #D o[12] = ena[3] ? outa[3] : 1'bz;
  assign #D o[10] = ena[4] ? outa[4] : 1'bz; assign #D o[9] = ena[5] ? outa[5] : 1'bz;
  assign #D o[8] = ena[6] ? outa[6] : 1'bz; assign #D o[7] = ena[7] ? outa[7] : 1'bz;
  assign #D o[27] = enb[0] ? outb[0] : 1'bz; assign #D o[28] = enb[1] ? outb[1] : 1'bz;
  assign #D o[29] = enb[2] ? outb[2] : 1'bz; assign #D o[30] = enb[3] ? outb[3] : 1'bz;
  assign #D o[31] = enb[4] ? outb[4] : 1'bz; assign #D o[32] = enb[5] ? outb[5] : 1'bz;
  assign #D o[33] = enb[6] ? outb[6] : 1'bz; assign #D o[34] = enb[7] ? outb[7] : 1'bz;
  wire reading = ~ce & ~iorq & ~rd & m1;
  wire [7:0] seen = port ? (mode[1] == 3 ? (pb & dir[1]) | (outb & ~dir[1]) : mode[1] == 1 ? latch[1] : outb)
                         : (mode[0] == 3 ? (pa & dir[0]) | (outa & ~dir[0]) : mode[0] == 0 ? outa : latch[0]);
  wire [7:0] q = ack ? {vec[who[0]], 1'b0} : seen;
  assign #(D, D, D / 4 + 5) {o[2], o[3], o[38], o[39], o[40], o[1], o[20], o[19]} = (ack | (reading & ~control)) ? q : 8'bz;
  task clear; begin
    for (k = 0; k < 2; k = k + 1) begin out[k] = 0; dir[k] = 8'hff; mask[k] = 8'hff; mode[k] = 1; icw[k] = 0; latch[k] = 0; end
    want_dir = 0; want_mask = 0; ie = 0; set = 0; ready = 0; cond_was = 0; stb_was = 3; off = 3;
  end endtask
  initial begin seed = SEED; vec[0] = $random(seed); vec[1] = $random(seed); clear; end
  // Reset: /M1 low with neither /RD nor /IORQ. The falling /M1 of a fetch comes before its /RD: half a clock is not enough.
  reg was_only;
  always @(posedge i[25]) begin
    was_only <= ~m1 & rd & iorq;
    if (was_only && !m1 && rd && iorq) clear;
  end
  wire writing = ~ce & ~iorq & rd & m1;
  reg wp, wcd; reg [7:0] wd;
  always @* if (writing) begin wp = port; wcd = control; wd = d; end
  always @(negedge writing) begin
    if (!wcd) begin out[wp] = wd; if (mode[wp] == 0) ready[wp] = 1; end
    else if (want_dir[wp]) begin dir[wp] = wd; want_dir[wp] = 0; end
    else if (want_mask[wp]) begin mask[wp] = wd; want_mask[wp] = 0; end
    else if (!wd[0]) vec[wp] = wd[7:1];
    else if (wd[3:0] == 4'hf) begin mode[wp] = wd[7:6]; if (wd[7:6] == 3) want_dir[wp] = 1; ready[wp] = wd[7:6] == 1; end
    else if (wd[3:0] == 4'h7) begin
      icw[wp] = wd[7:4]; ie[wp] = wd[7];
      if (wd[4]) begin want_mask[wp] = 1; set[wp] = 0; off[wp] = 1; end
      off[wp] = wd[4] | ~wd[7];
    end else if (wd[3:0] == 4'h3) begin ie[wp] = wd[7]; off[wp] = ~wd[7]; end
    if (wcd && !want_mask[wp] && ie[wp]) off[wp] = 0;
  end
  // Mode 3: the bits watched reach the wanted level, one or all of them.
  function met(input [7:0] p, m, input [7:4] w);
    met = w[6] ? (((w[5] ? p : ~p) | m) == 8'hff && m != 8'hff) : |((w[5] ? p : ~p) & ~m);
  endfunction
  always @* begin
    cond[0] = mode[0] == 3 && !want_mask[0] && met(pa, mask[0], icw[0]);
    cond[1] = mode[1] == 3 && !want_mask[1] && met(pb, mask[1], icw[1]);
  end
  always @(posedge i[25]) begin
    set = cond & ~cond_was & ie;
    cond_was = cond;
    for (k = 0; k < 2; k = k + 1)
      if (mode[k] != 3 && i[16 + k] && !stb_was[k]) begin
        latch[k] = k == 0 ? pa : pb; ready[k] = 0; if (ie[k]) set[k] = 1;
      end
    stb_was = {i[17], i[16]};
  end
endmodule

module chip_4511 #(parameter D = 25, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  reg [3:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @* if (!i[5]) s = {i[6], i[2], i[1], i[7]};
  reg [6:0] y;
  always @* case (s)
    // a b c d e f g
    0: y = 7'b1111110; 1: y = 7'b0110000; 2: y = 7'b1101101; 3: y = 7'b1111001; 4: y = 7'b0110011;
    5: y = 7'b1011011; 6: y = 7'b0011111; 7: y = 7'b1110000; 8: y = 7'b1111111; 9: y = 7'b1110011;
    default: y = 7'b0000000;
  endcase
  assign #D {o[13], o[12], o[11], o[10], o[9], o[15], o[14]} = !i[3] ? 7'h7f : !i[4] ? 7'h00 : y;
endmodule

// Retriggerable; the length is that of the machine's resistor and capacitor, far longer than any capture.
module oneshot #(parameter D = 30, parameter NS = 2000000000) (input a, b, clr, output q, nq);
  reg s;
  initial s = 0;
  wire go = ~a & b & clr;
  always @(posedge go) begin disable timer; s = 1; end
  always begin : timer @(posedge s) #NS s = 0; end
  always @(negedge clr) s = 0;
  assign #D q = s; assign #D nq = ~s;
endmodule
module chip_123 #(parameter D = 30, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  oneshot #(D) x(i[1], i[2], i[3], o[13], o[4]);
  oneshot #(D) y(i[9], i[10], i[11], o[5], o[12]);
endmodule

module chip_ULN2803 #(parameter D = 100, parameter SEED = 1) (input [18:1] i, output [18:1] o);
  assign #D o[18] = i[1] ? 1'b0 : 1'bz; assign #D o[17] = i[2] ? 1'b0 : 1'bz;
  assign #D o[16] = i[3] ? 1'b0 : 1'bz; assign #D o[15] = i[4] ? 1'b0 : 1'bz;
  assign #D o[14] = i[5] ? 1'b0 : 1'bz; assign #D o[13] = i[6] ? 1'b0 : 1'bz;
  assign #D o[12] = i[7] ? 1'b0 : 1'bz; assign #D o[11] = i[8] ? 1'b0 : 1'bz;
endmodule

// A character display as its bus sees it: busy flag and address, data read back; eight bits wide.
module chip_lcd #(parameter D = 100, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  wire e = i[6], rw = i[5], rs = i[4];
  wire [7:0] d = i[14:7];
  reg [7:0] m [0:127]; reg [6:0] ac; reg busy, up; integer k, seed;
  wire [7:0] q = rs ? m[ac] : {busy, ac};
  assign #(D, D, 30) o[14:7] = (e & rw) ? q : 8'bz;
  initial begin seed = SEED; for (k = 0; k < 128; k = k + 1) m[k] = 8'h20; ac = 0; busy = 0; up = 1; end
  reg drw, drs; reg [7:0] dd;
  always @* if (e) begin drw = rw; drs = rs; dd = d; end
  event work; integer lasts;
  always @(negedge e) begin
    lasts = 37000;
    if (drs) begin if (!drw) m[ac] = dd; ac = up ? ac + 1 : ac - 1; -> work; end
    else if (!drw) begin
      if (dd[7]) ac = dd[6:0];
      else if (dd[7:2] == 6'b000001) up = dd[1];
      else if (dd[7:1] == 7'b0000001) begin ac = 0; lasts = 1520000; end
      else if (dd == 8'h01) begin for (k = 0; k < 128; k = k + 1) m[k] = 8'h20; ac = 0; up = 1; lasts = 1520000; end
      -> work;
    end
  end
  always @(work) begin busy = 1; #lasts busy = 0; end
endmodule
