// `run`: simulates the machine of a stage, with its proofs predicted against what is expected. `expect`: what instruments show.

import { type Finding, foldName, sortFindings } from '../../base/index.ts';
import { writeVcd } from '../../format/vcd/index.ts';
import {
  buildCircuit,
  firstChanges,
  type Circuit,
  digitsText,
  displays,
  lightOver,
  measureNets,
  proofWatch,
  resetNs,
  runProof,
  Session,
  type SimChange,
  type SimContents,
  type SimNetlist,
  writeVerilog,
} from '../../sim/index.ts';
import type { Build } from '../build.ts';
import { imagesOf, proofFacts } from '../images.ts';
import { simInput } from '../sim-input.ts';
import { textTable } from '../table.ts';
import { refuse, type VerbResult } from '../verb.ts';

interface Ready {
  readonly netlist: SimNetlist;
  readonly circuit: Circuit;
  readonly contents: SimContents;
  readonly findings: readonly Finding[];
  readonly from: 'boards' | 'netlist';
}

/** The circuit of a stage with its images; nothing is refused: what is missing is a finding. */
function ready(
  build: Build,
  options: { readonly stage: number; readonly from?: 'netlist'; readonly seed?: number },
): Ready {
  const { images, findings } = imagesOf(build, options.stage);
  const input = simInput(build, options.stage, {
    images,
    ...(options.from === undefined ? {} : { from: options.from }),
    ...(options.seed === undefined ? {} : { seed: options.seed }),
  });
  const made = buildCircuit(input.netlist, input.contents);
  return {
    netlist: input.netlist,
    circuit: made.value,
    contents: input.contents,
    findings: [...findings, ...input.findings, ...made.findings],
    from: input.from,
  };
}

const termText = (terms: readonly { readonly key: string; readonly value: string }[]): string =>
  terms.map(({ key, value }) => (value === '' ? key : `${key}: ${value}`)).join(', ');

export interface RunOptions {
  readonly stage: number;
  /** Processor clocks after reset. Default 200,000; for proofs 2,000,000 at most. */
  readonly clocks?: number;
  readonly seed?: number;
  readonly from?: 'netlist';
  /** Also the text of a value change dump. */
  readonly vcd?: boolean;
  /** Also the machine as structural Verilog. */
  readonly verilog?: boolean;
  /** Sent to the terminal after reset. */
  readonly send?: string;
}

