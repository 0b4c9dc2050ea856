// `lay`: place and wire, keeping what stands; the layout is proved against the netlist at every stage before it is written.

import { type Finding, foldName, hasErrors, sortFindings } from '../../base/index.ts';
import {
  exchangePins,
  type Layout,
  type LayoutChoices,
  type LayOptions,
  lay,
  layoutAt,
  printLayout,
  proveLayout,
} from '../../board/index.ts';
import { type Build, partDetails, stripIn } from '../build.ts';
import { counted, textTable } from '../table.ts';
import { type VerbResult, refuse } from '../verb.ts';

/** The layout as of a stage, as the contract lists it. */
export function layoutValue(build: Build, layout: Layout, stage: number): object {
  const { parts, wires } = layoutAt(layout, stage);
  const details = partDetails(build, stage);
  return {
    stage,
    boards: layout.boards,
    parts: parts.map((part) => {
      const known = details.get(foldName(part.part));
      return {
        part: part.part,
        type: part.type,
        grade: known?.grade ?? null,
        value: known?.value ?? null,
        holds: known?.holds ?? null,
        rotation: part.rotation,
        stage: part.stage,
        pins: part.leads.map((lead) => ({
          pin: known?.pinNames.get(lead.number) ?? String(lead.number),
          number: lead.number,
          hole: lead.hole,
          strip: stripIn(layout, lead.hole),
          net: known?.pinNets.get(lead.number) ?? null,
        })),
      };
    }),
    wires: wires.map((wire) => ({
      id: wire.id,
      from: { hole: wire.from, strip: stripIn(layout, wire.from) },
      to: { hole: wire.to, strip: stripIn(layout, wire.to) },
      net: wire.net,
      cutMm: wire.cutMm,
      colour: wire.colour,
      style: wire.style,
      stage: wire.stage,
      temporary: wire.temporary,
      lead: wire.lead ?? null,
    })),
    leads: (layout.leads ?? [])
      .filter((lead) => lead.stage <= stage && (lead.until === undefined || stage < lead.until))
      .map((lead) => ({
        lead: lead.lead,
        kind: lead.kind,
        housing: lead.housing,
        key: lead.key ?? null,
        ways: lead.ways,
      })),
    totals: { wires: wires.length, cutMm: wires.reduce((sum, wire) => sum + wire.cutMm, 0) },
  };
}

/** What the proof found beyond what is told already; of a part without a place, not each of its pins once more. */
function untold(proof: readonly Finding[], told: readonly Finding[]): Finding[] {
  if (told.some(({ code }) => code === 'board/no-room' || code === 'board/no-free-hole'))
    return proof.filter(({ code }) => code !== 'board/pin-not-placed' && code !== 'board/joined-apart');
  const messages = new Set(told.map((finding) => finding.message));
  return proof.filter((finding) => !messages.has(finding.message));
}

/** Choices of boards.yaml that the layout could not follow: wires that it does not have, supplies that the machine has not. */
function unheeded(build: Build, choices: LayoutChoices, layout: Layout): Finding[] {
  const findings: Finding[] = [];
  const ends = (from: string, to: string): string => [from, to].sort().join(' ');
  const nets = new Set(
    build.project.design().value.netlists.flatMap((one) => one.nets.map((net) => foldName(net.name))),
  );
  const holes = new Set(layout.wires.map((wire) => `${foldName(wire.net)} ${ends(wire.from, wire.to)}`));
  for (const { net, from, to, span } of choices.wires) {
    if (!nets.has(foldName(net)) || holes.has(`${foldName(net)} ${ends(from, to)}`)) continue;
    findings.push({
      code: 'lay/wire-not-laid',
      severity: 'error',
      message: `The wire of ${net} from ${from} to ${to} is not laid.`,
      where: span === undefined ? [] : [span],
      notes: [
        { text: `A hole is taken, or one of the two strips carries no pin of ${net}, or the wire closes a ring.` },
      ],
      help: 'Choose other holes, or take the line out.',
      about: [net],
    });
  }
  const supplies = build.project.design().value.supplies.map((supply) => supply.name);
  for (const { supply, span } of choices.supplies) {
    if (supplies.some((name) => foldName(name) === foldName(supply))) continue;
    findings.push({
      code: 'lay/unknown-supply',
      severity: 'error',
      message: `The machine has no supply ${supply}.`,
      where: span === undefined ? [] : [span],
      notes: [],
      help: `Supplies: ${supplies.join(', ')}.`,
      about: [supply],
    });
  }
  return findings;
}

