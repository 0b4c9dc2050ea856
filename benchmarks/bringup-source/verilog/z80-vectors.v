// Bench for single-step vectors: each line of the file +file= is a state, memory and ports; the instruction is run by the
// processor's own task at its own pins, and the state, memory and clocks afterwards are printed.
`timescale 1 ns / 1 ns
module vectors;
  reg clk;
  wire [40:1] o;
  wire [15:0] a = {o[5], o[4], o[3], o[2], o[1], o[40], o[39], o[38], o[37], o[36], o[35], o[34], o[33], o[32], o[31], o[30]};
  wire [7:0] d;
  assign d = {o[13], o[10], o[9], o[7], o[8], o[12], o[15], o[14]};
  reg [7:0] m [0:65535];
  reg [7:0] port;
  wire [7:0] back = (o[21] === 1'b0) ? ((o[20] === 1'b0) ? port : m[a]) : 8'h00;
  reg [40:1] i;
  always @* begin
    i = 40'h0;
    i[6] = clk; i[11] = 1; i[16] = 1; i[17] = 1; i[24] = 1; i[25] = 1; i[26] = 1;
    {i[13], i[10], i[9], i[7], i[8], i[12], i[15], i[14]} = back;
  end
  chip_z80 #(.D(1)) cpu(i, o);
  reg wasw;
  integer outs;
  always @(posedge o[22]) if (o[20] === 1'b1 || o[19] === 1'b0) m[wa] = wd;
  reg [15:0] wa; reg [7:0] wd, pd; reg [15:0] pa;
  always @(negedge o[22]) #1 begin
    wa = a; wd = d;
    if (o[20] === 1'b0) begin pa = a; pd = d; outs = outs + 1; end
  end
  initial begin clk = 0; forever #50 clk = ~clk; end
  integer f, n, k, got, x, y, t0, count;
  reg [8*256:1] name;
  reg [15:0] ad [0:63];
  reg [15:0] w0, w1, w2, w3;
  initial begin
    if (!$value$plusargs("file=%s", name)) $finish;
    f = $fopen(name, "r");
    count = 0;
    @(posedge clk);
    while (!$feof(f)) begin
      got = $fscanf(f, "%h %h %h %h %h %h %h %h %h %h %h %h %h %h", cpu.A, cpu.F, cpu.B, cpu.C, cpu.DD, cpu.E, cpu.H, cpu.L, cpu.I, cpu.R,
        cpu.IX, cpu.IY, cpu.SP, cpu.PC);
      if (got == 14) begin
        got = $fscanf(f, "%h %h %h %h %h %h %h %h %h %h %h", cpu.WZ, cpu.q, cpu.iff1, cpu.iff2, cpu.im,
          w0, w1, w2, w3, port, n);
        {cpu.A2, cpu.F2, cpu.B2, cpu.C2, cpu.D2, cpu.E2, cpu.H2, cpu.L2} = {w0, w1, w2, w3};
        cpu.halted = 0; cpu.shadow = 0;
        for (k = 0; k < n; k = k + 1) begin got = $fscanf(f, "%h %h", x, y); m[x] = y; end
        got = $fscanf(f, "%h", n);
        for (k = 0; k < n; k = k + 1) begin got = $fscanf(f, "%h", x); ad[k] = x; end
        outs = 0; pa = 0; pd = 0;
        t0 = $time;
        cpu.instruction;
        #5;
        $write("%h %h %h %h %h %h %h %h %h %h %h %h %h %h %h %h %h %h %h%h %h%h %h%h %h%h %0d %0d %h %h", cpu.A, cpu.F, cpu.B, cpu.C, cpu.DD, cpu.E,
          cpu.H, cpu.L, cpu.I, cpu.R, cpu.IX, cpu.IY, cpu.SP, cpu.PC, cpu.WZ, cpu.iff1, cpu.iff2, cpu.im,
          cpu.A2, cpu.F2, cpu.B2, cpu.C2, cpu.D2, cpu.E2, cpu.H2, cpu.L2, ($time - 5 - t0) / 100, outs, pa, pd);
        for (k = 0; k < n; k = k + 1) $write(" %h", m[ad[k]]);
        $write("\n");
        @(posedge clk);
      end
    end
    $finish;
  end
endmodule
