// The text editor: the machine file in weight and two inks, findings under their lines, completion from the engine, a band on
// what is selected. It knows texts and offsets; saving and the rest of the page are its caller's business.

import { autocompletion, type CompletionContext, type CompletionResult, closeBrackets } from '@codemirror/autocomplete';
import { defaultKeymap, history, historyKeymap, indentWithTab } from '@codemirror/commands';
import { yaml } from '@codemirror/lang-yaml';
import { HighlightStyle, indentUnit, syntaxHighlighting } from '@codemirror/language';
import { search, searchKeymap } from '@codemirror/search';
import {
  Annotation,
  Compartment,
  EditorState,
  type Extension,
  RangeSet,
  StateEffect,
  StateField,
  Transaction,
} from '@codemirror/state';
import {
  Decoration,
  type DecorationSet,
  drawSelection,
  EditorView,
  highlightActiveLine,
  keymap,
  lineNumbers,
  WidgetType,
} from '@codemirror/view';
import { tags } from '@lezer/highlight';
import type { CompletionData, UiFinding } from '../../protocol.ts';

export interface EditorHost {
  changed(text: string): void;
  /** The cursor moved: offset, the word there, and whether a press put it there. */
  moved(offset: number, word: string, pressed: boolean): void;
  complete(offset: number, text: string): Promise<{ from: number; items: readonly CompletionData[] } | undefined>;
  fix(finding: UiFinding, index: number): void;
  explain(finding: UiFinding): void;
  define(word: string): void;
  references(word: string): void;
  rename(word: string): void;
}

const fromOutside = Annotation.define<boolean>();
const setFindings = StateEffect.define<readonly UiFinding[]>();
const setSelected = StateEffect.define<readonly string[]>();

const inks = HighlightStyle.define([
  { tag: [tags.definition(tags.propertyName), tags.propertyName], fontWeight: '700' },
  { tag: tags.comment, color: 'var(--ink-2)' },
  { tag: [tags.punctuation, tags.separator, tags.squareBracket, tags.brace, tags.meta], color: 'var(--ink-2)' },
]);

const look = EditorView.theme({
  '&': { height: '100%', fontSize: '15px', backgroundColor: 'var(--ground)', color: 'var(--ink)' },
  '&.cm-focused': { outline: 'none' },
  '.cm-scroller': { fontFamily: 'var(--mono)', lineHeight: '27px', overflow: 'auto' },
  '.cm-content': { padding: '12px 0 60px', caretColor: 'var(--ink)' },
  '.cm-line': { padding: '0 24px 0 14px' },
  '.cm-gutters': { backgroundColor: 'transparent', color: 'var(--ink-2)', border: '0' },
  '.cm-lineNumbers .cm-gutterElement': { minWidth: '52px', padding: '0 8px 0 0', fontSize: '12.5px' },
  '.cm-activeLine': { backgroundColor: 'var(--mark-2)' },
  '.cm-activeLineGutter': { backgroundColor: 'var(--mark-2)', color: 'var(--ink)', fontWeight: '700' },
  '.cm-cursor': { borderLeftColor: 'var(--ink)', borderLeftWidth: '2px' },
  '.cm-selectionBackground, &.cm-focused .cm-selectionBackground': { backgroundColor: 'var(--mark) !important' },
  '.cm-fault': { textDecoration: 'underline 3px var(--fault)', textUnderlineOffset: '4px', fontWeight: '700' },
  '.cm-doubt': { textDecoration: 'underline 2px dashed var(--doubt)', textUnderlineOffset: '4px' },
  '.cm-note': { textDecoration: 'underline 1px dotted var(--ink)', textUnderlineOffset: '4px' },
  '.cm-chosen': { backgroundColor: 'var(--mark)' },
  '.cm-under': {
    font: '15px/1.4 var(--sans)',
    padding: '7px 14px 9px 40px',
    position: 'relative',
    whiteSpace: 'normal',
  },
  '.cm-underroom': { padding: '0 24px 4px 14px' },
  '.cm-under.error': { borderTop: '3px solid var(--fault)', backgroundColor: 'var(--fault-wash)' },
  '.cm-under.warning': { borderTop: '2px dashed var(--doubt)', backgroundColor: 'var(--doubt-wash)' },
  '.cm-under.note': { borderTop: '1px solid var(--line)' },
  '.cm-under svg': {
    position: 'absolute',
    left: '14px',
    top: '12px',
    width: '13px',
    height: '13px',
    fill: 'none',
    stroke: 'currentColor',
    strokeWidth: '2',
  },
  '.cm-under.error svg': { color: 'var(--fault)' },
  '.cm-under.warning svg': { color: 'var(--doubt)' },
  '.cm-under button': {
    marginRight: '22px',
    borderBottom: '1px solid var(--ink)',
    padding: '1px 0',
    minHeight: '24px',
  },
  '.cm-tooltip': { backgroundColor: 'var(--sheet)', border: '1px solid var(--ink)', color: 'var(--ink)' },
  '.cm-tooltip.cm-tooltip-autocomplete > ul': { fontFamily: 'var(--mono)', maxHeight: '19em' },
  '.cm-tooltip-autocomplete ul li': { padding: '2px 10px !important', lineHeight: '1.5' },
  '.cm-tooltip-autocomplete ul li[aria-selected]': {
    backgroundColor: 'var(--mark) !important',
    color: 'var(--ink) !important',
  },
  '.cm-completionDetail': {
    fontFamily: 'var(--sans)',
    fontStyle: 'normal',
    fontSize: '13px',
    marginLeft: '14px',
    color: 'var(--ink-2)',
  },
  'li[aria-selected] .cm-completionDetail': { color: 'var(--ink)' },
  '.cm-completionMatchedText': { textDecoration: 'none', fontWeight: '700' },
  '.cm-panels': { backgroundColor: 'var(--sheet)', color: 'var(--ink)', borderTop: '1px solid var(--ink)' },
  '.cm-panels input, .cm-panels button': {
    border: '0',
    borderBottom: '1px solid var(--ink)',
    background: 'none',
    color: 'var(--ink)',
  },
  '.cm-searchMatch': { backgroundColor: 'var(--mark-2)', outline: '1px solid var(--mark-edge)' },
  '.cm-searchMatch-selected': { backgroundColor: 'var(--mark)' },
});

