// A made-up machine of sixty chips and about 1,500 connections over eight stages, as text: a Z80 with memory, serial ports,
// latches and buffers on its bus, and chains of registers, adders and selectors behind them.

/** The machine file. Deterministic; `chains` groups of registers behind the bus, about five chips each. */
export function bigMachine(chains = 9): string {
  const parts: string[] = [];
  const members: string[] = ['ROM', 'RAM', 'UART'];
  const ports: string[] = ['  - { UART: 8 at 0x08 }'];
  const stages: string[][] = [[], [], [], []];
  for (let k = 0; k < chains; k++) {
    const net = (name: string, high = 7): string => `${name}${k}x${high}-${name}${k}x0`;
    parts.push(
      `  OUT${k}: { type: 74HCT574, pins: { Q7-Q0: ${net('word')} } }`,
      `  IN${k}: { type: 74HCT541, pins: { A8-A1: ${net('sum')} } }`,
      `  ADD${k}A: { type: 74HCT283, pins: { A4-A1: ${net('word', 3)}, B4-B1: ${net('mask', 3)}, S4-S1: ${net('sum', 3)}, C0: GND, C4: carry${k} } }`,
      `  ADD${k}B: { type: 74HCT283, pins: { A4-A1: word${k}x7-word${k}x4, B4-B1: mask${k}x7-mask${k}x4, S4-S1: sum${k}x7-sum${k}x4, C0: carry${k}, C4: open } }`,
      `  KEEP${k}: { type: 74HCT273, pins: { D7-D0: ${net('sum')}, Q7-Q0: ${net('mask')}, CLK: cpu-clock, /CLR: /reset } }`,
      `  LAMPS${k}: { type: led-bar-10, through: 1 kohm, pins: { A8-A1: ${net('mask')}, K8-K1: GND } }`,
    );
    members.push(`OUT${k}`, `IN${k}`);
    ports.push(
      `  - { OUT${k}: 1 at 0x${(0x40 + k).toString(16)} }`,
      `  - { IN${k}: 1 at 0x${(0x60 + k).toString(16)} }`,
    );
    stages[Math.floor((k * 4) / chains)]!.push(`OUT${k}`, `IN${k}`, `ADD${k}A`, `ADD${k}B`, `KEEP${k}`, `LAMPS${k}`);
  }
  return `machine: Carillon works
supplies:
  main: { volts: 5 V, tolerance: 5 %, limit: 3 A }
clocks:
  cpu: { from: OSC.OUT, rate: 3.6864 MHz }
defaults: { family: HCT }
parts:
  CPU: { type: Z80, grade: 6 MHz CMOS }
  ROM: { type: 28C256, grade: 150 ns, holds: firmware/bells.hex }
  RAM: { type: "62256", grade: 70 ns }
  SEL: { type: 74HCT138 }
  DEC1: { type: 22V10, grade: 15 ns }
  DEC2: { type: 22V10, grade: 15 ns }
  UART: { type: 16C550, grade: standard, pins: { XIN: cpu-clock, MR: reset, INTR: open, SOUT: open } }
  OSC: { type: oscillator-can, rate: 3.6864 MHz }
  SUP: { type: DS1233-10, pins: { /RST: /reset } }
  BUTTON: { type: push-button, pins: { A: /reset, B: GND } }
  INV: { type: 74HCT04 }
  AND: { type: 74HCT08 }
  OR: { type: 74HCT32 }
  NAND: { type: 74HCT00 }
  STEP: { type: 74HCT74, pins: { 1D: beat, 1CLK: cpu-clock, 1Q: slow, 2D: slow, 2CLK: cpu-clock, 2Q: slower } }
  COUNT: { type: 74HCT393, pins: { 1CLK: cpu-clock, 1CLR: reset, 1QD: beat, 2CLK: beat, 2CLR: reset, 2QA: open } }
  PICK: { type: 74HCT157, pins: { 1A: slow, 1B: slower, /A/B: beat, /G: GND, 1Y: pace, 2A: pace, 2B: GND, 2Y: open, 3A: GND, 3B: GND, 4A: GND, 4B: GND } }
${parts.join('\n')}
buses:
  main: { processor: CPU, members: [${members.join(', ')}], selects: { memory: SEL, ports: [DEC1, DEC2] } }
memory:
  - { ROM: 32 KiB at 0x0000 }
  - { RAM: 32 KiB at 0x8000 }
ports:
${ports.join('\n')}
nets:
  cpu-clock: [OSC.OUT, CPU.CLK]
  /reset: [CPU./RESET]
ties:
  - { high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSRQ], through: 10 kohm }
logic:
  reset: high when low(/reset)
stages:
  - stage: supply and reset
    adds: [SUP, BUTTON, INV]
  - stage: clock
    adds: [OSC, COUNT, STEP, AND, OR, NAND, PICK]
  - stage: free run
    adds: [CPU]
    temporary: [{ hold: D7-D0, at: 0x00, through: 2.2 kohm, until: memory }]
    leads: { pod 1: [A7-A0], until: memory }
  - stage: memory
    adds: [ROM, RAM, SEL, DEC1, DEC2, UART]
${stages.map((names, k) => `  - stage: words ${k + 1}\n    adds: [${names.join(', ')}]`).join('\n')}
`;
}
