// A Z80 of its own: pins as a vector by pin number, a machine cycle as a task that walks the edges of the clock as the timing
// diagrams of Zilog UM008007 draw them (figures 5 to 11). Shares nothing with the simulator's processor. Inputs are 0 or 1.
//
// Every task begins just after the rising edge of its T1 and ends just after the rising edge of the T1 that follows.
// Reset, figure 2 and text: three clocks low are taken; the first fetch starts two clocks after it is seen high.

`timescale 1 ns / 1 ns

module chip_z80 #(parameter D = 40, parameter SEED = 1) (input [40:1] i, output [40:1] o);
  wire clk = i[6];
  // A0 is pin 30 to A10 pin 40, A11 pin 1 to A15 pin 5; D0 to D7 are 14 15 12 8 7 9 10 13.
  reg [15:0] abus;
  reg [7:0] dbus;
  reg aoe, doe, ctl, m1, mreq, iorq, rd, wr, rfsh, halt, busack;
  wire [15:0] ad = aoe ? abus : 16'bz;
  wire [7:0] dd = doe ? dbus : 8'bz;
  assign #D {o[5], o[4], o[3], o[2], o[1], o[40], o[39], o[38], o[37], o[36], o[35], o[34], o[33], o[32], o[31], o[30]} = ad;
  assign #D {o[13], o[10], o[9], o[7], o[8], o[12], o[15], o[14]} = dd;
  assign #D o[18] = halt;
  assign #D o[19] = ctl ? mreq : 1'bz;
  assign #D o[20] = ctl ? iorq : 1'bz;
  assign #D o[21] = ctl ? rd : 1'bz;
  assign #D o[22] = ctl ? wr : 1'bz;
  assign #D o[23] = busack;
  assign #D o[27] = m1;
  assign #D o[28] = rfsh;
  assign {o[6], o[11], o[16], o[17], o[24], o[25], o[26], o[29]} = 8'bz;
  wire [7:0] din = {i[13], i[10], i[9], i[7], i[8], i[12], i[15], i[14]};
  wire int_n = i[16], nmi_n = i[17], wait_n = i[24], busrq_n = i[25], reset_n = i[26];

  reg [7:0] A, F, B, C, DD, E, H, L, I, R, A2, F2, B2, C2, D2, E2, H2, L2;
  reg [15:0] IX, IY, SP, PC, WZ;
  reg iff1, iff2, shadow, halted, nmi_due, nmi_was;
  reg [1:0] im, px;
  reg [7:0] op, val, tmp, q, qlast;
  reg [15:0] ea, w;
  reg [16:0] sum;
  reg [8:0] s9;
  reg c, hf;
  reg flags_set;
  integer n, low;
  integer seed;

  // Samples of the edge before: what was seen at the rising edge of the last T.
  reg int_d, busrq_d, nmi_d, opcode, fresh;
  always @(posedge clk) begin
    int_d <= int_n;
    nmi_d <= nmi_due;
    busrq_d <= busrq_n;
  end
  always @(negedge nmi_n) nmi_due = 1'b1;

  // Reset takes hold after three clocks, whatever is going on.
  always @(posedge clk) begin
    if (reset_n) low = 0;
    else if (low < 3) begin
      low = low + 1;
      if (low == 3) disable main;
    end
  end

  task idle(input integer t); begin for (n = 0; n < t; n = n + 1) @(posedge clk); end endtask

  // A machine cycle of its own that moves nothing (the 5 of 4, 3, 5).
  task inner(input integer t); begin rfsh = 1; bus; idle(t); end endtask

  // Bus request is looked at where a machine cycle would begin.
  task bus; begin
    if (!busrq_d && !fresh) begin
      aoe = 0; doe = 0; ctl = 0; busack = 0;
      @(posedge clk);
      while (!busrq_n) @(posedge clk);
      // PS0178, TdCf(BUSACKr): it rises after the fall of the clock; the next rise is T1.
      @(negedge clk) busack = 1;
      @(posedge clk) begin aoe = 1; ctl = 1; end
    end
  end endtask

  task fetch(input [15:0] at, input ack); begin
    bus;
    abus = at; m1 = 0; rfsh = 1; doe = 0;
    if (ack) begin
      @(posedge clk); @(posedge clk);
      @(negedge clk) iorq = 0;
      @(posedge clk);
      @(negedge clk); while (!wait_n) begin @(posedge clk); @(negedge clk); end
    end else begin
      @(negedge clk) begin mreq = 0; rd = 0; end
      @(posedge clk);
      @(negedge clk); while (!wait_n) begin @(posedge clk); @(negedge clk); end
    end
    @(posedge clk);
    op = din;
    fresh = 0;
    mreq = 1; rd = 1; iorq = 1; m1 = 1; rfsh = 0;
    abus = {I, R};
    R = {R[7], R[6:0] + 7'd1};
    @(negedge clk) mreq = 0;
    @(posedge clk);
    // PS0178, TdCf(HALT): /HALT moves after the fall of T4, both ways (figure 11).
    @(negedge clk) begin
      mreq = 1;
      // Where a request waits already the sheets say nothing of the pin: it stays high here, as in the simulator.
      if (opcode && !halted && op == 8'h76 && !nmi_d && !(!int_d && iff1 && !shadow && busrq_d)) halt = 0;
      if (halted && (nmi_d || (!int_d && iff1 && busrq_d))) halt = 1;
    end
    @(posedge clk);
    rfsh = 1;
  end endtask

  task get(input [15:0] at); begin
    rfsh = 1; bus;
    abus = at;
    @(negedge clk) begin mreq = 0; rd = 0; end
    @(posedge clk);
    @(negedge clk); while (!wait_n) begin @(posedge clk); @(negedge clk); end
    @(posedge clk);
    @(negedge clk) begin val = din; mreq = 1; rd = 1; end
    @(posedge clk);
  end endtask

  task put(input [15:0] at, input [7:0] d); begin
    rfsh = 1; bus;
    abus = at;
    @(negedge clk) begin mreq = 0; dbus = d; doe = 1; end
    @(posedge clk);
    @(negedge clk) wr = 0;
    while (!wait_n) begin @(posedge clk); @(negedge clk); end
    @(posedge clk);
    @(negedge clk) begin wr = 1; mreq = 1; end
    @(posedge clk) doe = 0;
  end endtask

  task portin(input [15:0] at); begin
    rfsh = 1; bus;
    abus = at;
    @(posedge clk) begin iorq = 0; rd = 0; end
    @(posedge clk);
    @(negedge clk); while (!wait_n) begin @(posedge clk); @(negedge clk); end
    @(posedge clk);
    @(negedge clk) begin val = din; iorq = 1; rd = 1; end
    @(posedge clk);
  end endtask

  task portout(input [15:0] at, input [7:0] d); begin
    rfsh = 1; bus;
    abus = at;
    @(negedge clk) begin dbus = d; doe = 1; end
    @(posedge clk) begin iorq = 0; wr = 0; end
    @(posedge clk);
    @(negedge clk); while (!wait_n) begin @(posedge clk); @(negedge clk); end
    @(posedge clk);
    @(negedge clk) begin iorq = 1; wr = 1; end
    @(posedge clk) doe = 0;
  end endtask

  task imm; begin get(PC); PC = PC + 16'd1; end endtask
  task imm16; begin imm; w[7:0] = val; imm; w[15:8] = val; end endtask
  task push(input [15:0] v); begin SP = SP - 16'd1; put(SP, v[15:8]); SP = SP - 16'd1; put(SP, v[7:0]); end endtask
  task pop; begin get(SP); w[7:0] = val; SP = SP + 16'd1; get(SP); w[15:8] = val; SP = SP + 16'd1; end endtask

  // HL, IX or IY by prefix.
  function [15:0] hl(input [1:0] p); hl = (p == 1) ? IX : (p == 2) ? IY : {H, L}; endfunction
  task sethl(input [15:0] v); begin
    if (px == 1) IX = v; else if (px == 2) IY = v; else begin H = v[15:8]; L = v[7:0]; end
  end endtask
  function [7:0] r8(input [2:0] k, input [1:0] p);
    case (k)
      0: r8 = B; 1: r8 = C; 2: r8 = DD; 3: r8 = E;
      4: r8 = (p == 1) ? IX[15:8] : (p == 2) ? IY[15:8] : H;
      5: r8 = (p == 1) ? IX[7:0] : (p == 2) ? IY[7:0] : L;
      default: r8 = A;
    endcase
  endfunction
  task set8(input [2:0] k, input [1:0] p, input [7:0] v); begin
    case (k)
      0: B = v; 1: C = v; 2: DD = v; 3: E = v;
      4: if (p == 1) IX[15:8] = v; else if (p == 2) IY[15:8] = v; else H = v;
      5: if (p == 1) IX[7:0] = v; else if (p == 2) IY[7:0] = v; else L = v;
      7: A = v;
    endcase
  end endtask
  function [15:0] rp(input [1:0] k, input [1:0] p);
    case (k) 0: rp = {B, C}; 1: rp = {DD, E}; 2: rp = hl(p); default: rp = SP; endcase
  endfunction
  task setrp(input [1:0] k, input [15:0] v); begin
    case (k) 0: {B, C} = v; 1: {DD, E} = v; 2: sethl(v); default: SP = v; endcase
  end endtask
  function cc(input [2:0] k);
    case (k)
      0: cc = !F[6]; 1: cc = F[6]; 2: cc = !F[0]; 3: cc = F[0];
      4: cc = !F[2]; 5: cc = F[2]; 6: cc = !F[7]; default: cc = F[7];
    endcase
  endfunction

  task setf(input [7:0] f); begin F = f; flags_set = 1; end endtask
  task alu(input [2:0] k, input [7:0] v); begin
    case (k)
      0, 1: begin
        c = (k == 1) & F[0];
        s9 = A + v + c;
        hf = A[4] ^ v[4] ^ s9[4];
        setf({s9[7], s9[7:0] == 0, s9[5], hf, s9[3], (A[7] == v[7]) && (s9[7] != A[7]), 1'b0, s9[8]});
        A = s9[7:0];
      end
      2, 3, 7: begin
        c = (k == 3) & F[0];
        s9 = A - v - c;
        hf = A[4] ^ v[4] ^ s9[4];
        setf({s9[7], s9[7:0] == 0, (k == 7) ? v[5] : s9[5], hf, (k == 7) ? v[3] : s9[3],
              (A[7] != v[7]) && (s9[7] != A[7]), 1'b1, s9[8]});
        if (k != 7) A = s9[7:0];
      end
      4: begin A = A & v; setf({A[7], A == 0, A[5], 1'b1, A[3], ~^A, 2'b00}); end
      5: begin A = A ^ v; setf({A[7], A == 0, A[5], 1'b0, A[3], ~^A, 2'b00}); end
      6: begin A = A | v; setf({A[7], A == 0, A[5], 1'b0, A[3], ~^A, 2'b00}); end
    endcase
  end endtask
  task incdec(input dec, input [7:0] v); begin
    tmp = dec ? v - 8'd1 : v + 8'd1;
    setf({tmp[7], tmp == 0, tmp[5], dec ? v[3:0] == 0 : v[3:0] == 4'hf, tmp[3], v == (dec ? 8'h80 : 8'h7f), dec, F[0]});
  end endtask
  task rot(input [2:0] k, input [7:0] v); begin
    case (k)
      0: begin c = v[7]; tmp = {v[6:0], v[7]}; end
      1: begin c = v[0]; tmp = {v[0], v[7:1]}; end
      2: begin c = v[7]; tmp = {v[6:0], F[0]}; end
      3: begin c = v[0]; tmp = {F[0], v[7:1]}; end
      4: begin c = v[7]; tmp = {v[6:0], 1'b0}; end
      5: begin c = v[0]; tmp = {v[7], v[7:1]}; end
      6: begin c = v[7]; tmp = {v[6:0], 1'b1}; end
      7: begin c = v[0]; tmp = {1'b0, v[7:1]}; end
    endcase
    setf({tmp[7], tmp == 0, tmp[5], 1'b0, tmp[3], ~^tmp, 1'b0, c});
  end endtask

  // Address of (HL), (IX+d) or (IY+d).
  task operand(input integer extra); begin
    if (px == 0) ea = {H, L};
    else begin
      imm; ea = hl(px) + {{8{val[7]}}, val}; WZ = ea;
      if (extra > 0) inner(extra);
    end
  end endtask

  task bits; begin
    // CB, or DD CB d op: there the operand is memory whatever the code says.
    if (px != 0) begin
      imm; ea = hl(px) + {{8{val[7]}}, val}; WZ = ea;
      imm; op = val; idle(2);
      get(ea); idle(1);
    end else begin
      fetch(PC, 0); PC = PC + 16'd1;
      if (op[2:0] == 6) begin ea = {H, L}; get(ea); idle(1); end
      else val = r8(op[2:0], 0);
    end
    case (op[7:6])
      0: begin rot(op[5:3], val); val = tmp; end
      1: begin
        tmp = val & (8'd1 << op[5:3]);
        c = (px != 0) || (op[2:0] == 6);
        setf({tmp[7], tmp == 0, c ? WZ[13] : val[5], 1'b1, c ? WZ[11] : val[3], tmp == 0, 1'b0, F[0]});
      end
      2: val = val & ~(8'd1 << op[5:3]);
      3: val = val | (8'd1 << op[5:3]);
    endcase
    if (op[7:6] != 1) begin
      if (px != 0 || op[2:0] == 6) put(ea, val);
      if (op[2:0] != 6) set8(op[2:0], 0, val);
    end
  end endtask

  task extended; begin
    fetch(PC, 0); PC = PC + 16'd1;
    px = 0;
    if (op[7:6] == 1) case (op[2:0])
      0: begin
        portin({B, C}); WZ = {B, C} + 16'd1;
        if (op[5:3] != 6) set8(op[5:3], 0, val);
        setf({val[7], val == 0, val[5], 1'b0, val[3], ~^val, 1'b0, F[0]});
      end
      1: begin portout({B, C}, op[5:3] == 6 ? 8'd0 : r8(op[5:3], 0)); WZ = {B, C} + 16'd1; end
      2: begin
        w = rp(op[5:4], 0); ea = {H, L}; WZ = ea + 16'd1;
        if (op[3]) sum = {1'b0, ea} + {1'b0, w} + F[0]; else sum = {1'b0, ea} - {1'b0, w} - F[0];
        setf({sum[15], sum[15:0] == 0, sum[13], ea[12] ^ w[12] ^ sum[12], sum[11],
              op[3] ? (ea[15] == w[15]) && (sum[15] != ea[15]) : (ea[15] != w[15]) && (sum[15] != ea[15]), !op[3], sum[16]});
        {H, L} = sum[15:0];
        inner(4); inner(3);
      end
      3: begin
        imm16; ea = w; WZ = ea + 16'd1;
        if (op[3]) begin get(ea); w[7:0] = val; get(ea + 16'd1); w[15:8] = val; setrp(op[5:4], w); end
        else begin w = rp(op[5:4], 0); put(ea, w[7:0]); put(ea + 16'd1, w[15:8]); end
      end
      4: begin tmp = A; A = 0; alu(2, tmp); end
      5: begin pop; PC = w; WZ = w; iff1 = iff2; end
      6: im = (op[4:3] == 2) ? 2'd1 : (op[4:3] == 3) ? 2'd2 : 2'd0;
      7: case (op[5:3])
        0: begin idle(1); I = A; end
        1: begin idle(1); R = A; end
        2, 3: begin
          idle(1); A = op[3] ? R : I;
          setf({A[7], A == 0, A[5], 1'b0, A[3], iff2, 1'b0, F[0]});
        end
        4, 5: begin
          ea = {H, L}; WZ = ea + 16'd1;
          get(ea); inner(4);
          if (op[3]) begin tmp = {val[3:0], A[3:0]}; A[3:0] = val[7:4]; end
          else begin tmp = {A[3:0], val[7:4]}; A[3:0] = val[3:0]; end
          put(ea, tmp);
          setf({A[7], A == 0, A[5], 1'b0, A[3], ~^A, 1'b0, F[0]});
        end
      endcase
    endcase
    else if (op[7:6] == 2 && op[5] && op[2] == 0) block;
  end endtask

  // LDI, CPI, INI, OUTI and their kin: bit 3 downwards, bit 4 repeats.
  reg again;
  reg [15:0] step;
  reg [8:0] k9;
  task block; begin
    step = op[3] ? 16'hffff : 16'h0001;
    ea = {H, L};
    case (op[1:0])
      0: begin
        get(ea); put({DD, E}, val); idle(2);
        {H, L} = ea + step; {DD, E} = {DD, E} + step; {B, C} = {B, C} - 16'd1;
        tmp = val + A;
        setf({F[7:6], tmp[1], 1'b0, tmp[3], {B, C} != 0, 1'b0, F[0]});
        again = {B, C} != 0;
      end
      1: begin
        get(ea); inner(5);
        {H, L} = ea + step; {B, C} = {B, C} - 16'd1; WZ = WZ + step;
        tmp = A - val;
        hf = A[4] ^ val[4] ^ tmp[4];
        again = {B, C} != 0 && tmp != 0;
        c = {B, C} != 0;
        setf({tmp[7], tmp == 0, 1'b0, hf, 1'b0, c, 1'b1, F[0]});
        tmp = tmp - hf;
        F[5] = tmp[1]; F[3] = tmp[3];
      end
      2: begin
        idle(1);
        portin({B, C}); WZ = {B, C} + step; B = B - 8'd1; put(ea, val); {H, L} = ea + step;
        tmp = C + step[7:0];
        k9 = val + tmp;
        blockflags;
      end
      3: begin
        idle(1);
        get(ea); B = B - 8'd1; portout({B, C}, val); WZ = {B, C} + step; {H, L} = ea + step;
        k9 = val + L;
        blockflags;
      end
    endcase
    if (op[4] && again) begin
      inner(5); PC = PC - 16'd2; WZ = PC + 16'd1;
      F[5] = PC[13]; F[3] = PC[11];
      // INIR, INDR, OTIR, OTDR: what the repeat does to H and P, from memory of measurements published.
      if (op[1]) begin
        if (F[0]) begin
          tmp = val[7] ? B - 8'd1 : B + 8'd1;
          F[4] = B[3:0] == (val[7] ? 4'h0 : 4'hf);
        end else tmp = B;
        F[2] = F[2] ^ (^tmp[2:0]);
      end
    end
  end endtask
  task blockflags; begin
    tmp = {5'b0, k9[2:0]} ^ B;
    setf({B[7], B == 0, B[5], k9[8], B[3], ~^tmp, val[7], k9[8]});
    again = B != 0;
  end endtask

  task exec;
    reg [7:0] o1; begin
    o1 = op;
    case (op[7:6])
      0: case (op[2:0])
        0: case (op[5:3])
          0: ;
          1: begin tmp = A; A = A2; A2 = tmp; tmp = F; F = F2; F2 = tmp; end
          2: begin idle(1); B = B - 8'd1; imm; if (B != 0) begin inner(5); PC = PC + {{8{val[7]}}, val}; WZ = PC; end end
          3: begin imm; inner(5); PC = PC + {{8{val[7]}}, val}; WZ = PC; end
          default: begin imm; if (cc({1'b0, op[4:3]})) begin inner(5); PC = PC + {{8{val[7]}}, val}; WZ = PC; end end
        endcase
        1: if (!op[3]) begin imm16; setrp(o1[5:4], w); end
          else begin
            w = rp(op[5:4], px); ea = hl(px); WZ = ea + 16'd1;
            sum = {1'b0, ea} + {1'b0, w};
            setf({F[7:6], sum[13], ea[12] ^ w[12] ^ sum[12], sum[11], F[2], 1'b0, sum[16]});
            sethl(sum[15:0]); inner(4); inner(3);
          end
        2: case (op[5:3])
          0, 2: begin w = rp(op[5:4], 0); put(w, A); WZ = {A, w[7:0] + 8'd1}; end
          1, 3: begin w = rp(op[5:4], 0); get(w); A = val; WZ = w + 16'd1; end
          4: begin imm16; ea = w; WZ = ea + 16'd1; w = hl(px); put(ea, w[7:0]); put(ea + 16'd1, w[15:8]); end
          5: begin imm16; ea = w; WZ = ea + 16'd1; get(ea); w[7:0] = val; get(ea + 16'd1); w[15:8] = val; sethl(w); end
          6: begin imm16; put(w, A); WZ = {A, w[7:0] + 8'd1}; end
          7: begin imm16; get(w); A = val; WZ = w + 16'd1; end
        endcase
        3: begin idle(2); setrp(op[5:4], op[3] ? rp(op[5:4], px) - 16'd1 : rp(op[5:4], px) + 16'd1); end
        4, 5: if (op[5:3] == 6) begin operand(5); get(ea); idle(1); incdec(o1[0], val); put(ea, tmp); end
          else begin incdec(op[0], r8(op[5:3], px)); set8(op[5:3], px, tmp); end
        6: if (op[5:3] == 6) begin
            if (px == 0) begin ea = {H, L}; imm; end
            else begin operand(0); imm; idle(2); end
            put(ea, val);
          end else begin imm; set8(o1[5:3], px, val); end
        7: case (op[5:3])
          0: begin A = {A[6:0], A[7]}; setf({F[7:6], A[5], 1'b0, A[3], F[2], 1'b0, A[0]}); end
          1: begin A = {A[0], A[7:1]}; setf({F[7:6], A[5], 1'b0, A[3], F[2], 1'b0, A[7]}); end
          2: begin c = A[7]; A = {A[6:0], F[0]}; setf({F[7:6], A[5], 1'b0, A[3], F[2], 1'b0, c}); end
          3: begin c = A[0]; A = {F[0], A[7:1]}; setf({F[7:6], A[5], 1'b0, A[3], F[2], 1'b0, c}); end
          4: begin
            tmp = 0; c = F[0];
            if (F[4] || A[3:0] > 9) tmp = tmp | 8'h06;
            if (F[0] || A > 8'h99) begin tmp = tmp | 8'h60; c = 1; end
            val = F[1] ? A - tmp : A + tmp;
            setf({val[7], val == 0, val[5], A[4] ^ val[4], val[3], ~^val, F[1], c});
            A = val;
          end
          5: begin A = ~A; setf({F[7:6], A[5], 1'b1, A[3], F[2], 1'b1, F[0]}); end
          6: begin tmp = (qlast ^ F) | A; setf({F[7:6], tmp[5], 1'b0, tmp[3], F[2], 1'b0, 1'b1}); end
          7: begin tmp = (qlast ^ F) | A; setf({F[7:6], tmp[5], F[0], tmp[3], F[2], 1'b0, !F[0]}); end
        endcase
      endcase
      1: if (op == 8'h76) halted = 1;
        else if (op[2:0] == 6) begin operand(5); get(ea); set8(o1[5:3], 0, val); end
        else if (op[5:3] == 6) begin operand(5); put(ea, r8(o1[2:0], 0)); end
        else set8(op[5:3], px, r8(op[2:0], px));
      2: if (op[2:0] == 6) begin operand(5); get(ea); alu(o1[5:3], val); end
        else alu(op[5:3], r8(op[2:0], px));
      3: case (op[2:0])
        0: begin idle(1); if (cc(op[5:3])) begin pop; PC = w; WZ = w; end end
        1: case (op[5:3])
          0, 2, 4: begin pop; setrp(o1[5:4], w); end
          6: begin pop; {A, F} = w; end
          1: begin pop; PC = w; WZ = w; end
          3: begin
            {w[15:8], w[7:0]} = {B, C}; {B, C} = {B2, C2}; {B2, C2} = w;
            w = {DD, E}; {DD, E} = {D2, E2}; {D2, E2} = w;
            w = {H, L}; {H, L} = {H2, L2}; {H2, L2} = w;
          end
          5: PC = hl(px);
          7: begin idle(2); SP = hl(px); end
        endcase
        2: begin imm16; WZ = w; if (cc(o1[5:3])) PC = w; end
        3: case (op[5:3])
          0: begin imm16; PC = w; WZ = w; end
          1: bits;
          2: begin imm; portout({A, val}, A); WZ = {A, val + 8'd1}; end
          3: begin imm; w = {A, val}; portin(w); A = val; WZ = w + 16'd1; end
          4: begin
            pop; SP = SP - 16'd2;
            ea = hl(px); tmp = w[7:0]; c = 0;
            // Read low, read high, one clock, write high, write low, two clocks.
            idle(1); put(SP + 16'd1, ea[15:8]); put(SP, ea[7:0]); idle(2);
            sethl(w); WZ = w;
          end
          5: begin w = {DD, E}; {DD, E} = {H, L}; {H, L} = w; end
          6: begin iff1 = 0; iff2 = 0; end
          7: begin iff1 = 1; iff2 = 1; shadow = 1; end
        endcase
        4: begin
          imm16; WZ = w;
          if (cc(o1[5:3])) begin idle(1); ea = w; push(PC); PC = ea; end
        end
        5: if (!op[3]) begin
            idle(1);
            push(op[5:4] == 3 ? {A, F} : rp(op[5:4], px));
          end else if (op[5:4] == 0) begin imm16; WZ = w; idle(1); ea = w; push(PC); PC = ea; end
          else if (op[5:4] == 2) extended;
        6: begin imm; alu(o1[5:3], val); end
        7: begin idle(1); push(PC); PC = {10'b0, o1[5:3], 3'b0}; WZ = PC; end
      endcase
    endcase
  end endtask

  // One instruction, prefixes included.
  task instruction; begin
    px = 0; flags_set = 0; qlast = q; opcode = 1;
    fetch(PC, 0);
    if (!halted) PC = PC + 16'd1;
    else op = 8'h00;
    while (op == 8'hdd || op == 8'hfd) begin
      px = op[5] ? 2'd2 : 2'd1;
      fetch(PC, 0); PC = PC + 16'd1;
    end
    opcode = 0;
    exec;
    q = flags_set ? F : 8'h00;
  end endtask

  initial begin
    seed = SEED;
    {A, F, B, C} = $random(seed); {DD, E, H, L} = $random(seed); {I, R, A2, F2} = $random(seed);
    {B2, C2, D2, E2} = $random(seed); {H2, L2, IX} = $random(seed); {IY, SP} = $random(seed);
    {PC, abus} = $random(seed);
    low = 0; q = 0; iff1 = 0; iff2 = 0; im = 0; WZ = 0; nmi_due = 0;
    int_d = 1; busrq_d = 1; nmi_d = 0; opcode = 0; fresh = 0;
    // Until the first reset nobody knows what it does: here its lines are still.
    aoe = 1; doe = 0; ctl = 1; halt = 1; busack = 1; m1 = 1; rfsh = 1; mreq = 1; iorq = 1; rd = 1; wr = 1; dbus = 0;
  end

  always begin : main
    m1 = 1; mreq = 1; iorq = 1; rd = 1; wr = 1; rfsh = 1; halt = 1; busack = 1;
    ctl = 1; doe = 0; halted = 0; shadow = 0; opcode = 0;
    // Not reset yet: nothing happens.
    while (low < 3) @(posedge clk) #0;
    aoe = 0;
    while (low > 0) @(posedge clk) #0;
    PC = 0; I = 0; R = 0; im = 0; iff1 = 0; iff2 = 0; nmi_due = 0; q = 0;
    A = 8'hff; F = 8'hff; SP = 16'hffff;
    idle(2);
    // A request is looked at where a machine cycle ends: none has yet.
    aoe = 1; fresh = 1;
    forever begin
      if (nmi_d) begin
        nmi_due = 0; iff1 = 0; halted = 0; halt = 1;
        fetch(PC, 0); idle(1); push(PC); PC = 16'h0066; WZ = PC; q = 0;
      // UM008007: not accepted while the bus is asked for.
      end else if (!int_d && iff1 && !shadow && busrq_d) begin
        iff1 = 0; iff2 = 0; halted = 0; halt = 1;
        fetch(PC, 1);
        if (im == 0) begin px = 0; flags_set = 0; qlast = q; exec; q = flags_set ? F : 8'h00; end
        else begin
          tmp = op; idle(1); push(PC);
          if (im == 1) PC = 16'h0038;
          else begin ea = {I, tmp}; get(ea); w[7:0] = val; get(ea + 16'd1); w[15:8] = val; PC = w; end
          WZ = PC; q = 0;
        end
      end else begin
        shadow = 0;
        instruction;
      end
    end
  end
endmodule