const SIGNS = {
  error: 'M1.5 1.5l9 9m0-9l-9 9',
  warning: 'M6 1.2l5.2 9.6H.8z',
  note: 'M6 2a4 4 0 1 1 0 8a4 4 0 1 1 0-8z',
} as const;

/** Words between backticks are names in the file. */
function withCode(text: string): (string | HTMLElement)[] {
  return text.split('`').map((piece, i) => {
    if (i % 2 === 0) return piece;
    const code = document.createElement('span');
    code.className = 'm';
    code.textContent = piece;
    return code;
  });
}

/** A finding under its line: what, why, and the ways out. */
class Under extends WidgetType {
  readonly finding: UiFinding;
  readonly host: EditorHost;
  constructor(finding: UiFinding, host: EditorHost) {
    super();
    this.finding = finding;
    this.host = host;
  }
  override eq(other: Under): boolean {
    return other.finding.id === this.finding.id && other.finding.fixes.length === this.finding.fixes.length;
  }
  override toDOM(): HTMLElement {
    const { finding } = this;
    const box = document.createElement('div');
    box.className = `cm-under ${finding.severity}`;
    const sign = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
    sign.setAttribute('viewBox', '0 0 12 12');
    sign.setAttribute('aria-hidden', 'true');
    const path = document.createElementNS('http://www.w3.org/2000/svg', 'path');
    path.setAttribute('d', SIGNS[finding.severity]);
    sign.append(path);
    const text = document.createElement('div');
    const what = document.createElement('b');
    what.append(...withCode(finding.message));
    const why = [...finding.notes.map((note) => note.text), ...(finding.help === undefined ? [] : [finding.help])].join(
      ' ',
    );
    text.append(what, ...(why === '' ? [] : [' ', ...withCode(why)]));
    const acts = document.createElement('div');
    finding.fixes.forEach((fix, index) => {
      acts.append(this.#button(fix.title, () => this.host.fix(finding, index)));
    });
    acts.append(this.#button('explain', () => this.host.explain(finding)));
    box.append(sign, text, acts);
    // The room around it belongs to the block: the editor measures boxes without their margins.
    const outer = document.createElement('div');
    outer.className = 'cm-underroom';
    outer.append(box);
    return outer;
  }
  #button(title: string, act: () => void): HTMLElement {
    const button = document.createElement('button');
    button.type = 'button';
    button.textContent = title;
    button.tabIndex = -1;
    button.addEventListener('mousedown', (event) => {
      event.preventDefault();
      act();
    });
    return button;
  }
  override ignoreEvent(): boolean {
    return true;
  }
}

interface Marks {
  readonly deco: DecorationSet;
  readonly findings: readonly UiFinding[];
}

function marksField(host: EditorHost): StateField<Marks> {
  return StateField.define<Marks>({
    create: () => ({ deco: Decoration.none, findings: [] }),
    update(value, tr) {
      let next = tr.docChanged ? { ...value, deco: value.deco.map(tr.changes) } : value;
      for (const effect of tr.effects) {
        if (!effect.is(setFindings)) continue;
        const { doc } = tr.state;
        const ranges = effect.value.flatMap((finding) => {
          const where = finding.where[0]!;
          const from = Math.min(where.start, doc.length);
          const to = Math.min(Math.max(where.end, from), doc.length);
          const line = doc.lineAt(to > from ? to - 1 : from);
          const cls = { error: 'cm-fault', warning: 'cm-doubt', note: 'cm-note' }[finding.severity];
          const firstLine = doc.lineAt(from);
          const end = Math.min(to, firstLine.to);
          return [
            ...(end > from ? [Decoration.mark({ class: cls }).range(from, end)] : []),
            ...(finding.severity === 'note'
              ? []
              : [Decoration.widget({ widget: new Under(finding, host), block: true, side: 1 }).range(line.to)]),
          ];
        });
        next = { deco: RangeSet.of(ranges, true) as DecorationSet, findings: effect.value };
      }
      return next;
    },
    provide: (field) => EditorView.decorations.from(field, (value) => value.deco),
  });
}

const chosenField = StateField.define<{ words: readonly string[]; deco: DecorationSet }>({
  create: () => ({ words: [], deco: Decoration.none }),
  update(value, tr) {
    let words = value.words;
    for (const effect of tr.effects) if (effect.is(setSelected)) words = effect.value;
    if (words === value.words && !tr.docChanged) return value;
    return { words, deco: occurrences(tr.state.doc.toString(), words) };
  },
  provide: (field) => EditorView.decorations.from(field, (value) => value.deco),
});

const escaped = (word: string): string => word.replace(/[.*+?^${}()|[\]\\/-]/g, '\\$&');

function occurrences(text: string, words: readonly string[]): DecorationSet {
  if (words.length === 0) return Decoration.none;
  const pattern = new RegExp(`(?<![\\w/~#@-])(?:${words.map(escaped).join('|')})(?![\\w@-])`, 'gi');
  const ranges = [...text.matchAll(pattern)]
    .slice(0, 400)
    .map((match) => Decoration.mark({ class: 'cm-chosen' }).range(match.index, match.index + match[0].length));
  return RangeSet.of(ranges, true) as DecorationSet;
}

/** The name at a place, as the machine file writes names. */
export function wordAt(text: string, offset: number): string {
  const before = /[\w/~#.@+-]*$/.exec(text.slice(Math.max(0, offset - 80), offset))![0];
  const after = /^[\w@+-]*/.exec(text.slice(offset, offset + 80))![0];
  return (before + after).replace(/[.,:]+$/, '');
}

export class TextEditor {
  readonly view: EditorView;
  readonly #host: EditorHost;
  readonly #name = new Compartment();

  constructor(parent: HTMLElement, host: EditorHost, name: string, text: string) {
    this.#host = host;
    this.view = new EditorView({ parent, state: this.#state(name, text) });
  }

  #state(name: string, text: string): EditorState {
    const host = this.#host;
    const word = (view: EditorView): string => wordAt(view.state.doc.toString(), view.state.selection.main.head);
    const nonce = document.querySelector<HTMLMetaElement>('meta[name=csp-nonce]')?.content ?? '';
    const act = (run: (word: string) => void) => (view: EditorView) => {
      const name = word(view);
      if (name !== '') run(name);
      return name !== '';
    };
    const marks = marksField(host);
    const extensions: Extension[] = [
      EditorView.cspNonce.of(nonce),
      lineNumbers(),
      highlightActiveLine(),
      drawSelection(),
      history(),
      closeBrackets(),
      search({ top: false }),
      indentUnit.of('  '),
      yaml(),
      syntaxHighlighting(inks),
      look,
      marks,
      chosenField,
      autocompletion({ override: [(context) => this.#complete(context)], icons: false, activateOnTyping: true }),
      EditorView.lineWrapping,
      this.#name.of(
        EditorView.contentAttributes.of({ 'aria-label': `Text of ${name}`, spellcheck: 'false', tabindex: '0' }),
      ),
      keymap.of([
        { key: 'F12', run: act((name) => host.define(name)) },
        { key: 'Shift-F12', run: act((name) => host.references(name)) },
        { key: 'F2', run: act((name) => host.rename(name)) },
        {
          key: 'Alt-Enter',
          run: (view) => {
            const line = view.state.doc.lineAt(view.state.selection.main.head);
            const found = view.state
              .field(marks)
              .findings.find(
                (finding) =>
                  finding.fixes.length > 0 &&
                  finding.where[0]!.start >= line.from &&
                  finding.where[0]!.start <= line.to,
              );
            if (found !== undefined) host.fix(found, 0);
            return found !== undefined;
          },
        },
        indentWithTab,
        ...searchKeymap,
        ...historyKeymap,
        ...defaultKeymap,
      ]),
      EditorView.updateListener.of((update) => {
        if (update.docChanged && !update.transactions.some((tr) => tr.annotation(fromOutside) === true))
          host.changed(update.state.doc.toString());
        if (update.selectionSet || update.docChanged) {
          const { head, empty } = update.state.selection.main;
          const pressed = update.transactions.some((tr) => tr.isUserEvent('select.pointer')) && empty;
          host.moved(head, wordAt(update.state.doc.toString(), head), pressed);
        }
      }),
      EditorView.domEventHandlers({
        mousedown: (event, view) => {
          if (!(event.ctrlKey || event.metaKey)) return false;
          const at = view.posAtCoords({ x: event.clientX, y: event.clientY });
          if (at === null) return false;
          host.define(wordAt(view.state.doc.toString(), at));
          return true;
        },
      }),
    ];
    return EditorState.create({ doc: text, extensions });
  }

  /** Another file, or the same from scratch. */
  open(name: string, text: string): void {
    this.view.setState(this.#state(name, text));
  }

  get text(): string {
    return this.view.state.doc.toString();
  }

  /** A text that changed elsewhere: only what differs is exchanged, so that the cursor stays. */
  replace(text: string): void {
    const now = this.text;
    if (now === text) return;
    let start = 0;
    const most = Math.min(now.length, text.length);
    while (start < most && now[start] === text[start]) start++;
    let end = 0;
    while (end < most - start && now[now.length - 1 - end] === text[text.length - 1 - end]) end++;
    this.view.dispatch({
      changes: { from: start, to: now.length - end, insert: text.slice(start, text.length - end) },
      annotations: [fromOutside.of(true), Transaction.addToHistory.of(false)],
    });
  }

  /** Findings of this file, with offsets of the text as it is now. */
  findings(list: readonly UiFinding[]): void {
    this.view.dispatch({ effects: setFindings.of(list) });
  }

  chosen(words: readonly string[]): void {
    this.view.dispatch({ effects: setSelected.of(words) });
  }

  goTo(start: number, end: number): void {
    const length = this.view.state.doc.length;
    this.view.dispatch({
      selection: { anchor: Math.min(start, length), head: Math.min(end, length) },
      effects: EditorView.scrollIntoView(Math.min(start, length), { y: 'center' }),
    });
    this.view.focus();
  }

  async #complete(context: CompletionContext): Promise<CompletionResult | null> {
    const before = context.matchBefore(/[\w/~#.@+-]+/);
    if (
      before === null &&
      !context.explicit &&
      !/[:{,[]\s$/.test(context.state.sliceDoc(Math.max(0, context.pos - 2), context.pos))
    )
      return null;
    const answer = await this.#host.complete(context.pos, context.state.doc.toString());
    if (answer === undefined || answer.items.length === 0 || context.aborted) return null;
    return {
      from: answer.from,
      options: answer.items.map((item) => ({
        label: item.label,
        detail: item.detail.length > 60 ? `${item.detail.slice(0, 58)}…` : item.detail,
        apply: item.kind === 'key' ? `${item.label}: ` : item.label,
        boost: { key: 3, pin: 3, part: 2, type: 2, net: 1, value: 3 }[item.kind],
      })),
      validFor: /^[\w/~#@+-]*$/,
    };
  }

  destroy(): void {
    this.view.destroy();
  }
}
