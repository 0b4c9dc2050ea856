// `book`: the record as files: one page, and the drawings apart. The PDF is made by the host, which has the library, from the
// same input.

import { sortFindings } from '../../base/index.ts';
import { type BookInput, renderPage } from '../../book/index.ts';
import { addressMapDrawing, createScene, renderBoards } from '../../drawing/index.ts';
import type { Build } from '../build.ts';
import { mapAt, revisionAt } from '../decode.ts';
import { Places } from '../findings.ts';
import type { VerbResult } from '../verb.ts';
import { equation } from './decode.ts';

/** What the record of a build is made of, for the page and for the PDF. */
export function bookInputOf(build: Build): BookInput {
  const { project } = build;
  const places = new Places((file) => project.text(file));
  const findings = [...project.findings(), ...build.layout().findings, ...build.journal().findings, ...build.stale()];
  const design = build.design();
  const last = design.stages.length;
  const { revisions } = build.devices();
  const report = mapAt(design, revisions, last)?.report;
  const shown = [...new Set(revisions.map((revision) => revision.part))]
    .map((part) => revisionAt(revisions, part, last))
    .filter((revision) => revision?.result !== undefined);
  return {
    maps: (report?.spaces ?? []).map((space) => {
      const title = space.name === 'memory' ? 'Memory' : 'Ports';
      return { title, svg: addressMapDrawing({ space, title }) };
    }),
    equations: shown.map((revision) => ({
      device: `${revision!.part}, ${revision!.device}`,
      file: revision!.file,
      lines: revision!.result!.compiled.outputs.map((output) =>
        equation(output, (pin) => revision!.nets.get(pin) ?? `pin ${pin}`),
      ),
    })),
    design,
    about: project.machine().value.about,
    layout: build.layout().value,
    plan: build.plan(build.design().stages.length)?.value,
    records: build.journal().value.records,
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
  };
}

/** The page for `book` and for the workbench. `photo` says where a photo lies, from the page. */
export function pageOf(build: Build, photo?: (file: string) => string | undefined): string {
  return renderPage(bookInputOf(build), photo === undefined ? {} : { photo });
}

/** Writes index.html and a drawing for each stage under `out`, a path relative to the project. */
export function bookVerb(build: Build, options: { readonly out: string }): VerbResult {
  const files = new Map<string, string>([[`${options.out}/index.html`, pageOf(build, (file) => `../${file}`)]]);
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