/** Runs the machine of a stage. `vcd` and `verilog` of the result are texts, where they are wanted; the host writes them. */
export function runVerb(
  build: Build,
  options: RunOptions,
): VerbResult & { readonly vcd?: string; readonly verilog?: string } {
  const { netlist, circuit, contents, findings, from } = ready(build, options);
  const fastest = Math.max(1, ...circuit.sources.map((source) => source.rateHz ?? 0));
  const clockNs = fastest > 1 ? 1e9 / fastest : 1e6;
  const clocks = options.clocks ?? 200_000;
  const infos = build.design().stages.filter((info) => info.number === options.stage);
  const names =
    options.vcd === true
      ? circuit.nets.filter((name) => !name.startsWith('.'))
      : proofWatch(
          netlist,
          circuit,
          infos.flatMap((info) => info.decl.prove),
        );
  const session = new Session(circuit, contents, { watch: names, mostChanges: 2_000_000, quiet: true });
  // The dump begins just before the supervisor lets go: what comes before is the clock alone.
  const start = Math.max(0, resetNs(netlist) - 1.01e6);
  session.runTo(start);
  if (options.vcd === true) session.startRecording();
  session.runTo(resetNs(netlist));
  const saved = session.save();
  if (options.send !== undefined) session.send([...`${options.send}\r`].map((one) => one.charCodeAt(0) & 0xff));
  session.runTo(session.now + clocks * clockNs);
  const verilog =
    options.verilog === true
      ? writeVerilog(netlist, circuit, contents, { name: build.design().name })
      : { value: undefined, findings: [] };
  const terminal = session.terminalText();
  const run = Math.round(session.now / clockNs);
  const ranMs = session.now / 1e6;
  const endNs = session.now;
  const shown = displays(session, netlist);
  // Digits may be lit in turn: the machine runs on while they are looked at.
  const hasDigits = netlist.parts.some((part) => part.record.symbol === 'digit');
  const digits = hasDigits ? digitsText(session, netlist, lightOver(session, 20e6, 200)) : null;
  const seen = [...session.findings];
  const { lost } = session;
  const vcd =
    options.vcd === true
      ? dump(
          session.changes.filter(({ ns }) => ns <= endNs),
          session.watched,
          start,
          endNs,
          build,
        )
      : undefined;
  const facts = proofFacts(build.design(), options.stage);
  // Proofs go back to the end of the reset, each anew.
  const machine = saved === undefined || options.vcd === true ? {} : { machine: { session, saved } };
  const proofs = infos.flatMap((info) =>
    info.decl.prove.map((proof) => {
      const outcome = runProof(netlist, circuit, contents, proof, {
        facts,
        ...machine,
        ...(options.clocks === undefined ? {} : { clocks: options.clocks }),
      });
      const given = termText(proof.given);
      return {
        finding: proof.span,
        proof: given === '' ? termText(proof.expect) : `given ${given}: ${termText(proof.expect)}`,
        expected: termText(proof.expect),
        predicted: outcome.predicted.join('; '),
        pass: outcome.pass ?? null,
      };
    }),
  );
  const failed = proofs
    .filter((proof) => proof.pass === false)
    .map(
      (proof): Finding => ({
        code: 'app/proof-not-met',
        severity: 'error',
        message: `The design does not show what stage ${options.stage} is to prove: ${proof.proof}.`,
        where: [proof.finding],
        notes: [{ text: `Simulated: ${proof.predicted}.` }],
        help: 'Look at the wiring and the programs of this stage before any wire goes in, or at the proof itself.',
        stage: options.stage,
      }),
    );
  return {
    value: {
      stage: options.stage,
      from,
      clocks: run,
      proofs: proofs.map(({ finding: _place, ...rest }) => rest),
      terminal,
      digits,
      displays: shown,
    },
    findings: sortFindings([...findings, ...seen, ...verilog.findings, ...failed]),
    text: [
      `Stage ${options.stage}, read from the ${from}: ${run} clocks, ${ranMs.toFixed(3)} ms.`,
      ...(proofs.length === 0
        ? []
        : [
            textTable(
              proofs.map((proof) => [
                proof.pass === null ? 'not simulated' : proof.pass ? 'shows' : 'DOES NOT SHOW',
                proof.proof,
                proof.predicted,
              ]),
            ),
          ]),
      ...(terminal === '' ? [] : ['Terminal:', terminal]),
      ...(digits === null ? [] : [`Digits: ${digits}`]),
      ...shown.flatMap(({ part, lines }) => [`${part}:`, ...lines.map((line) => `  |${line}|`)]),
      ...(lost > 0 ? [`${lost} later changes are not in the dump.`] : []),
    ].join('\n'),
    ...(vcd === undefined ? {} : { vcd }),
    ...(verilog.value === undefined ? {} : { verilog: verilog.value.text }),
  };
}

function dump(
  changes: readonly SimChange[],
  names: readonly string[],
  startNs: number,
  endNs: number,
  build: Build,
): string {
  return writeVcd({
    scope: build.design().name,
    signals: names.map((name) => ({ name })),
    changes: changes.map(({ ns, net, level }) => ({ ps: (ns - startNs) * 1000, signal: net, value: level })),
    endPs: (endNs - startNs) * 1000,
  });
}