/** What is laid is what could be derived; with errors in the machine that may not be what was meant. */
function machineHasErrors(errors: number): Finding {
  return {
    code: 'lay/machine-has-errors',
    severity: 'warning',
    message: `The machine has ${counted(errors, 'error')}, so this is the layout of what could be derived from it.`,
    where: [],
    notes: [{ text: 'What is missing or wrong in the machine is missing or wrong on the boards.' }],
    help: 'Run `check` and mend the errors before anything is built.',
  };
}

export function layVerb(build: Build, options: LayOptions & { readonly stage: number }): VerbResult {
  const design = build.ownDesign();
  const before = build.layout();
  if (before.value === undefined && hasErrors(before.findings)) {
    return refuse(
      'lay/layout-unreadable',
      `${build.layoutPath} can't be read, so it is left as it is.`,
      before.findings[0]?.message,
    );
  }
  if (design.value.netlists.at(-1)!.parts.length === 0) {
    return {
      ...refuse(
        'lay/nothing-to-place',
        'The machine has no part that could be placed.',
        'Mend what `check` finds first.',
      ),
      findings: build.project.findings(),
    };
  }
  const choices = build.choices();
  if (choices.findings.some((finding) => finding.code === 'yaml/syntax')) {
    const refusal = refuse(
      'lay/choices-unreadable',
      `${build.choicesPath} can't be read, so nothing is laid: places that you fixed there would be given away.`,
    );
    return { ...refusal, findings: [...refusal.findings, ...choices.findings] };
  }
  const result = lay(design.value, choices.value, before.value, options);
  const proof = proveLayout(result.value, exchangePins(design.value, result.value.exchanges ?? []).netlists);
  const errors = build.project.findings().filter((finding) => finding.severity === 'error').length;
  const findings = sortFindings([
    ...(errors === 0 ? [] : [machineHasErrors(errors)]),
    ...design.findings,
    ...choices.findings,
    ...result.findings,
    ...unheeded(build, choices.value, result.value),
    ...untold(proof, result.findings),
  ]);
  const text = printLayout(result.value);
  const last = layoutAt(result.value, options.stage);
  const metres = last.wires.reduce((sum, wire) => sum + wire.cutMm, 0) / 1000;
  const kinds = [...new Set(result.value.boards.map((board) => board.kind))].map(
    (kind) => `${result.value.boards.filter((board) => board.kind === kind).length} ${kind}`,
  );
  return {
    value: layoutValue(build, result.value, options.stage),
    findings,
    effects: proof.length === 0 || before.value === undefined ? [{ kind: 'write', path: build.layoutPath, text }] : [],
    text: [
      `${kinds.join(', ')} ${result.value.boards.length === 1 ? 'board' : 'boards'}; ${counted(last.parts.length, 'part')} and ${counted(last.wires.length, 'wire')}, ${metres.toFixed(1)} m to cut`,
      proof.length === 0
        ? 'Holes and wires give the netlist at every stage.'
        : 'Holes and wires do not give the netlist: see below.',
      textTable(
        last.parts
          .filter((part) => part.leads.length > 2)
          .map((part) => [
            part.part,
            part.type,
            `pin 1 in ${part.leads.find((lead) => lead.number === 1)?.hole ?? part.leads[0]!.hole}`,
            part.rotation === 0 ? '' : `turned ${part.rotation}`,
          ]),
        '  ',
      ),
    ].join('\n'),
  };
}
