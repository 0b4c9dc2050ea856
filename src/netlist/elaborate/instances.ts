// Stages numbered, and each part's stretch of stages: added, replaced, removed.

import { foldName } from '../../base/index.ts';
import { type Machine, ONLY_STAGE, type PartDecl, type StageDecl } from '../../machine/index.ts';
import type { Library } from '../../parts/index.ts';
import type { StageInfo } from '../model.ts';
import { type Context, type Instance, report } from './context.ts';

/** The stages of a machine from 1; a machine that names none has one that adds every part. */
export function numberStages(machine: Machine): StageInfo[] {
  if (machine.stages.length > 0)
    return machine.stages.map((decl, index) => ({ number: index + 1, name: decl.name, decl }));
  const span = { file: machine.files[0] ?? '', start: 0, end: 0 };
  const decl: StageDecl = {
    name: ONLY_STAGE,
    adds: machine.parts.map((part) => ({ name: part.name, span: part.span })),
    removes: [],
    replaces: [],
    moves: [],
    temporary: [],
    leads: [],
    programs: [],
    notes: [],
    prove: [],
    span,
  };
  return [{ number: 1, name: decl.name, decl }];
}

/** Opens a context: parts resolved in the library, each with its stretch of stages. */
export function openContext(machine: Machine, library: Library, areSelectsLate: boolean): Context {
  const stages = numberStages(machine);
  const instances: Instance[] = [];
  const byName = new Map<string, Instance[]>();
  const context: Context = {
    machine,
    library,
    stages,
    instances,
    areSelectsLate,
    early: [],
    statements: [],
    findings: [],
    netNames: new Map(),
    declaredNets: new Set(),
    byName,
    byPin: new Map(),
  };
  const typeOf = (decl: PartDecl) => library.find(decl.type, decl.family?.name ?? machine.defaults.family?.name);
  const add = (decl: PartDecl, stage: number, until: number | undefined): void => {
    const type = typeOf(decl);
    if (type === undefined) {
      // A part without a type has been reported by the reader.
      if (decl.type !== '') reportUnknownType(context, decl);
      return;
    }
    const instance: Instance = { index: instances.length, name: decl.name, decl, type, stage, until };
    instances.push(instance);
    const key = foldName(decl.name);
    const list = byName.get(key);
    if (list === undefined) byName.set(key, [instance]);
    else list.push(instance);
  };
  for (const decl of machine.parts) {
    const key = foldName(decl.name);
    // The stretches in which the part is in, each with the declaration that holds in it.
    let current: { decl: PartDecl; stage: number } | undefined;
    let isEverIn = false;
    for (const { number, decl: stage } of stages) {
      const names = (list: readonly { readonly name: string }[]): boolean =>
        list.some((ref) => foldName(ref.name) === key);
      const replacement = stage.replaces.find((part) => foldName(part.name) === key);
      if (current !== undefined && (names(stage.removes) || replacement !== undefined)) {
        add(current.decl, current.stage, number);
        current = undefined;
      }
      if (replacement !== undefined) current = { decl: replacement, stage: number };
      else if (current === undefined && names(stage.adds)) current = { decl, stage: number };
      isEverIn ||= current?.decl === decl;
    }
    // A slip in a type is told whether or not a stage puts the part in.
    if (!isEverIn && decl.type !== '' && typeOf(decl) === undefined) reportUnknownType(context, decl);
    if (current !== undefined) add(current.decl, current.stage, undefined);
  }
  return context;
}

function reportUnknownType(context: Context, decl: PartDecl): void {
  const near = context.library.nearest(decl.type);
  report(
    context,
    'netlist/unknown-type',
    'error',
    `No part record is named ${decl.type}${near === undefined ? '.' : `; did you mean ${near}?`}`,
    decl.typeSpan,
    {
      notes: [{ text: `${decl.name} is left out of everything until its type is known.` }],
      help: 'Choose a type that `proofboard parts` lists, or describe the part in the folder parts/ of the project.',
      about: [decl.name],
      ...(near === undefined
        ? {}
        : {
            fixes: [
              {
                title: `Change it to ${near}`,
                edits: [{ span: decl.typeSpan, text: /^\d+$/.test(near) ? `"${near}"` : near }],
              },
            ],
          }),
    },
  );
}