/** What instruments show at a stage, net by net and pin by pin. */
export function expectVerb(
  build: Build,
  options: {
    readonly stage: number;
    readonly clocks?: number;
    readonly from?: 'netlist';
    /** One net, part or pin (PART.PIN, PART.NUMBER) only, with what it shows in the first microseconds after reset. */
    readonly at?: string;
    /** Microseconds of that. Default 10, 10,000 at most. */
    readonly firstUs?: number;
  },
): VerbResult {
  const { netlist, circuit, contents, findings, from } = ready(build, options);
  const fastest = Math.max(1, ...circuit.sources.map((source) => source.rateHz ?? 0));
  const clockNs = fastest > 1 ? 1e9 / fastest : 1e6;
  // Two whole runs through 64 KiB of fetches, so that the highest line is seen as well.
  const clocks = options.clocks ?? 4 * 2 * 65536;
  const { nets, session } = measureNets(netlist, circuit, contents, clocks * clockNs);
  const pinsOf = new Map<number, string[]>();
  for (const [key, net] of circuit.netOfPin) {
    const name = circuit.pinNames.get(key);
    if (name !== undefined) pinsOf.set(net, [...(pinsOf.get(net) ?? []), name]);
  }
  const place = new Map(circuit.nets.map((name, net) => [name, net]));
  const wanted = options.at === undefined ? undefined : netsNamed(netlist, circuit, options.at);
  if (wanted !== undefined && wanted.size === 0)
    return refuse('expect/unknown', `No net, part or pin is called ${options.at} at stage ${options.stage}.`);
  const firstNs = Math.min(options.firstUs ?? 10, 10_000) * 1000;
  const looked = nets.filter(({ net }) => wanted === undefined || wanted.has(place.get(net)!));
  const first = new Map(
    firstChanges(
      netlist,
      circuit,
      contents,
      looked.map(({ net }) => net),
      firstNs,
    ).map((entry) => [entry.net, entry]),
  );
  const { supplies } = proofFacts(build.design(), options.stage);
  const signals = looked.flatMap((measured) => {
    const pins = pinsOf.get(place.get(measured.net)!) ?? [];
    const start = first.get(measured.net);
    const shown =
      start === undefined ? {} : { first: { us: firstNs / 1000, level: start.level, changes: start.changes } };
    return pins.map((pin) => ({ ...measured, ...shown, pin }));
  });
  const hertz = (value: number | undefined): string => (value === undefined ? '' : `${value.toPrecision(5)} Hz`);
  const show = (level: unknown): string =>
    level === 1 ? 'high' : level === 0 ? 'low' : level === 'Z' ? 'floating' : 'unknown';
  return {
    value: { stage: options.stage, from, clocks, signals, supplies: supplies ?? [] },
    findings: sortFindings([...findings, ...session.findings]),
    text: [
      `Stage ${options.stage}, read from the ${from}; over ${clocks} clocks after reset. Zero delay: nothing finer than an edge.`,
      textTable(
        looked
          .filter(
            ({ net }) => wanted !== undefined || (pinsOf.get(place.get(net)!) ?? []).length > 1 || !net.includes('.'),
          )
          .map(({ net, level, frequencyHz, dutyPercent, unsurePercent, atFetches }) => [
            net,
            level !== undefined ? show(level) : hertz(frequencyHz),
            dutyPercent === undefined ? '' : `high ${dutyPercent.toFixed(1)} %`,
            unsurePercent === undefined ? '' : `floating or unknown ${unsurePercent.toFixed(1)} %`,
            atFetches === undefined
              ? ''
              : `at fetches (${atFetches.gate}): ${atFetches.level !== undefined ? show(atFetches.level) : hertz(atFetches.frequencyHz)}`,
          ]),
      ),
      ...(wanted === undefined
        ? []
        : [...first.values()].map(
            ({ net, level, changes }) =>
              `${net}, the first ${firstNs / 1000} us after reset: ${[
                show(level),
                ...changes.slice(0, 40).map((change) => `${show(change.level)} from ${(change.ns / 1000).toFixed(2)}`),
                ...(changes.length > 40 ? [`and ${changes.length - 40} more`] : []),
              ].join(', ')}.`,
          )),
      ...(supplies ?? []).map(({ name, typMa, maxMa }) =>
        typMa === undefined || maxMa === undefined
          ? `Supply ${name}: its current is not known.`
          : `Supply ${name}: ${typMa.toFixed(0)} mA typical, ${maxMa.toFixed(0)} mA at most, from the data sheets.`,
      ),
    ].join('\n'),
  };
}

/** Places of the nets that a name means: a net, a part's nets, or the net at a pin. */
function netsNamed(netlist: SimNetlist, circuit: Circuit, name: string): Set<number> {
  const wanted = foldName(name);
  const net = circuit.nets.findIndex((one) => foldName(one) === wanted);
  if (net >= 0) return new Set([net]);
  return new Set(
    netlist.parts.flatMap((part, index) =>
      part.record.pins.flatMap((pin) => {
        const isIt = [part.name, `${part.name}.${pin.name}`, `${part.name}.${pin.number}`].some(
          (one) => foldName(one) === wanted,
        );
        const at = circuit.netOfPin.get(index * 256 + pin.number);
        return isIt && at !== undefined ? [at] : [];
      }),
    ),
  );
}
