// Bench for requests at the pins: memory of 64 KiB from +memory=, levels of the inputs before each edge from +levels= (bits reset,
// bus request, wait, int, nmi, one line a half clock). Prints what the pins drive in the middle of each half clock.
`timescale 1 ns / 1 ns
module requests;
  reg clk;
  wire [40:1] o;
  wire [15:0] a = {o[5], o[4], o[3], o[2], o[1], o[40], o[39], o[38], o[37], o[36], o[35], o[34], o[33], o[32], o[31], o[30]};
  wire [7:0] d = {o[13], o[10], o[9], o[7], o[8], o[12], o[15], o[14]};
  reg [7:0] m [0:65535];
  reg [4:0] level;
  wire [7:0] back = (o[19] === 1'b0 && o[21] === 1'b0) ? m[a] : 8'hff;
  reg [40:1] i;
  always @* begin
    i = 40'h0;
    i[6] = clk; i[11] = 1;
    {i[26], i[25], i[24], i[16], i[17]} = level;
    {i[13], i[10], i[9], i[7], i[8], i[12], i[15], i[14]} = back;
  end
  chip_z80 #(.D(1)) cpu(i, o);
  reg [15:0] wa; reg [7:0] wd;
  always @(negedge o[22]) #2 begin wa = a; wd = d; end
  always @(posedge o[22]) if (o[19] === 1'b0 || was_mem) m[wa] = wd;
  reg was_mem;
  always @(negedge o[22]) #3 was_mem = o[19] === 1'b0;
  reg [8*256:1] name;
  integer f, got, half;
  initial begin
    if (!$value$plusargs("memory=%s", name)) $finish;
    $readmemh(name, m);
    if (!$value$plusargs("levels=%s", name)) $finish;
    f = $fopen(name, "r");
    clk = 0; was_mem = 0;
    {cpu.B, cpu.C, cpu.DD, cpu.E, cpu.H, cpu.L, cpu.IX, cpu.IY} = 0;
    {cpu.A2, cpu.F2, cpu.B2, cpu.C2, cpu.D2, cpu.E2, cpu.H2, cpu.L2} = 0;
    half = 0;
    got = $fscanf(f, "%b", level);
    while (got == 1) begin
      #50 clk = ~clk;
      #40 $display("%h %h %b%b%b%b %b%b%b%b", a, d, o[19], o[20], o[21], o[22], o[27], o[28], o[18], o[23]);
      #10 got = $fscanf(f, "%b", level);
    end
    $finish;
  end
endmodule
