// Findings: what is wrong or doubtful, why, and what would mend it; by part of the tool or by stage, new ones marked.

import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { Counts, Cross, Disc, Triangle, Words } from '../../frame/marks.tsx';
import type { UiFinding } from '../../protocol.ts';
import { edit } from '../../state/history.ts';
import { engine, textOf } from '../../state/session.ts';
import {
  chooseStage,
  counts,
  findings,
  model,
  notice,
  openFinding,
  place,
  select,
  showText,
} from '../../state/store.ts';
import type { Place } from '../registry.ts';

type Group = 'kind' | 'stage' | 'file';

/** What was there before the last edit, to mark what is new and count what went. */
let before: { version: number; ids: ReadonlySet<string> } = { version: -1, ids: new Set() };
let current: { version: number; ids: ReadonlySet<string> } = { version: -1, ids: new Set() };
findings.subscribe((news) => {
  if (news.version === current.version) return;
  before = current;
  current = { version: news.version, ids: new Set(news.findings.map((finding) => finding.id)) };
});

const SEVERITIES = ['error', 'warning', 'note'] as const;
const WORDS = { error: 'errors', warning: 'warnings', note: 'notes' } as const;

function Findings() {
  const news = findings.value;
  const [hidden, setHidden] = useState<ReadonlySet<string>>(new Set());
  const [groupBy, setGroupBy] = useState<Group>('kind');
  const [onlyStage, setOnlyStage] = useState<number | undefined>(undefined);
  const isNew = (finding: UiFinding): boolean => before.version >= 0 && !before.ids.has(finding.id);
  const gone = [...before.ids].filter((id) => !current.ids.has(id)).length;
  const fresh = news.findings.filter(isNew).length;
  const shown = news.findings.filter(
    (finding) => !hidden.has(finding.severity) && (onlyStage === undefined || (finding.stage ?? 1) === onlyStage),
  );
  const groups = useMemo(() => grouped(shown, groupBy), [news, hidden, groupBy, onlyStage]);
  const toggle = (severity: string): void => {
    const next = new Set(hidden);
    if (!next.delete(severity)) next.add(severity);
    setHidden(next);
  };
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it
    <section class="cols findings" tabIndex={0} aria-label="Findings">
      <div class="filters">
        <h2 style={{ marginTop: 0 }}>Show</h2>
        <ul>
          {SEVERITIES.map((severity) => (
            <li key={severity}>
              <button type="button" class="shown" aria-pressed={!hidden.has(severity)} onClick={() => toggle(severity)}>
                <span>
                  <Shape severity={severity} /> {WORDS[severity]}
                </span>
                <span>{news.findings.filter((finding) => finding.severity === severity).length}</span>
              </button>
            </li>
          ))}
        </ul>
        <h2>Grouped by</h2>
        <ul>
          {(['kind', 'stage', 'file'] as const).map((by) => (
            <li key={by}>
              <button type="button" class="pick" aria-pressed={groupBy === by} onClick={() => setGroupBy(by)}>
                {{ kind: 'what finds it', stage: 'the stage it first bites', file: 'the file' }[by]}
              </button>
            </li>
          ))}
        </ul>
        <h2>Of stage</h2>
        <ul>
          <li>
            <button
              type="button"
              class="pick"
              aria-pressed={onlyStage === undefined}
              onClick={() => setOnlyStage(undefined)}
            >
              all
            </button>
          </li>
          {model.value.stages.map((stage) => (
            <li key={stage.number}>
              <button
                type="button"
                class="pick"
                aria-pressed={onlyStage === stage.number}
                onClick={() => setOnlyStage(stage.number)}
              >
                <span>
                  {stage.number} {stage.name}
                </span>
                <span>{news.findings.filter((finding) => (finding.stage ?? 1) === stage.number).length}</span>
              </button>
            </li>
          ))}
        </ul>
        <h2>Since the last edit</h2>
        <p>{fresh === 0 && gone === 0 ? 'No change.' : `${fresh} new, ${gone} gone.`}</p>
      </div>
      <div>
        {shown.length === 0 && (
          <div class="empty" style={{ padding: 0 }}>
            <h2>{news.findings.length === 0 ? 'Nothing wrong was found.' : 'Nothing of what is shown.'}</h2>
            <p>
              {news.findings.length === 0
                ? 'Every rule looked at every stage. What the rules can’t see, the proofs of the stages will show.'
                : 'Choose more at the left.'}
            </p>
          </div>
        )}
        {groups.map((group) => (
          <div key={group.name}>
            <h2 class="groupname">
              {group.name} <span class="q">{group.items.length}</span>
            </h2>
            {group.items.map((finding) => (
              <Item key={finding.id} finding={finding} isNew={isNew(finding)} />
            ))}
          </div>
        ))}
        {news.waived.length > 0 && (
          <>
            <h2 class="groupname">
              waived <span class="q">{news.waived.length}</span>
            </h2>
            {news.waived.map(({ finding, reason }) => (
              <div class="fi" key={finding.id}>
                <h3 style={{ fontWeight: 400 }}>{finding.message}</h3>
                <p class="why">
                  Waived: {reason} <span class="m q s">{finding.code}</span>
                </p>
              </div>
            ))}
          </>
        )}
      </div>
    </section>
  );
}

function Shape({ severity }: { severity: string }) {
  return (
    <span class={severity === 'error' ? 'fault' : severity === 'warning' ? 'doubt' : ''}>
      {severity === 'error' ? <Cross /> : severity === 'warning' ? <Triangle /> : <Disc />}
    </span>
  );
}

