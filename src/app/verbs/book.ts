// `book`: the record as files. For now one page with drawings, findings, parts, steps and the cut sheet, and the drawings apart.

import { sortFindings } from '../../base/index.ts';
import { renderPage } from '../../book/index.ts';
import { createScene, renderBoards } from '../../drawing/index.ts';
import type { Build } from '../build.ts';
import { Places } from '../findings.ts';
import type { VerbResult } from '../verb.ts';

/** The page for `book` and `open`. */
export function pageOf(build: Build): string {
  const { project } = build;
  const places = new Places((file) => project.text(file));
  const findings = [...project.findings(), ...build.layout().findings, ...build.journal().findings, ...build.stale()];
  return renderPage({
    design: build.design(),
    about: project.machine().value.about,
    layout: build.layout().value,
    plan: build.plan(build.design().stages.length)?.value,
    built: build.built().value,
    findings: findings.map((finding) => {
      const where = finding.where[0];
      const place = where === undefined ? undefined : places.place(where);
      return {
        severity: finding.severity,
        message: finding.message,
        place: place === undefined ? '' : `${place.file}:${place.line}`,
        why: finding.notes.map((note) => note.text),
        help: finding.help,
      };
    }),
    waived: project.waived().map((entry) => ({ message: entry.finding.message, reason: entry.waiver.reason })),
  });
}

/** Writes index.html and a drawing for each stage under `out`, a path relative to the project. */
export function bookVerb(build: Build, options: { readonly out: string }): VerbResult {
  const files = new Map<string, string>([[`${options.out}/index.html`, pageOf(build)]]);
  const layout = build.layout().value;
  const design = build.design();
  if (layout !== undefined) {
    const built = build.built().value;
    const done = { parts: new Set(built.parts.keys()), wires: new Set(built.wires.keys()) };
    for (const stage of design.stages) {
      const input = { design, layout, stage: stage.number, built: done };
      files.set(
        `${options.out}/stage-${stage.number}.svg`,
        renderBoards({
          ...input,
          scene: createScene(input),
          scale: 6,
          ground: 'paper',
          title: `${design.name}, stage ${stage.number}, ${stage.name}`,
        }),
      );
    }
  }
  return {
    value: { files: [...files.keys()] },
    findings: sortFindings([
      ...build.project.findings(),
      ...build.layout().findings,
      ...build.journal().findings,
      ...build.stale(),
    ]),
    text: `Wrote ${files.size} files in ${options.out}.`,
    effects: [...files].map(([path, text]) => ({ kind: 'write' as const, path, text })),
  };
}
