// The 74 series as far as small Z80 machines use it, by pin number, written from the usual function tables and pinouts, not
// from the part records. `i` is what stands at the pins (0 or 1), `o` what they drive; supply pins do nothing here.
`timescale 1 ns / 1 ns

module chip_00 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[3] = ~(i[1] & i[2]); assign #D o[6] = ~(i[4] & i[5]);
  assign #D o[8] = ~(i[9] & i[10]); assign #D o[11] = ~(i[12] & i[13]);
endmodule
module chip_132 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  chip_00 #(D) g(i, o);
endmodule
module chip_02 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[1] = ~(i[2] | i[3]); assign #D o[4] = ~(i[5] | i[6]);
  assign #D o[10] = ~(i[8] | i[9]); assign #D o[13] = ~(i[11] | i[12]);
endmodule
module chip_04 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[2] = ~i[1]; assign #D o[4] = ~i[3]; assign #D o[6] = ~i[5];
  assign #D o[8] = ~i[9]; assign #D o[10] = ~i[11]; assign #D o[12] = ~i[13];
endmodule
module chip_14 #(parameter D = 12, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  chip_04 #(D) g(i, o);
endmodule
module chip_05 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[2] = i[1] ? 1'b0 : 1'bz; assign #D o[4] = i[3] ? 1'b0 : 1'bz; assign #D o[6] = i[5] ? 1'b0 : 1'bz;
  assign #D o[8] = i[9] ? 1'b0 : 1'bz; assign #D o[10] = i[11] ? 1'b0 : 1'bz; assign #D o[12] = i[13] ? 1'b0 : 1'bz;
endmodule
module chip_06 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  chip_05 #(D) g(i, o);
endmodule
module chip_07 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  chip_05 #(D) g(~i, o);
endmodule
module chip_08 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[3] = i[1] & i[2]; assign #D o[6] = i[4] & i[5];
  assign #D o[8] = i[9] & i[10]; assign #D o[11] = i[12] & i[13];
endmodule
module chip_10 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[12] = ~(i[1] & i[2] & i[13]); assign #D o[6] = ~(i[3] & i[4] & i[5]);
  assign #D o[8] = ~(i[9] & i[10] & i[11]);
endmodule
module chip_11 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[12] = i[1] & i[2] & i[13]; assign #D o[6] = i[3] & i[4] & i[5]; assign #D o[8] = i[9] & i[10] & i[11];
endmodule
module chip_20 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[6] = ~(i[1] & i[2] & i[4] & i[5]); assign #D o[8] = ~(i[9] & i[10] & i[12] & i[13]);
endmodule
module chip_21 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[6] = i[1] & i[2] & i[4] & i[5]; assign #D o[8] = i[9] & i[10] & i[12] & i[13];
endmodule
module chip_27 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[12] = ~(i[1] | i[2] | i[13]); assign #D o[6] = ~(i[3] | i[4] | i[5]);
  assign #D o[8] = ~(i[9] | i[10] | i[11]);
endmodule
module chip_30 #(parameter D = 12, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[8] = ~(&i[6:1] & i[11] & i[12]);
endmodule
module chip_32 #(parameter D = 10, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[3] = i[1] | i[2]; assign #D o[6] = i[4] | i[5];
  assign #D o[8] = i[9] | i[10]; assign #D o[11] = i[12] | i[13];
endmodule
module chip_86 #(parameter D = 11, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[3] = i[1] ^ i[2]; assign #D o[6] = i[4] ^ i[5];
  assign #D o[8] = i[9] ^ i[10]; assign #D o[11] = i[12] ^ i[13];
endmodule
module chip_125 #(parameter D = 12, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[3] = i[1] ? 1'bz : i[2]; assign #D o[6] = i[4] ? 1'bz : i[5];
  assign #D o[8] = i[10] ? 1'bz : i[9]; assign #D o[11] = i[13] ? 1'bz : i[12];
endmodule
module chip_126 #(parameter D = 12, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  assign #D o[3] = i[1] ? i[2] : 1'bz; assign #D o[6] = i[4] ? i[5] : 1'bz;
  assign #D o[8] = i[10] ? i[9] : 1'bz; assign #D o[11] = i[13] ? i[12] : 1'bz;
endmodule

// One flip-flop with both overrides; both at once show both outputs high.
module flipflop #(parameter D = 15, parameter SEED = 1) (input clr, d, ck, pre, output q, nq);
  reg s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @(posedge ck or negedge clr or negedge pre) if (!pre) s <= 1; else if (!clr) s <= 0; else s <= d;
  always @(posedge pre) if (!clr) s <= 0;
  assign #D q = s | ~pre;
  assign #D nq = ~s | ~clr;
endmodule
module chip_74 #(parameter D = 15, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  flipflop #(D, SEED) a(i[1], i[2], i[3], i[4], o[5], o[6]);
  flipflop #(D, SEED + 7) b(i[13], i[12], i[11], i[10], o[9], o[8]);
endmodule

module chip_138 #(parameter D = 16, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  wire on = ~i[4] & ~i[5] & i[6];
  wire [7:0] y = on ? ~(8'd1 << {i[3], i[2], i[1]}) : 8'hff;
  assign #D {o[7], o[9], o[10], o[11], o[12], o[13], o[14], o[15]} = y;
endmodule
module chip_139 #(parameter D = 16, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  wire [3:0] a = i[1] ? 4'hf : ~(4'd1 << {i[3], i[2]});
  wire [3:0] b = i[15] ? 4'hf : ~(4'd1 << {i[13], i[14]});
  assign #D {o[7], o[6], o[5], o[4]} = a;
  assign #D {o[9], o[10], o[11], o[12]} = b;
endmodule
module chip_151 #(parameter D = 16, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  wire [7:0] d = {i[12], i[13], i[14], i[15], i[1], i[2], i[3], i[4]};
  wire y = ~i[7] & d[{i[9], i[10], i[11]}];
  assign #D o[5] = y; assign #D o[6] = ~y;
endmodule
module chip_153 #(parameter D = 16, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  wire [3:0] a = {i[3], i[4], i[5], i[6]}, b = {i[13], i[12], i[11], i[10]};
  assign #D o[7] = ~i[1] & a[{i[2], i[14]}]; assign #D o[9] = ~i[15] & b[{i[2], i[14]}];
endmodule
module chip_157 #(parameter D = 14, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  wire s = i[1], e = ~i[15];
  assign #D o[4] = e & (s ? i[3] : i[2]); assign #D o[7] = e & (s ? i[6] : i[5]);
  assign #D o[9] = e & (s ? i[10] : i[11]); assign #D o[12] = e & (s ? i[13] : i[14]);
endmodule
module chip_257 #(parameter D = 14, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  wire s = i[1], e = ~i[15];
  assign #D o[4] = e ? (s ? i[3] : i[2]) : 1'bz; assign #D o[7] = e ? (s ? i[6] : i[5]) : 1'bz;
  assign #D o[9] = e ? (s ? i[10] : i[11]) : 1'bz; assign #D o[12] = e ? (s ? i[13] : i[14]) : 1'bz;
endmodule

module chip_161 #(parameter D = 18, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  reg [3:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @(posedge i[2] or negedge i[1])
    if (!i[1]) s <= 0;
    else if (!i[9]) s <= {i[6], i[5], i[4], i[3]};
    else if (i[7] && i[10]) s <= s + 4'd1;
  assign #D {o[11], o[12], o[13], o[14]} = s;
  assign #D o[15] = &s & i[10];
endmodule
module chip_163 #(parameter D = 18, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  reg [3:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @(posedge i[2])
    if (!i[1]) s <= 0;
    else if (!i[9]) s <= {i[6], i[5], i[4], i[3]};
    else if (i[7] && i[10]) s <= s + 4'd1;
  assign #D {o[11], o[12], o[13], o[14]} = s;
  assign #D o[15] = &s & i[10];
endmodule
module chip_164 #(parameter D = 16, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  reg [7:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @(posedge i[8] or negedge i[9]) if (!i[9]) s <= 0; else s <= {s[6:0], i[1] & i[2]};
  assign #D {o[13], o[12], o[11], o[10], o[6], o[5], o[4], o[3]} = s;
endmodule
module chip_165 #(parameter D = 16, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  reg [7:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  wire ck = i[2] | i[15];
  // Pin 14 is D, 13 C, 12 B, 11 A; 3 E, 4 F, 5 G, 6 H: H leaves first.
  wire [7:0] p = {i[6], i[5], i[4], i[3], i[14], i[13], i[12], i[11]};
  always @* if (!i[1]) s = p;
  always @(posedge ck) if (i[1]) s <= {s[6:0], i[10]};
  assign #D o[9] = s[7]; assign #D o[7] = ~s[7];
endmodule
module chip_174 #(parameter D = 16, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  reg [5:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @(posedge i[9] or negedge i[1]) if (!i[1]) s <= 0; else s <= {i[14], i[13], i[11], i[6], i[4], i[3]};
  assign #D {o[15], o[12], o[10], o[7], o[5], o[2]} = s;
endmodule
module chip_175 #(parameter D = 16, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  reg [3:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @(posedge i[9] or negedge i[1]) if (!i[1]) s <= 0; else s <= {i[13], i[12], i[5], i[4]};
  assign #D {o[15], o[10], o[7], o[2]} = s;
  assign #D {o[14], o[11], o[6], o[3]} = ~s;
endmodule
module chip_240 #(parameter D = 12, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  chip_244 #(D) g({i[20:18], ~i[17], i[16], ~i[15], i[14], ~i[13], i[12], ~i[11], i[10:9], ~i[8], i[7], ~i[6], i[5], ~i[4], i[3], ~i[2], i[1]}, o);
endmodule
module chip_244 #(parameter D = 12, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  assign #D {o[18], o[16], o[14], o[12]} = i[1] ? 4'bz : {i[2], i[4], i[6], i[8]};
  assign #D {o[9], o[7], o[5], o[3]} = i[19] ? 4'bz : {i[11], i[13], i[15], i[17]};
endmodule
module chip_245 #(parameter D = 12, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  wire [7:0] a = i[9:2], b = {i[11], i[12], i[13], i[14], i[15], i[16], i[17], i[18]};
  assign #D o[9:2] = (!i[19] && !i[1]) ? b : 8'bz;
  assign #D {o[11], o[12], o[13], o[14], o[15], o[16], o[17], o[18]} = (!i[19] && i[1]) ? a : 8'bz;
endmodule
module chip_259 #(parameter D = 18, parameter SEED = 1) (input [16:1] i, output [16:1] o);
  reg [7:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @* begin
    if (!i[15] && i[14]) s = 8'h00;
    else if (!i[15]) s = i[13] << {i[3], i[2], i[1]};
    else if (!i[14]) s[{i[3], i[2], i[1]}] = i[13];
  end
  assign #D {o[12], o[11], o[10], o[9], o[7], o[6], o[5], o[4]} = s;
endmodule
module chip_273 #(parameter D = 16, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  reg [7:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @(posedge i[11] or negedge i[1])
    if (!i[1]) s <= 0; else s <= {i[18], i[17], i[14], i[13], i[8], i[7], i[4], i[3]};
  assign #D {o[19], o[16], o[15], o[12], o[9], o[6], o[5], o[2]} = s;
endmodule
module chip_373 #(parameter D = 16, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  reg [7:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @* if (i[11]) s = {i[18], i[17], i[14], i[13], i[8], i[7], i[4], i[3]};
  assign #D {o[19], o[16], o[15], o[12], o[9], o[6], o[5], o[2]} = i[1] ? 8'bz : s;
endmodule
module chip_374 #(parameter D = 16, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  reg [7:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @(posedge i[11]) s <= {i[18], i[17], i[14], i[13], i[8], i[7], i[4], i[3]};
  assign #D {o[19], o[16], o[15], o[12], o[9], o[6], o[5], o[2]} = i[1] ? 8'bz : s;
endmodule
module chip_573 #(parameter D = 16, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  reg [7:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @* if (i[11]) s = i[9:2];
  assign #D {o[12], o[13], o[14], o[15], o[16], o[17], o[18], o[19]} = i[1] ? 8'bz : s;
endmodule
module chip_574 #(parameter D = 16, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  reg [7:0] s; integer seed;
  initial begin seed = SEED; s = $random(seed); end
  always @(posedge i[11]) s <= i[9:2];
  assign #D {o[12], o[13], o[14], o[15], o[16], o[17], o[18], o[19]} = i[1] ? 8'bz : s;
endmodule
module chip_541 #(parameter D = 12, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  assign #D {o[11], o[12], o[13], o[14], o[15], o[16], o[17], o[18]} = (i[1] | i[19]) ? 8'bz : i[9:2];
endmodule
module chip_540 #(parameter D = 12, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  assign #D {o[11], o[12], o[13], o[14], o[15], o[16], o[17], o[18]} = (i[1] | i[19]) ? 8'bz : ~i[9:2];
endmodule
module chip_393 #(parameter D = 18, parameter SEED = 1) (input [14:1] i, output [14:1] o);
  reg [3:0] a, b; integer seed;
  initial begin seed = SEED; {a, b} = $random(seed); end
  always @(negedge i[1] or posedge i[2]) if (i[2]) a <= 0; else a <= a + 4'd1;
  always @(negedge i[13] or posedge i[12]) if (i[12]) b <= 0; else b <= b + 4'd1;
  assign #D {o[6], o[5], o[4], o[3]} = a;
  assign #D {o[8], o[9], o[10], o[11]} = b;
endmodule
module chip_688 #(parameter D = 18, parameter SEED = 1) (input [20:1] i, output [20:1] o);
  wire [7:0] p = {i[17], i[15], i[13], i[11], i[8], i[6], i[4], i[2]}, q = {i[18], i[16], i[14], i[12], i[9], i[7], i[5], i[3]};
  assign #D o[19] = i[1] | (p != q);
endmodule
