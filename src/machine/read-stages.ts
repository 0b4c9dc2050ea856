// Stages with their straps, leads, notes and proofs, and the findings that are waived, of one file.

import { nearestName } from '../base/index.ts';
import {
  type Cursor,
  child,
  entries,
  isMapping,
  items,
  keySpanOf,
  quantityAt,
  report,
  spanOf,
  textAt,
  textsAt,
  writtenAt,
} from './cursor.ts';
import { type Budget, type Fragment, MOST_STAGES, type SectionReader, type StrapDraft } from './fragment.ts';
import type { LeadDecl, NameRef, ProofDecl, ProofTerm } from './model.ts';
import { EXPECT_WORDS, GIVEN_WORDS, readExpect, readGiven } from './proof-words.ts';
import { netNamesOf } from './read-nets.ts';
import { checkName, given, pathAt, readPart } from './read-parts.ts';

export const readStages: SectionReader = (root, fragment, budget) => {
  const list = child(root, 'stages');
  if (list === undefined || !Array.isArray(list.value)) return;
  for (const at of items(list)) {
    const name = textAt(child(at, 'stage'));
    if (fragment.stages.length >= MOST_STAGES) {
      report(root.source.findings, 'too-many', `The machine has more than ${MOST_STAGES} stages.`, spanOf(at));
      return;
    }
    if (name !== undefined) checkName(root.source, name.name, 'other', name.span);
    fragment.stages.push({
      // A stage without a name still counts, so that those after it keep their numbers.
      name: name?.name ?? '',
      adds: textsAt(child(at, 'adds')),
      removes: textsAt(child(at, 'removes')),
      replaces: entries(child(at, 'replaces')).flatMap(
        ([part, value]) => readPart(part, value, fragment, budget) ?? [],
      ),
      moves: textsAt(child(at, 'moves')),
      temporary: items(child(at, 'temporary')).flatMap((strap) => readStrap(strap, budget) ?? []),
      leads: items(child(at, 'leads')).flatMap((leads) => readLeads(leads, budget)),
      programs: entries(child(at, 'programs')).flatMap(([part, value]) => {
        const what = textAt(value);
        return what === undefined ? [] : [{ part: { name: part, span: keySpanOf(value) }, with: what }];
      }),
      notes: items(child(at, 'note')).flatMap((note) => {
        const text = isMapping(note.value) ? textAt(child(note, 'text')) : textAt(note);
        if (text === undefined) return [];
        const photo = pathAt(isMapping(note.value) ? child(note, 'photo') : undefined);
        return [{ text: text.name, ...given('photo', photo?.name), span: text.span }];
      }),
      prove: items(child(at, 'prove')).flatMap((proof) => readProof(proof) ?? []),
      span: name?.span ?? spanOf(at),
    });
  }
};

function readStrap(at: Cursor, budget: Budget): StrapDraft | undefined {
  if (!isMapping(at.value)) return undefined;
  const { findings } = at.source;
  const nets = netNamesOf(at.source, textsAt(child(at, 'hold')), budget);
  const level = writtenAt(child(at, 'at'));
  const throughAt = child(at, 'through');
  const through = throughAt?.value === 'wire' ? ('wire' as const) : quantityAt(throughAt, 'resistance', { above: 0 });
  // A strap that cannot be read is left out whole: half of it might tie an output to a rail.
  if (through === undefined && at.source.reading.keysOf(at.path).includes('through')) return undefined;
  if (nets.length === 0 || level === undefined) return undefined;
  const all = 2 ** Math.min(nets.length, 52) - 1;
  const value = level.name === 'high' ? all : level.name === 'low' ? 0 : Number(level.name);
  if (level.name.trim() === '' || !Number.isInteger(value) || value < 0 || value > all || nets.length > 52)
    return report(
      findings,
      'bad-strap',
      `${level.name} is no level of ${nets.length === 1 ? 'one net' : `${nets.length} nets`}.`,
      level.span,
      { help: `Write high, low, or a number from 0 to 0x${all.toString(16).toUpperCase()}.` },
    );
  return { nets, value, through, ...given('until', textAt(child(at, 'until'))), span: spanOf(at) };
}

function readLeads(at: Cursor, budget: Budget): LeadDecl[] {
  const until = textAt(child(at, 'until'));
  return entries(at)
    .filter(([pod]) => pod !== 'until')
    .map(([pod, value]) => ({
      pod,
      nets: netNamesOf(at.source, textsAt(value), budget),
      ...given('until', until),
      span: keySpanOf(value),
    }));
}

function readProof(at: Cursor): ProofDecl | undefined {
  if (!isMapping(at.value)) return undefined;
  return {
    given: readTerms(child(at, 'given'), 'given'),
    expect: readTerms(child(at, 'expect'), 'expect'),
    span: spanOf(at),
  };
}

function readTerms(at: Cursor | undefined, side: 'given' | 'expect'): ProofTerm[] {
  if (at === undefined) return [];
  const terms: ProofTerm[] = [];
  const add = (key: NameRef, value: NameRef, source: Cursor['source']): void => {
    const term: ProofTerm = {
      key: key.name.trim(),
      keySpan: key.span,
      // `free run: true` says what `free run` says.
      value: value.name === 'true' && (EXPECT_WORDS as readonly string[]).includes(key.name) ? '' : value.name,
      valueSpan: value.span,
    };
    const read = side === 'given' ? readGiven(term.key, term.value) : readExpect(term.key, term.value);
    if (typeof read === 'string') {
      const words: readonly string[] = side === 'given' ? GIVEN_WORDS : EXPECT_WORDS;
      const unknown = !words.includes(term.key);
      const near = unknown ? nearestName(term.key, words) : undefined;
      const shown = `${read.charAt(0).toUpperCase()}${read.slice(1)}`;
      report(
        source.findings,
        'bad-proof',
        `${shown}${near === undefined ? '.' : `; did you mean ${near}?`}`,
        unknown && (side === 'given' || near !== undefined) ? key.span : value.span,
        {
          help:
            side === 'given'
              ? `What can be given: ${GIVEN_WORDS.join(', ')}.`
              : `What can be expected: ${EXPECT_WORDS.join(', ')}, or a net and what it shows.`,
          ...(near === undefined
            ? {}
            : { fixes: [{ title: `Change it to ${near}`, edits: [{ span: key.span, text: near }] }] }),
        },
      );
      return;
    }
    terms.push(term);
  };
  if (isMapping(at.value)) {
    for (const [key, value] of entries(at)) {
      const name = { name: key, span: keySpanOf(value) };
      for (const item of items(value)) {
        const written = writtenAt(item);
        if (written !== undefined) add(name, written, at.source);
      }
    }
  } else {
    for (const text of textsAt(at)) add(text, { name: '', span: text.span }, at.source);
  }
  return terms;
}

export const readWaivers: SectionReader = (root, fragment: Fragment) => {
  const list = child(root, 'waive');
  if (list === undefined || !Array.isArray(list.value)) return;
  for (const at of items(list)) {
    const code = textAt(child(at, 'code'));
    const reason = textAt(child(at, 'reason'));
    if (code === undefined || reason === undefined) continue;
    if (reason.name.trim().length < 3) {
      report(root.source.findings, 'waiver-without-reason', `${code.name} is waived without a reason.`, reason.span, {
        help: 'Say why it is all right; whoever repeats the build reads it.',
      });
      continue;
    }
    const places = textsAt(child(at, 'at'));
    // A waiver that names no place would hold everywhere, which nobody meant.
    if (places.length === 0) continue;
    fragment.waivers.push({ code, places, reason: reason.name.trim(), span: spanOf(at) });
  }
};
