// One page that shows a machine: the drawing of each stage, the findings, the parts and the steps. Self-contained HTML from
// results that others worked out; nothing here computes, and every name from a file is escaped.

import { compareNatural } from '../base/index.ts';
import { type Layout, layoutAt } from '../board/index.ts';
import { createScene, escapeXml, pageStyle, renderBoards } from '../drawing/index.ts';
import { type Design, netlistAt } from '../netlist/index.ts';
import { type Built, cuttingList, type StepPlan } from '../stage/index.ts';

/** A finding as the page prints it. */
export interface PageFinding {
  readonly severity: string;
  readonly message: string;
  readonly place: string;
  readonly why: readonly string[];
  readonly help: string | undefined;
}

export interface PageInput {
  readonly design: Design;
  readonly about: string | undefined;
  readonly layout: Layout | undefined;
  readonly plan: StepPlan | undefined;
  readonly built: Built;
  readonly findings: readonly PageFinding[];
  readonly waived: readonly { readonly message: string; readonly reason: string }[];
}

const CAUTIONS = [
  'Local electrical rules, and for mains work a licensed person, come first. Use an isolated, current-limited supply, and never open a mains one.',
  'Check the polarity at the boards with a meter before a chip goes in. Never join a USB supply and a bench supply.',
  'Power off before chips, wires or leads are put in or moved: a chip without its supply feeds itself through its inputs.',
  'A chip that is hot to the touch is reversed or fighting another: switch off.',
  'Discharge yourself before handling CMOS parts. Mind the polarity of electrolytic capacitors.',
];

/** The page, as HTML text. Same input, same bytes. */
export function renderPage(input: PageInput): string {
  const { design } = input;
  const title = escapeXml(design.name);
  return `<!doctype html>
<html lang="en" data-ground="paper">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${title}</title>
<style>${pageStyle()}
${PAGE_CSS}</style>
</head>
<body>
<header><h1>${title}</h1>${input.about === undefined ? '' : `<p>${escapeXml(input.about)}</p>`}</header>
<nav aria-label="Sections"><a href="#drawings">Boards</a> <a href="#findings">Findings</a> <a href="#parts">Parts</a> <a href="#steps">Steps</a> <a href="#cut">Cut sheet</a></nav>
<main>
${cautions()}
${drawings(input)}
${findingsSection(input)}
${partsSection(input)}
${stepsSection(input)}
${cutSection(input)}
</main>
</body>
</html>
`;
}

function cautions(): string {
  return `<section id="cautions"><h2>Before the power</h2><ul>${CAUTIONS.map((text) => `<li>${text}</li>`).join('')}</ul></section>`;
}

function drawings(input: PageInput): string {
  const { layout, design } = input;
  if (layout === undefined)
    return '<section id="drawings"><h2>Boards</h2><p>Nothing is laid out yet: run <code>proofboard lay</code>.</p></section>';
  const built = { parts: new Set(input.built.parts.keys()), wires: new Set(input.built.wires.keys()) };
  const figures = design.stages.map((stage) => {
    const scene = createScene({ design, layout, stage: stage.number, built });
    const { parts, wires } = layoutAt(layout, stage.number);
    const metres = wires.reduce((sum, wire) => sum + wire.cutMm, 0) / 1000;
    return `<figure id="stage-${stage.number}">${renderBoards({ design, layout, stage: stage.number, built, scene, scale: 6 })}
<figcaption>Stage ${stage.number}, ${escapeXml(stage.name)}: ${parts.length} parts, ${wires.length} wires, ${metres.toFixed(1)} m cut.</figcaption></figure>`;
  });
  return `<section id="drawings"><h2>Boards</h2>${figures.reverse().join('\n')}</section>`;
}

function findingsSection(input: PageInput): string {
  const items = input.findings.map(
    (finding) =>
      `<li class="${finding.severity}"><strong>${escapeXml(finding.severity)}</strong> ${escapeXml(finding.message)} <code>${escapeXml(finding.place)}</code>${finding.why.map((text) => `<br>${escapeXml(text)}`).join('')}${finding.help === undefined ? '' : `<br>To mend: ${escapeXml(finding.help)}`}</li>`,
  );
  const waived = input.waived.map((entry) => `<li>${escapeXml(entry.message)} Waived: ${escapeXml(entry.reason)}</li>`);
  return `<section id="findings"><h2>Findings</h2>${items.length === 0 ? '<p>Nothing wrong was found.</p>' : `<ul>${items.join('')}</ul>`}${waived.length === 0 ? '' : `<h3>Waived</h3><ul>${waived.join('')}</ul>`}</section>`;
}

