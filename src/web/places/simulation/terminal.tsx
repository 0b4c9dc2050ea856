// The terminal on the machine's serial line. Keys go down the line; what comes up it is shown. Its colours are the page's.

import { useEffect, useRef } from 'preact/hooks';
import '@xterm/xterm/css/xterm.css';
import { hearTerminal, send } from '../../state/sim-run.ts';
import { ground } from '../../state/store.ts';

/** Colours of the ground, as the page's style gives them. */
function theme() {
  const style = getComputedStyle(document.documentElement);
  const colour = (name: string): string => style.getPropertyValue(name).trim();
  return {
    background: colour('--sheet'),
    foreground: colour('--ink'),
    cursor: colour('--ink'),
    cursorAccent: colour('--sheet'),
    selectionBackground: colour('--mark'),
    selectionForeground: colour('--ink'),
  };
}

/** Opens the terminal in an element. It makes style elements, which the page's policy lets in with the page's own mark only. */
function openIn(element: HTMLElement, terminal: { open(element: HTMLElement): void }): void {
  const nonce = document.querySelector<HTMLMetaElement>('meta[name=csp-nonce]')?.content ?? '';
  const create = document.createElement;
  document.createElement = ((name: string, options?: ElementCreationOptions): HTMLElement => {
    const made = create.call(document, name, options);
    if (name === 'style') made.nonce = nonce;
    return made;
  }) as typeof document.createElement;
  try {
    terminal.open(element);
  } finally {
    document.createElement = create;
  }
}

export function Terminal({ rows }: { rows: number }) {
  const at = useRef<HTMLDivElement>(null);
  const terminal = useRef<{ options: { theme?: object } } | undefined>(undefined);
  useEffect(() => {
    let isGone = false;
    let end = (): void => undefined;
    void import('@xterm/xterm').then(({ Terminal: Made }) => {
      if (isGone || at.current === null) return;
      const made = new Made({
        cols: 80,
        rows,
        convertEol: false,
        cursorBlink: false,
        fontFamily: '"Atkinson Hyperlegible Mono", monospace',
        fontSize: 13,
        lineHeight: 1.2,
        screenReaderMode: true,
        scrollback: 2000,
        theme: theme(),
      });
      openIn(at.current, made);
      made.onData((text) => send(text));
      const stop = hearTerminal((text) => made.write(text));
      terminal.current = made;
      end = () => {
        stop();
        made.dispose();
        terminal.current = undefined;
      };
    });
    return () => {
      isGone = true;
      end();
    };
  }, [rows]);
  const look = ground.value;
  useEffect(() => {
    // The page's colours change a moment after the ground is chosen.
    const frame = requestAnimationFrame(() => {
      if (terminal.current !== undefined) terminal.current.options.theme = theme();
    });
    return () => cancelAnimationFrame(frame);
  }, [look]);
  return <div class="sm-terminal" ref={at} />;
}
