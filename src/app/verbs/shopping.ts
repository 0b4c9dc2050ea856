// `shopping`: what the machine takes, what is in stock, what to buy, and which other part would do: each substitute is put
// into the machine in memory, elaborated and checked, and offered only if that finds nothing new.

import { foldName } from '../../base/index.ts';
import { check } from '../../check/index.ts';
import type { Machine, PartDecl } from '../../machine/index.ts';
import { elaborate } from '../../netlist/index.ts';
import type { Library } from '../../parts/index.ts';
import { type Need, needs, readStock, type StockItem } from '../../stock/index.ts';
import type { Build } from '../build.ts';
import { textTable } from '../table.ts';
import type { VerbResult } from '../verb.ts';

export interface Substitute {
  readonly type: string;
  readonly grade: string | null;
  /** Whether the drawer holds enough of them. */
  readonly inStock: boolean;
}

export function shoppingVerb(build: Build, options: { readonly stage: number }): VerbResult {
  const { project } = build;
  const library = project.library().value;
  const path = `${build.folder}/stock.yaml`;
  const text = project.text(path);
  const stock = text === undefined ? { value: [], findings: [] } : readStock(path, text, library);
  const list = needs(build.design().netlists.slice(0, options.stage + 1), stock.value);
  const rows = list.map((need) => ({
    type: need.type,
    grade: need.grade ?? null,
    value: need.value ?? null,
    parts: need.parts,
    stage: need.stage,
    needed: need.have + need.coming + need.short,
    have: need.have,
    coming: need.coming,
    buy: need.short,
    substitutes: need.short > 0 ? substitutes(build, need, stock.value) : [],
  }));
  const shown = rows.map((row) => [
    row.buy > 0 ? `buy ${row.buy}` : row.coming > 0 ? `${row.coming} coming` : 'in stock',
    `${row.needed} x`,
    [row.type, row.grade, row.value].filter((item) => item !== null).join(', '),
    `stage ${row.stage}`,
    row.substitutes.length === 0
      ? ''
      : `or ${row.substitutes.map((other) => [other.type, other.grade].filter((item) => item !== null).join(', ')).join('; ')}`,
  ]);
  return { value: { needs: rows }, findings: stock.findings, text: textTable(shown) };
}

/** Other parts that would do: another family, a faster grade; those in the drawer first. At most six. */
function substitutes(build: Build, need: Need, stock: readonly StockItem[]): Substitute[] {
  const machine = build.project.machine().value;
  const library = build.project.library().value;
  const found = library.find(need.type);
  if (found === undefined) return [];
  const declared = machine.parts.filter((part) => need.parts.some((name) => foldName(name) === foldName(part.name)));
  if (declared.length === 0) return [];
  const x = /^(\d+)x(\d\w*)$/i.exec(found.record.part);
  const families =
    x === null
      ? []
      : (found.record.families ?? [])
          .filter((family) => family !== found.family)
          .map((family) => ({ type: `${x[1]}${family}${x[2]}`, grade: undefined }));
  const grades = Object.keys(found.record.grades ?? {})
    .filter((grade) => x === null && foldName(grade) !== foldName(need.grade ?? ''))
    .map((grade) => ({ type: need.type, grade }));
  const before = problems(machine, library);
  const enough = (choice: { type: string; grade: string | undefined }): boolean =>
    stock.some(
      (item) =>
        foldName(item.type) === foldName(choice.type) &&
        (choice.grade === undefined || foldName(item.grade ?? '') === foldName(choice.grade)) &&
        item.have >= need.short,
    );
  return [...families, ...grades]
    .filter((choice) => notSlower(need.grade, choice.grade))
    .sort((a, b) => Number(enough(b)) - Number(enough(a)))
    .filter((choice) => {
      const parts = machine.parts.map(
        (part): PartDecl => (declared.includes(part) ? replaced(part, choice.type, choice.grade) : part),
      );
      const after = problems({ ...machine, parts }, library);
      return [...after].every((problem) => before.has(problem));
    })
    .slice(0, 6)
    .map((choice) => ({ type: choice.type, grade: choice.grade ?? null, inStock: enough(choice) }));
}

function replaced(part: PartDecl, type: string, grade: string | undefined): PartDecl {
  const { grade: _grade, family: _family, ...rest } = part;
  return { ...rest, type, ...(grade === undefined ? {} : { grade: { name: grade, span: part.typeSpan } }) };
}

/** A grade in ns may be replaced by a smaller one, one in MHz by a larger one; what can't be compared is left out. */
function notSlower(wanted: string | undefined, offered: string | undefined): boolean {
  if (wanted === undefined || offered === undefined) return true;
  const measure = (grade: string): { value: number; unit: string; rest: string } | undefined => {
    const match = /^([\d.]+)\s*(ns|MHz)(.*)$/i.exec(grade.trim());
    return match === null
      ? undefined
      : { value: Number(match[1]), unit: match[2]!.toLowerCase(), rest: match[3]!.trim().toLowerCase() };
  };
  const a = measure(wanted);
  const b = measure(offered);
  if (a === undefined || b === undefined || a.unit !== b.unit || a.rest !== b.rest) return false;
  return a.unit === 'ns' ? b.value <= a.value : b.value >= a.value;
}

function problems(machine: Machine, library: Library): ReadonlySet<string> {
  const design = elaborate(machine, library);
  return new Set(
    [...design.findings, ...check(design.value, machine, library)]
      .filter((finding) => finding.severity !== 'note')
      .map((finding) => `${finding.code} ${(finding.about ?? []).join(' ')}`),
  );
}
