// Everything together: timing, loading, levels, supply, what reaches the chips, and what gives way first.

import type { Result } from '../base/index.ts';
import type { Design } from '../netlist/index.ts';
import { type BusTiming, busTiming, type TimingOptions } from './bus-timing/timing.ts';
import { type SupplyDrop, supplyDrops, type SupplyWiring } from './drop.ts';
import { findingsOf } from './findings.ts';
import { loadingOf, type NetLoading } from './loading.ts';
import { type ClockReport, clockReport } from './serial.ts';
import { type SignalReport, signalReport, type WireFacts } from './signal-report.ts';
import { currentAt, type StageCurrent } from './supply.ts';
import {
  type Break,
  fallingSupply,
  risingClock,
  slowPart,
  type SupervisorMargin,
  supervisorMargin,
} from './what-breaks-first.ts';

export interface Margins {
  readonly stage: number;
  readonly timing: BusTiming;
  readonly loading: readonly NetLoading[];
  /** The current of every stage up to this one. */
  readonly supply: readonly StageCurrent[];
  /** What arrives at the chips' pins, by supply; null where there is no layout. */
  readonly drops: readonly SupplyDrop[] | null;
  /** Estimates of what wires do to edges; null without a layout. */
  readonly signals: SignalReport | null;
  readonly clocks: ClockReport;
  readonly supervisor: SupervisorMargin | null;
  readonly breaksFirst: {
    readonly clock: readonly Break[];
    readonly supply: readonly Break[];
    readonly slower: readonly Break[];
  };
}

export interface MarginsOptions extends TimingOptions {
  /** How the supply is wired, from a layout. */
  readonly supplyWiring?: SupplyWiring;
  /** What the layout tells of wires. */
  readonly wires?: WireFacts;
  /** V that further feeds should restore at the lowest chip. */
  readonly wantedVolts?: number;
}

/** All margins of a machine as of a stage. */
export function margins(design: Design, stage: number, options: MarginsOptions): Result<Margins> {
  const loading = loadingOf(design, stage, options);
  const timing = busTiming(design, stage, { ...options, loading });
  const supply = design.stages.filter((info) => info.number <= stage).map((info) => currentAt(design, info.number));
  const value: Margins = {
    stage,
    timing,
    loading,
    supply,
    drops: options.supplyWiring === undefined ? null : supplyDrops(design, options.supplyWiring, options),
    signals: options.wires === undefined ? null : signalReport(design, stage, loading, options.wires, options),
    clocks: clockReport(design, stage),
    supervisor: supervisorMargin(design, stage, options),
    breaksFirst: {
      clock: risingClock(design, stage, timing),
      supply: fallingSupply(design, stage, options),
      slower: slowPart(timing),
    },
  };
  return { value, findings: findingsOf(design, value) };
}
