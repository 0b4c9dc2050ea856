// The find box: `/` or Ctrl-K, then any part, pin, net, wire, hole or finding. What is chosen is selected everywhere.

import { useEffect, useRef, useState } from 'preact/hooks';
import type { FindEntry } from '../protocol.ts';
import { engine } from '../state/session.ts';
import { findings, isNarrow, model, notice, place, select, showFinding } from '../state/store.ts';

let cache: { version: number; entries: readonly FindEntry[] } = { version: -2, entries: [] };

async function entriesNow(): Promise<readonly FindEntry[]> {
  const { version } = model.value;
  if (cache.version !== version) cache = { version, entries: await engine.ask('index', undefined) };
  return cache.entries;
}

const HOLE = /^\d+:(?:\d{1,2}[a-j]|[tb][+-]\d{1,2})$/;

/** The best matches: every word must occur; whole names first, then beginnings, then parts before wires. */
export function search(entries: readonly FindEntry[], text: string): FindEntry[] {
  const words = text.trim().toLowerCase().split(/\s+/).filter(Boolean);
  if (words.length === 0) return [];
  const rank = { part: 0, net: 1, pin: 2, hole: 3, finding: 4, wire: 5, place: 6 };
  const scored: { entry: FindEntry; score: number }[] = [];
  if (HOLE.test(words[0]!)) {
    const hole = words[0]!;
    scored.push({ entry: { kind: 'hole', text: hole, more: 'show this hole', select: { hole } }, score: -100 });
  }
  for (const entry of entries) {
    const name = entry.text.toLowerCase();
    const all = `${name} ${entry.more.toLowerCase()}`;
    if (!words.every((word) => all.includes(word))) continue;
    const pieces = name.split(/[\s.]/);
    let score = rank[entry.kind] * 4;
    if (name === words.join(' ')) score -= 60;
    for (const word of words)
      score -= pieces.includes(word) ? 14 : pieces.some((piece) => piece.startsWith(word)) ? 6 : 0;
    scored.push({ entry, score: score + name.length / 100 });
  }
  return scored
    .sort((a, b) => a.score - b.score)
    .slice(0, 40)
    .map(({ entry }) => entry);
}

const KINDS: Readonly<Record<FindEntry['kind'], string>> = {
  part: 'part',
  pin: 'pin',
  net: 'net',
  wire: 'wire',
  hole: 'hole',
  finding: 'finding',
  place: 'place',
};

export function FindBox() {
  const input = useRef<HTMLInputElement>(null);
  const [text, setText] = useState('');
  const [found, setFound] = useState<readonly FindEntry[]>([]);
  const [at, setAt] = useState(0);
  const [open, setOpen] = useState(false);
  useEffect(() => {
    const keys = (event: KeyboardEvent): void => {
      const target = event.target as HTMLElement;
      const typing = target.closest('input, textarea, .cm-content') !== null;
      if (
        (event.key === '/' && !typing && !event.ctrlKey && !event.metaKey) ||
        (event.key.toLowerCase() === 'k' && (event.ctrlKey || event.metaKey))
      ) {
        event.preventDefault();
        input.current?.focus();
        input.current?.select();
      }
    };
    addEventListener('keydown', keys);
    return () => removeEventListener('keydown', keys);
  }, []);
  const look = (value: string): void => {
    setText(value);
    setOpen(true);
    void entriesNow().then((entries) => {
      setFound(search(entries, value));
      setAt(0);
    });
  };
  const take = (entry: FindEntry): void => {
    setOpen(false);
    setText('');
    input.current?.blur();
    if (entry.finding !== undefined) {
      const finding = findings.value.findings.find((item) => item.id === entry.finding);
      if (finding !== undefined) showFinding(finding);
      return;
    }
    select(entry.select);
    notice.value = '';
    if (place.value !== 'boards' && place.value !== 'intent') place.value = 'boards';
  };
  const keys = (event: KeyboardEvent): void => {
    event.stopPropagation();
    if (event.key === 'ArrowDown' || event.key === 'ArrowUp') {
      event.preventDefault();
      const next = at + (event.key === 'ArrowDown' ? 1 : -1);
      setAt(Math.max(0, Math.min(found.length - 1, next)));
    } else if (event.key === 'Enter' && found[at] !== undefined) take(found[at]);
    else if (event.key === 'Escape') {
      setOpen(false);
      input.current?.blur();
    }
  };
  const shown = open && text !== '';
  return (
    <div class="find">
      <label>
        <span class="kbd" aria-hidden="true">
          /
        </span>
        <span class="vh">Find a part, pin, net, wire, hole or finding</span>
        <input
          ref={input}
          type="text"
          role="combobox"
          autocomplete="off"
          spellcheck={false}
          placeholder={isNarrow.value ? 'find' : 'find a part, pin, net, wire, hole'}
          aria-expanded={shown && found.length > 0}
          aria-controls="found"
          aria-activedescendant={shown && found.length > 0 ? `found-${at}` : undefined}
          value={text}
          onInput={(event) => look(event.currentTarget.value)}
          onKeyDown={keys}
          onBlur={() => setTimeout(() => setOpen(false), 150)}
        />
      </label>
      <div id="found" role="listbox" aria-label="Found" tabIndex={-1} hidden={!shown || found.length === 0}>
        {found.map((entry, i) => (
          // biome-ignore lint/a11y/useKeyWithClickEvents: the box itself takes the keys
          // biome-ignore lint/a11y/useFocusableInteractive: the box keeps the focus and names the option
          <div
            key={`${entry.kind} ${entry.text} ${entry.more}`}
            id={`found-${i}`}
            role="option"
            aria-selected={i === at}
            onMouseDown={(event) => event.preventDefault()}
            onClick={() => take(entry)}
            ref={i === at ? (node) => node?.scrollIntoView({ block: 'nearest' }) : null}
          >
            <span class="q s">{KINDS[entry.kind]}</span>
            <span class={entry.kind === 'finding' ? 't' : 't m b'}>{entry.text}</span>
            <span class="q s">{entry.more}</span>
          </div>
        ))}
      </div>
    </div>
  );
}
