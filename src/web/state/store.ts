// What the page knows and shows, as signals. Views read them; the functions here change them. Nothing else is shared.

import { batch, computed, effect, signal } from '@preact/signals';
import type { FindingsNews, ModelNews, Selection, UiFinding } from '../protocol.ts';

const EMPTY_MODEL: ModelNews = {
  kind: 'model',
  version: -1,
  hasMachine: true,
  name: '',
  about: '',
  build: 'first',
  builds: [],
  stages: [],
  fronts: { designed: '', wired: '', proved: '' },
  reached: 0,
  hasLayout: false,
  parts: 0,
  lastAct: undefined,
};

export const model = signal<ModelNews>(EMPTY_MODEL);
export const findings = signal<FindingsNews>({ kind: 'findings', version: -1, findings: [], waived: [] });
/** The chosen stage; the last one designed until somebody chooses. */
export const stage = signal(0);
export const place = signal('boards');
export const selection = signal<Selection>({});
export const connection = signal<'connecting' | 'live' | 'lost'>('connecting');
/** One sentence that the page has to say, at the foot; gone with the next act. */
export const notice = signal('');
/** A place in a text that Intent should show next. */
export const goTo = signal<{ file: string; start: number; end: number } | undefined>(undefined);
/** A finding that Findings should open next. */
export const openFinding = signal<string | undefined>(undefined);
export const size = signal({ width: innerWidth, height: innerHeight });

const dark = matchMedia('(prefers-color-scheme: dark)');
const kept = (): string | null => {
  try {
    return localStorage.getItem('ground');
  } catch {
    return null;
  }
};
export const ground = signal<'paper' | 'slate'>(
  kept() === 'slate' || (kept() === null && dark.matches) ? 'slate' : 'paper',
);
dark.addEventListener('change', () => {
  if (kept() === null) ground.value = dark.matches ? 'slate' : 'paper';
});
effect(() => {
  document.documentElement.dataset.ground = ground.value;
});

export function toggleGround(): void {
  ground.value = ground.value === 'paper' ? 'slate' : 'paper';
  try {
    localStorage.setItem('ground', ground.value);
  } catch {
    // A page without storage forgets it with the window.
  }
}

addEventListener('resize', () => {
  size.value = { width: innerWidth, height: innerHeight };
});
/** Under 700 px the page is for looking things up. */
export const isPhone = computed(() => size.value.width < 700);
export const isNarrow = computed(() => size.value.width < 1280);

export const counts = computed(() => {
  const all = findings.value.findings;
  const count = (severity: string): number => all.filter((finding) => finding.severity === severity).length;
  return { faults: count('error'), doubts: count('warning'), notes: count('note') };
});

// Where one was, in the address, so that a reload and a second window find it again.
let chosenStage = false;
const fromAddress = (): void => {
  const words = decodeURIComponent(location.hash.slice(1)).split('~');
  if (words[0]) place.value = words[0];
  const number = Number(words[1]);
  if (words[1] !== undefined && words[1] !== '' && Number.isInteger(number)) {
    stage.value = number;
    chosenStage = true;
  }
  const [kind, ...rest] = (words[2] ?? '').split('=');
  const name = rest.join('=');
  if (name !== '' && (kind === 'net' || kind === 'part' || kind === 'wire' || kind === 'hole'))
    selection.value = { [kind]: name };
};
fromAddress();
addEventListener('hashchange', () => batch(fromAddress));
effect(() => {
  const { net, part, wire, hole } = selection.value;
  const what =
    net !== undefined
      ? `net=${net}`
      : part !== undefined
        ? `part=${part}`
        : wire !== undefined
          ? `wire=${wire}`
          : hole !== undefined
            ? `hole=${hole}`
            : '';
  const words = [place.value, stage.value === 0 ? '' : String(stage.value), what].join('~').replace(/~+$/, '');
  history.replaceState(null, '', `#${encodeURIComponent(words).replaceAll('%3D', '=').replaceAll('%2F', '/')}`);
});

/** Takes in the frame's data; the stage that work is at is chosen until the person chooses. */
export function takeModel(news: ModelNews): void {
  batch(() => {
    model.value = news;
    const last = news.stages.length;
    if (!chosenStage && last > 0) {
      const open = news.stages.find((item) => item.steps.some(({ mark }) => mark === 'planned' || mark === 'out'));
      stage.value = news.hasLayout ? (open?.number ?? last) : last;
    }
    if (stage.value > last) stage.value = last;
  });
}

export function chooseStage(number: number): void {
  chosenStage = true;
  stage.value = Math.max(0, Math.min(model.value.stages.length, number));
}

export function select(what: Selection): void {
  selection.value = what;
}

/** Shows the place in the file that a finding, part or net comes from. */
export function showText(at: { file: string; start: number; end: number }): void {
  batch(() => {
    goTo.value = at;
    place.value = 'intent';
  });
}

export function showFinding(finding: UiFinding): void {
  batch(() => {
    openFinding.value = finding.id;
    place.value = 'findings';
  });
}
