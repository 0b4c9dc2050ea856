// The project that a worker holds, with the scenes drawn from it kept until something they rest on changes.

import { Build, type Built, buildNames, Project, type Shipped } from '../../app/index.ts';
import { contentId, type Finding, lineStarts, positionAt, type Span } from '../../base/index.ts';
import { createScene, type Lanes, type Scene } from '../../drawing/index.ts';
import type { Selection, UiFinding, UiPlace } from '../protocol.ts';

export class Bench {
  readonly project: Project;
  build: Build;
  version = 0;
  #starts = new Map<string, { text: string; starts: readonly number[] }>();
  #scenes = new Map<number, { key: readonly unknown[]; scene: Scene }>();

  constructor(shipped: Shipped, files: ReadonlyMap<string, string>, main: string, build: string | undefined) {
    this.project = new Project(shipped, files, main);
    this.build = new Build(this.project, build ?? buildNames(this.project)[0] ?? 'first');
  }

  chooseBuild(name: string): void {
    this.build = new Build(this.project, name);
    this.#scenes.clear();
    this.version++;
  }

  setText(path: string, text: string | undefined): void {
    this.project.setText(path, text);
    this.version++;
  }

  /** The scene of a stage; undefined where nothing is laid. The ways of wires are kept as long as the wires are the same. */
  scene(stage: number): Scene | undefined {
    const layout = this.build.layout().value;
    if (layout === undefined || layout.boards.length === 0) return undefined;
    const design = this.build.design();
    const built = this.build.built().value;
    const known = this.#scenes.get(stage);
    if (known !== undefined && known.key[0] === design && known.key[1] === layout && known.key[2] === built)
      return known.scene;
    const lanes: Lanes | undefined =
      known !== undefined && known.key[1] === layout && sameLeaving(known.key[2] as Built, built)
        ? known.scene.lanes
        : undefined;
    const inLayout = new Set(layout.wires.map((wire) => wire.id));
    const leaving = [...built.wires.values()]
      .filter((wire) => !inLayout.has(wire.wire))
      .map((wire) => ({
        id: wire.wire,
        net: wire.net,
        from: wire.from,
        to: wire.to,
        cutMm: wire.cutMm,
        colour: wire.colour,
        style: 'flat' as const,
        stage: 0,
        until: undefined,
        temporary: false,
        lead: undefined,
        path: undefined,
      }));
    const scene = createScene({
      design,
      layout,
      stage,
      built: { parts: new Set(built.parts.keys()), wires: new Set(built.wires.keys()) },
      leaving,
      lanes,
    });
    if (this.#scenes.size > 12) this.#scenes.clear();
    this.#scenes.set(stage, { key: [design, layout, built], scene });
    return scene;
  }

  place(span: Span): UiPlace {
    const text = this.project.text(span.file) ?? '';
    let known = this.#starts.get(span.file);
    if (known?.text !== text) {
      known = { text, starts: lineStarts(text) };
      this.#starts.set(span.file, known);
    }
    return { file: span.file, start: span.start, end: span.end, line: positionAt(known.starts, span.start).line };
  }

  finding(finding: Finding): UiFinding {
    return {
      id: contentId(`${finding.code}\n${finding.message}\n${(finding.about ?? []).join('\n')}`, 10),
      code: finding.code,
      severity: finding.severity,
      message: finding.message,
      where: finding.where.map((span) => this.place(span)),
      notes: finding.notes.map((note) =>
        note.span === undefined ? { text: note.text } : { text: note.text, where: this.place(note.span) },
      ),
      ...(finding.help === undefined ? {} : { help: finding.help }),
      fixes: finding.fixes ?? [],
      about: finding.about ?? [],
      ...(finding.stage === undefined ? {} : { stage: finding.stage }),
    };
  }

  /** Everything found, of the machine first, then of layout, journal and plan. */
  findings(): UiFinding[] {
    const { project, build } = this;
    const all = [
      ...project.findings(),
      ...build.choices().findings,
      ...build.layout().findings,
      ...build.journal().findings,
      ...build.built().findings,
      ...build.stale(),
    ];
    const seen = new Set<string>();
    return all.flatMap((finding) => {
      const ui = this.finding(finding);
      const key = `${ui.id} ${ui.where[0]?.file ?? ''} ${ui.where[0]?.start ?? ''}`;
      if (seen.has(key)) return [];
      seen.add(key);
      return [ui];
    });
  }

  lastStage(): number {
    return this.build.design().stages.length;
  }
}

function sameLeaving(a: Built, b: Built): boolean {
  // A wire that left or came changes which ways are taken; where only their state changed, the ways stay.
  return a === b || (a.wires.size <= b.wires.size && [...a.wires.keys()].every((id) => b.wires.has(id)));
}

/** Where a selection is, in mm: the pin's hole, a wire's first end, the middle of a part or of a net's first strip. */
export function placeOfSelection(scene: Scene, select: Selection): readonly [number, number] | undefined {
  const at = (hole: string): readonly [number, number] | undefined => {
    const place = scene.places.hole(hole);
    return place === undefined ? undefined : [place.x, place.y];
  };
  if (select.hole !== undefined) return at(select.hole);
  if (select.pin !== undefined) {
    const cut = select.pin.lastIndexOf('.');
    const part = scene.parts.find((item) => item.name === select.pin!.slice(0, cut));
    const lead = part?.leads.find((item) => String(item.number) === select.pin!.slice(cut + 1));
    if (lead !== undefined) return [lead.at.x, lead.at.y];
  }
  if (select.wire !== undefined) {
    const wire = scene.wires.find((item) => item.wire.id === select.wire);
    if (wire !== undefined) return [wire.from.x, wire.from.y];
  }
  if (select.part !== undefined) {
    const part = scene.parts.find((item) => item.name === select.part);
    if (part !== undefined) return [part.outline.cx, part.outline.cy];
  }
  if (select.net !== undefined) {
    // The biggest part's pin on it: that is where a person would look first.
    const pins = scene.parts
      .filter((part) => part.state !== 'later')
      .flatMap((part) => part.leads.filter((lead) => lead.net === select.net).map((lead) => ({ part, lead })))
      .sort((a, b) => b.part.leads.length - a.part.leads.length);
    if (pins[0] !== undefined) return [pins[0].lead.at.x, pins[0].lead.at.y];
  }
  return undefined;
}