function partsSection(input: PageInput): string {
  const netlist = netlistAt(input.design, input.design.stages.length);
  const rows = [...netlist.parts]
    .sort((a, b) => compareNatural(a.name, b.name))
    .map((part) => {
      const place =
        input.layout === undefined
          ? undefined
          : layoutAt(input.layout, netlist.stage).parts.find((placed) => placed.part === part.name);
      return `<tr><td>${escapeXml(part.name)}</td><td>${escapeXml([part.type, part.grade, part.value].filter((text) => text !== undefined).join(', '))}</td><td>${escapeXml(part.implied === undefined ? '' : `for ${part.implied.serves}`)}</td><td>${part.stage}</td><td>${escapeXml(place?.leads[0]?.hole ?? '')}</td></tr>`;
    });
  return `<section id="parts"><h2>Parts</h2><table><thead><tr><th scope="col">Part</th><th scope="col">Type</th><th scope="col">Serves</th><th scope="col">Stage</th><th scope="col">First lead</th></tr></thead><tbody>${rows.join('')}</tbody></table></section>`;
}

function stepsSection(input: PageInput): string {
  if (input.plan === undefined) return '<section id="steps"><h2>Steps</h2><p>Steps follow from a layout.</p></section>';
  const parts: string[] = [];
  let number = 0;
  for (const group of input.plan.groups) {
    const stage = input.design.stages[group.stage - 1]?.name ?? '';
    const steps = input.plan.steps.filter((step) => group.ids.includes(step.id));
    parts.push(
      `<h3>Stage ${group.stage}, ${escapeXml(stage)}: ${escapeXml(group.group)}</h3><ol start="${number + 1}">${steps.map((step) => `<li>${escapeXml(step.text)}${step.notes.map((note) => `<br><small>${escapeXml(note)}</small>`).join('')} <code>${escapeXml(step.id)}</code></li>`).join('')}</ol>`,
    );
    number += steps.length;
  }
  return `<section id="steps"><h2>Steps</h2><p>${number} steps left.</p>${parts.join('')}</section>`;
}

function cutSection(input: PageInput): string {
  if (input.plan === undefined) return '';
  const list = cuttingList(input.plan.steps);
  const rows = list.rows.map(
    (row) => `<tr><td>${escapeXml(row.colour)}</td><td>${row.cutMm} mm</td><td>${row.count}</td></tr>`,
  );
  return `<section id="cut"><h2>Cut sheet</h2><table><thead><tr><th scope="col">Colour</th><th scope="col">Cut</th><th scope="col">Pieces</th></tr></thead><tbody>${rows.join('')}</tbody></table></section>`;
}

const PAGE_CSS = `
body{margin:0;padding:24px;background:var(--ground);color:var(--ink);font:15px/1.5 "Atkinson Hyperlegible Next",system-ui,sans-serif}
h1{font-size:34px;margin:0}h2{font-size:24px;border-bottom:1px solid var(--ink);margin:32px 0 12px}h3{font-size:18px;margin:20px 0 6px}
nav a{color:var(--ink);margin-right:16px}code{font-family:"Atkinson Hyperlegible Mono",ui-monospace,monospace;font-size:13px}
table{border-collapse:collapse}th,td{text-align:left;padding:4px 16px 4px 0;border-bottom:1px solid var(--hair);font-variant-numeric:tabular-nums}
figure{margin:0 0 32px}figure svg{max-width:100%;height:auto}figcaption{color:var(--ink-2)}
li{margin:2px 0}li.error strong{color:var(--fault)}li.warning strong{color:var(--doubt)}small{color:var(--ink-2)}
@media print{nav{display:none}figure,table,ol{break-inside:avoid}body{padding:0;background:#fff}}
`;
