// The boards as one Verilog machine: an instance for every chip that has its supply, a wire for every conductor, and what real
// conductors do that logic does not say: float, fight, remember. All of it is drawn by seed and told in `physics`.

import type { Rng } from '../../src/base/index.ts';
import type { Bench, PartEntry, SourceFault } from './boards.ts';
import { type Chip, chipOf, isPassive } from './chips.ts';
import { blankFuses, pldModule, readFuses } from './fuses.ts';

export interface BenchOptions {
  readonly clockHz: number;
  /** Clock periods from power-up to the supervisor letting go, and to the end. */
  readonly resetClocks: number;
  readonly clocks: number;
  /** Nodes to record, -1 for a probe that touches nothing. */
  readonly channels: readonly number[];
  /** File with a memory's bytes for $readmemh, by part. */
  readonly images: ReadonlyMap<string, string>;
  /** Fuse file's text, by part. */
  readonly fuses: ReadonlyMap<string, string>;
  readonly fault?: SourceFault;
  readonly rng: Rng;
  /** What is not drawn but said: for good machines at the corners. */
  readonly corner?: { readonly undriven: Physics['undriven']; readonly speed: 'fast' | 'any' | 'slow' };
  /** ns of a bit of the serial line; found in the firmware's settings by the caller. */
  readonly bitNs?: number;
}

/** What was drawn for this machine. */
export interface Physics {
  readonly undriven: 'hold' | '0' | '1';
  readonly contention: '0' | '1' | 'mixed';
  /** By node, of those that nothing ever drives. */
  readonly floating: Readonly<Record<number, string>>;
  readonly dead: readonly { readonly part: string; readonly pulls: boolean }[];
  /** Parts that run without their supply. */
  readonly fedBackwards: readonly string[];
}

export interface BenchText {
  readonly text: string;
  readonly physics: Physics;
  /** ns of half a clock period, whole. */
  readonly halfNs: number;
  readonly resetNs: number;
}

const share = <T>(rng: Rng, choices: readonly (readonly [T, number])[]): T => {
  let at = rng.unit() * choices.reduce((sum, [, weight]) => sum + weight, 0);
  for (const [choice, weight] of choices) {
    at -= weight;
    if (at < 0) return choice;
  }
  return choices.at(-1)![0];
};