const KINDS: Readonly<Record<string, string>> = {
  machine: 'the machine file',
  netlist: 'how it is joined',
  check: 'electrical rules',
  parts: 'part records',
  board: 'the layout',
  layout: 'the layout',
  stage: 'steps and journal',
  stock: 'the drawer',
  waiver: 'waivers',
  yaml: 'how the file is written',
};

function grouped(list: readonly UiFinding[], by: Group): { name: string; items: UiFinding[] }[] {
  const groups = new Map<string, UiFinding[]>();
  const rank = { error: 0, warning: 1, note: 2 };
  for (const finding of [...list].sort((a, b) => rank[a.severity] - rank[b.severity])) {
    const head = finding.code.split('/')[0]!;
    const name =
      by === 'kind'
        ? (KINDS[head] ?? head)
        : by === 'file'
          ? (finding.where[0]?.file ?? 'in no file')
          : `stage ${finding.stage ?? 1}`;
    groups.set(name, [...(groups.get(name) ?? []), finding]);
  }
  return [...groups].map(([name, items]) => ({ name, items }));
}

function Item({ finding, isNew }: { finding: UiFinding; isNew: boolean }) {
  const [reason, setReason] = useState<string | undefined>(undefined);
  const box = useRef<HTMLElement>(null);
  const isOpen = openFinding.value === finding.id;
  useEffect(() => {
    if (isOpen) box.current?.scrollIntoView({ block: 'center' });
  }, [isOpen]);
  const where = finding.where[0];
  const waive = async (): Promise<void> => {
    const answer = await engine.ask('waive', { finding: finding.id, reason: reason ?? '' });
    if (typeof answer === 'string') notice.value = answer;
    else if (await edit(`waive ${finding.code}`, [{ path: answer.file, text: answer.text }])) setReason(undefined);
  };
  const fix = async (index: number): Promise<void> => {
    const chosen = finding.fixes[index];
    if (chosen === undefined) return;
    const files = new Map<string, string>();
    for (const one of [...chosen.edits].sort((a, b) => b.span.start - a.span.start)) {
      const text = files.get(one.span.file) ?? textOf(one.span.file) ?? '';
      files.set(one.span.file, text.slice(0, one.span.start) + one.text + text.slice(one.span.end));
    }
    await edit(
      chosen.title,
      [...files].map(([path, text]) => ({ path, text })),
    );
  };
  return (
    <article class={`fi${isOpen ? ' sel' : ''}`} ref={box} aria-label={finding.message}>
      <span class={`mk ${finding.severity === 'error' ? 'fault' : finding.severity === 'warning' ? 'doubt' : ''}`}>
        <Shape severity={finding.severity} />
        <span class="vh">{finding.severity}</span>
      </span>
      <h3>
        <Words text={finding.message} /> {isNew && <span class="s hl">new</span>}
      </h3>
      {finding.notes
        .filter((note, i, all) => all.findIndex(({ text }) => text === note.text) === i)
        .map((note) => (
          <p class="why" key={note.text}>
            <Words text={note.text} />{' '}
            {note.where !== undefined && (
              <button type="button" class="do" onClick={() => showText(note.where!)}>
                line {note.where.line}
              </button>
            )}
          </p>
        ))}
      {finding.help !== undefined && (
        <p class="why">
          <b>To mend:</b> <Words text={finding.help} />
        </p>
      )}
      <div class="acts">
        {where !== undefined && (
          <button type="button" class="do" onClick={() => showText(where)}>
            {where.file}, line {where.line}
          </button>
        )}
        {finding.about.slice(0, 4).map((name) => (
          <button type="button" class="do m" key={name} onClick={() => void showAbout(name, finding)}>
            {name}
          </button>
        ))}
        {finding.fixes.map((one, i) => (
          <button type="button" class="do main" key={one.title} onClick={() => void fix(i)}>
            {one.title}
          </button>
        ))}
        {finding.severity !== 'error' && reason === undefined && (
          <button type="button" class="do" onClick={() => setReason('')}>
            waive it
          </button>
        )}
        <span class="m q s">{finding.code}</span>
      </div>
      {reason !== undefined && (
        <form
          class="acts"
          onSubmit={(event) => {
            event.preventDefault();
            void waive();
          }}
        >
          <label style={{ flex: 1 }}>
            Why it is all right{' '}
            <input
              class="well"
              style={{ width: '100%' }}
              type="text"
              value={reason}
              onInput={(event) => setReason(event.currentTarget.value)}
            />
          </label>
          <button type="submit" class="do main" disabled={reason.trim() === ''}>
            waive it
          </button>
          <button type="button" class="do" onClick={() => setReason(undefined)}>
            leave it
          </button>
        </form>
      )}
    </article>
  );
}

/** Shows on the boards what a finding is about: a part, a pin, a net. */
async function showAbout(name: string, finding: UiFinding): Promise<void> {
  const entries = await engine.ask('index', undefined);
  const plain = name.toLowerCase();
  const entry =
    entries.find((item) => item.kind === 'part' && item.text.toLowerCase() === plain) ??
    entries.find((item) => item.kind === 'net' && item.text.toLowerCase() === plain) ??
    entries.find((item) => {
      const [part, , pin] = item.text.toLowerCase().split(' ');
      return item.kind === 'pin' && plain.replace(/@\d+$/, '') === `${part}.${pin}`;
    });
  if (entry === undefined) {
    notice.value = `${name} is not on the boards.`;
    return;
  }
  if (finding.stage !== undefined) chooseStage(finding.stage);
  select(entry.select);
  place.value = 'boards';
}

function Count() {
  return <Counts faults={counts.value.faults} doubts={counts.value.doubts} />;
}

export const findingsPlace: Place = { id: 'findings', title: 'Findings', View: Findings, Count };