export function benchText(bench: Bench, options: BenchOptions): BenchText {
  const { rng, fault } = options;
  const halfNs = Math.round(0.5e9 / options.clockHz);
  const resetNs = Math.round(options.resetClocks * 2 * halfNs + halfNs * 0.6);
  const drawn = share<Physics['undriven']>(rng, [
    ['hold', 60],
    ['0', 20],
    ['1', 20],
  ]);
  const undriven = options.corner?.undriven ?? drawn;
  const contention = share<Physics['contention']>(rng, [
    ['0', 60],
    ['1', 10],
    ['mixed', 30],
  ]);
  const drivers: string[][] = bench.nodes.map(() => []);
  const dead: { part: string; pulls: boolean }[] = [];
  const fedBackwards: string[] = [];
  const extra: string[] = [];
  const instances: string[] = [];
  const links: string[] = [];
  const floating: Record<number, string> = {};
  let loose = 0;

  const value = (node: number): string => `v${node}`;
  const isFed = (node: number | undefined, how: 'plus' | 'ground'): boolean =>
    node !== undefined && bench.nodes[node]!.fed === how;

  const seat = (part: PartEntry, chip: Chip, index: number): void => {
    const node = (pin: number): number | undefined => bench.nodeOf(part.part, pin);
    const hasPlus = chip.plus < 0 || isFed(node(chip.plus), 'plus');
    const hasGround = isFed(node(chip.ground), 'ground');
    const chance = rng.unit();
    const isTold = fault?.kind === 'part-dead' && fault.part === part.part;
    // Without its supply alone a part may be fed through its inputs.
    const runs = !isTold && hasGround && (hasPlus || chance < 0.15);
    if (!runs) {
      const pulls = rng.unit() < 0.25;
      dead.push({ part: part.part, pulls });
      if (pulls)
        for (let pin = 1; pin <= chip.pins; pin++) {
          const at = node(pin);
          if (at !== undefined) drivers[at]!.push("(pull1, pull0) 1'b0");
        }
      return;
    }
    if (!hasPlus) fedBackwards.push(part.part);
    const [least, most] = chip.delay;
    const any = least + rng.below(most - least + 1);
    const speed = options.corner?.speed ?? 'any';
    const parameters = [
      `.D(${speed === 'fast' ? least : speed === 'slow' ? most : any})`,
      `.SEED(${rng.below(2 ** 30)})`,
    ];
    let { module } = chip;
    if (chip.holds === 'fuses') {
      module = `pld_${index}`;
      const isBlank = fault?.kind === 'device-blank' && fault.part === part.part;
      const file = options.fuses.get(part.part);
      extra.push(pldModule(module, isBlank || file === undefined ? blankFuses(chip.pins) : readFuses(file)));
    }
    if (chip.holds === 'rom') {
      const isBlank = fault?.kind === 'device-blank' && fault.part === part.part;
      const file = isBlank ? undefined : options.images.get(part.part);
      if (file !== undefined) parameters.push(`.FILE("${file}")`);
    }
    if (chip.special === 'oscillator') parameters.push(`.HALF(${halfNs})`);
    if (chip.special === 'supervisor') parameters.push(`.PULSE(${resetNs})`);
    if (chip.special === 'serial' && options.bitNs !== undefined) parameters.push(`.BIT(${options.bitNs})`);
    const inputs: string[] = [];
    for (let pin = chip.pins; pin >= 1; pin--) {
      const at = node(pin);
      if (at !== undefined) inputs.push(value(at));
      else {
        const level = share(rng, [
          ["1'b0", 30],
          ["1'b1", 40],
          [`noise[${loose++ % 32}]`, 30],
        ]);
        inputs.push(chip.pulls?.includes(pin) ? "1'b1" : level);
      }
    }
    instances.push(
      `  wire [${chip.pins}:1] o${index}, i${index};`,
      `  assign i${index} = {${inputs.join(', ')}};`,
      `  ${module} #(${parameters.join(', ')}) u${index}(i${index}, o${index});`,
    );
    for (let pin = 1; pin <= chip.pins; pin++) {
      const at = node(pin);
      if (at === undefined) continue;
      const isStuck = fault?.kind === 'output-stuck' && fault.part === part.part && fault.pin === pin;
      drivers[at]!.push(isStuck ? `1'b${fault.level}` : `o${index}[${pin}]`);
      if (chip.pulls?.includes(pin)) drivers[at]!.push("(pull1, pull0) 1'b1");
    }
  };

  bench.parts.forEach((part, index) => {
    const chip = chipOf(part.type);
    if (chip !== undefined) {
      seat(part, chip, index);
      return;
    }
    if (!isPassive(part.type)) throw new Error(`no chip of type ${part.type} (${part.part})`);
    const pairs: (readonly [number, number])[] = [];
    if (/^resistor(?:-upright)?$/.test(part.type)) pairs.push([1, 2]);
    const network = /^resistor-network-(\d+)$/.exec(part.type);
    if (network !== null) for (let pin = 2; pin <= Number(network[1]); pin++) pairs.push([1, pin]);
    for (const [x, y] of pairs) {
      const a = bench.nodeOf(part.part, x);
      const b = bench.nodeOf(part.part, y);
      if (a === undefined || b === undefined || a === b) continue;
      const [p, q] = [bench.nodes[a]!.fed, bench.nodes[b]!.fed];
      const pull = (to: number, from: string): void => {
        if (from !== 'both') drivers[to]!.push(`(pull1, pull0) 1'b${from === 'plus' ? 1 : 0}`);
      };
      if (p !== 'none' && q !== 'none') continue;
      if (p !== 'none') pull(b, p);
      else if (q !== 'none') pull(a, q);
      else links.push(`  rtran (r${a}, r${b});`);
    }
  });

  const linked = new Set(links.flatMap((line) => [...line.matchAll(/r(\d+)/g)].map((found) => Number(found[1]))));
  const driven = bench.nodes.flatMap((_, node) => (drivers[node]!.length > 0 ? [node] : []));
  const nets: string[] = [];
  bench.nodes.forEach((node, k) => {
    if (node.fed === 'plus' || node.fed === 'ground') {
      nets.push(`  wire ${value(k)} = 1'b${node.fed === 'plus' ? 1 : 0};`, `  wire r${k} = ${value(k)};`);
      return;
    }
    if (node.fed === 'both') {
      // The supply is shorted: nothing runs, every level is low.
      nets.push(`  wire ${value(k)} = 1'b0;`, `  wire r${k} = 1'b0;`);
      return;
    }
    nets.push(`  wire r${k};`);
    for (const driver of drivers[k]!) {
      const strength = /^(\([^)]*\)) (.*)$/.exec(driver);
      nets.push(strength === null ? `  assign r${k} = ${driver};` : `  assign ${strength[1]} r${k} = ${strength[2]};`);
    }
    let float: string;
    if (drivers[k]!.length === 0 && !linked.has(k)) {
      float = share(rng, [
        ["1'b0", 30],
        ["1'b1", 30],
        [`noise[${k % 32}]`, 20],
        [driven.length === 0 ? "1'b0" : value(driven[rng.below(driven.length)]!), 20],
      ]);
      floating[k] = float;
    } else if (undriven === 'hold') {
      nets.push(`  reg h${k}; initial h${k} = 1'b${rng.below(2)};`);
      nets.push(`  always @(r${k}) if (r${k} === 1'b0 || r${k} === 1'b1) h${k} = r${k};`);
      float = `h${k}`;
    } else float = `1'b${undriven}`;
    const fight = contention === 'mixed' ? `1'b${rng.below(2)}` : `1'b${contention}`;
    nets.push(`  wire ${value(k)} = (r${k} === 1'bz) ? ${float} : (r${k} === 1'bx) ? ${fight} : r${k};`);
  });

  const channels = options.channels.map((node, k) => (node < 0 ? `noise[${(k * 7) % 32}]` : value(node))).reverse();
  const endNs = resetNs + options.clocks * 2 * halfNs;
  const text = [
    '`timescale 1 ns / 1 ns',
    ...extra,
    'module bench;',
    '  reg [31:0] noise; integer seed;',
    `  integer pace; initial begin seed = ${rng.below(2 ** 30)}; pace = seed + 1; noise = $random(seed);`,
    // Low bits of the generator alternate: the upper ones are folded in.
    '    forever #(200 + (($random(pace) >> 9) & 1023)) noise = $random(seed) ^ ($random(seed) >> 13); end',
    ...nets,
    ...links,
    ...instances,
    `  wire [${Math.max(0, channels.length - 1)}:0] ch = {${channels.length === 0 ? "1'b0" : channels.join(', ')}};`,
    '  always @(ch) $display("%0d %h", $time, ch);',
    `  initial #${endNs} $finish;`,
    'endmodule',
    '',
  ].join('\n');
  return { text, physics: { undriven, contention, floating, dead, fedBackwards }, halfNs, resetNs };
}
