// Build: one step at a time, at arm's length. One key does it: Space done, Backspace take back, V check over, S say it, L list.

import { useEffect, useRef, useState } from 'preact/hooks';
import { stageTicks } from '../../../drawing/index.ts';
import { Drawing, WireSample } from '../../frame/marks.tsx';
import type { PlanAnswer, UiStep } from '../../protocol.ts';
import { act } from '../../state/history.ts';
import { connection, isPhone, model, notice, place, select, size, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import type { Place } from '../registry.ts';
import { Caution, isPowerStep } from './caution.tsx';
import { StepList } from './list.tsx';
import { say, silence } from './speech.ts';
import { Take } from './take.tsx';
import { Touches } from './touches.tsx';
import { keepAwake } from './wake.ts';

/** Seven millimetres of bare wire at each end: what a contact of a solderless board takes (common practice, no source). */
const BARE_MM = 7;

function Build() {
  const plan = useAsk('plan', { stage: stage.value });
  useEffect(() => keepAwake(), []);
  if (plan === undefined) return <div class="bench" />;
  return <Bench plan={plan} />;
}

type Mode = { readonly kind: 'step' } | { readonly kind: 'list' } | { readonly kind: 'check'; readonly at: number };

function Bench({ plan }: { plan: PlanAnswer }) {
  const [mode, setMode] = useState<Mode>({ kind: isPhone.value ? 'list' : 'step' });
  const busy = useRef('');
  const box = useRef<HTMLElement>(null);
  const now = plan.steps[0];
  const group = checkGroup(plan);
  const shown = mode.kind === 'check' ? group[mode.at] : now;
  const wantsPower = now !== undefined && isPowerStep(now);
  const turnPower =
    mode.kind === 'step' && now !== undefined && wantsPower !== plan.power && plan.problem === undefined;

  useEffect(() => {
    box.current?.focus();
  }, []);
  useEffect(() => {
    if (shown?.net !== undefined && shown.net !== '') select({ net: shown.net });
  }, [shown?.id]);

  /** Once for each step: a second press before the next step shows is one too many. */
  const run = async (key: string, work: () => Promise<unknown>): Promise<void> => {
    if (busy.current === key) return;
    busy.current = key;
    try {
      await work();
    } finally {
      if (busy.current === key) busy.current = '';
    }
  };
  const done = (): void => {
    if (mode.kind === 'check') {
      setMode(mode.at + 1 < group.length ? { kind: 'check', at: mode.at + 1 } : { kind: 'step' });
      return;
    }
    if (now === undefined || plan.problem !== undefined) return;
    void run(`${now.id} ${turnPower}`, () =>
      turnPower
        ? act(wantsPower ? 'power on' : 'power off', { do: 'power', on: wantsPower, stage: now.stage })
        : act(now.text, { do: 'done', ids: [now.id], stage: stage.value }),
    );
  };
  const back = (): void => {
    if (mode.kind === 'check') {
      setMode(mode.at > 0 ? { kind: 'check', at: mode.at - 1 } : { kind: 'step' });
      return;
    }
    const last = model.value.lastAct;
    if (last === undefined) notice.value = 'There is nothing to take back.';
    else void run(last.id, () => act(`take back: ${last.text}`, { do: 'undo', records: [last.id] }));
  };
  /** What is looked at isn't right: it is noted, and comes back as the next thing to do. */
  const wrong = (): void => {
    const step = group[mode.kind === 'check' ? mode.at : 0];
    if (step === undefined) return;
    void run(`wrong ${step.id}`, async () => {
      if (!(await act(`not right: ${step.text}`, { do: 'wrong', step: step.id }))) return;
      notice.value = 'Noted as a fault. It is to be done again.';
      setMode({ kind: 'step' });
    });
  };
  const keys = (event: KeyboardEvent): void => {
    const target = event.target as HTMLElement;
    if (target.closest('input, textarea') !== null || event.ctrlKey || event.metaKey || event.altKey) return;
    // Space on a button presses the button; at the bench it is the step that counts.
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const acts: Record<string, () => void> = {
      ' ': done,
      PageDown: done,
      Backspace: back,
      PageUp: back,
      v: () => {
        if (group.length === 0) notice.value = 'Nothing of this group is done yet.';
        else setMode(mode.kind === 'check' ? { kind: 'step' } : { kind: 'check', at: 0 });
      },
      x: () => {
        if (mode.kind === 'check') wrong();
      },
      s: () => {
        if (shown !== undefined) say(shown);
      },
      l: () => setMode(mode.kind === 'list' ? { kind: 'step' } : { kind: 'list' }),
      Escape: () => {
        silence();
        if (mode.kind === 'step') place.value = 'boards';
        else setMode({ kind: 'step' });
      },
    };
    if (acts[key] === undefined) return;
    event.preventDefault();
    event.stopPropagation();
    if (!event.repeat) acts[key]!();
  };
  // The newest one at once: a second key may come before the screen is painted.
  const handler = useRef(keys);
  handler.current = keys;
  useEffect(() => {
    const onKey = (event: KeyboardEvent): void => handler.current(event);
    addEventListener('keydown', onKey);
    return () => removeEventListener('keydown', onKey);
  }, []);

  const stageInfo = model.value.stages.find((item) => item.number === (shown?.stage ?? stage.value));
  return (
    <section class="bench" ref={box} tabIndex={-1} aria-label="Build">
      <header>
        <h1 class="big">
          <b>
            {stageInfo?.number} {stageInfo?.name}
          </b>{' '}
          {shown?.group ?? ''}
        </h1>
        <div class="tkwrap" aria-hidden="true">
          {stageInfo !== undefined && <Ticks number={stageInfo.number} />}
        </div>
        <p class="big">
          {mode.kind === 'check' ? (
            <>
              hole by hole <b>{mode.at + 1}</b> of {group.length}
            </>
          ) : now === undefined ? (
            'nothing left'
          ) : (
            <>
              step <b>{plan.done + 1}</b> of {plan.total}
            </>
          )}
        </p>
      </header>
      {mode.kind === 'check' && (
        <p class="checkover" role="status">
          Check it over: is it in these holes, and pushed in? Space: yes, next. X: no. Backspace: the one before. Esc:
          back to work.
        </p>
      )}
      {mode.kind === 'list' ? (
        <StepList plan={plan} />
      ) : plan.problem !== undefined && (shown === undefined || mode.kind === 'step') && plan.steps.length === 0 ? (
        <div class="said">
          <h2>{plan.problem}</h2>
          <p>
            <button type="button" class="do main" onClick={() => (place.value = 'boards')}>
              go to the boards
            </button>
          </p>
        </div>
      ) : turnPower && now !== undefined ? (
        <Caution on={wantsPower} stage={stageInfo?.name ?? ''} number={now.stage} next={now.text} />
      ) : shown === undefined ? (
        <Finished />
      ) : (
        <StepView key={shown.id} step={shown} asks={mode.kind === 'step'} run={run} />
      )}
      {mode.kind === 'step' && !isPhone.value && <Then steps={plan.steps.slice(1, 4)} />}
      <footer>
        <button type="button" onClick={done}>
          <span class="kbd">Space</span>{' '}
          {turnPower ? (wantsPower ? 'it is on' : 'it is off') : mode.kind === 'check' ? 'right' : 'done'}
        </button>
        <button type="button" onClick={back}>
          <span class="kbd">Backspace</span> {mode.kind === 'check' ? 'before' : 'take back'}
        </button>
        {mode.kind === 'check' && (
          <button type="button" onClick={wrong}>
            <span class="kbd">X</span> not right
          </button>
        )}
        <button
          type="button"
          onClick={() =>
            setMode(mode.kind === 'check' ? { kind: 'step' } : group.length > 0 ? { kind: 'check', at: 0 } : mode)
          }
        >
          <span class="kbd">V</span> {mode.kind === 'check' ? 'back to work' : 'check again'}
        </button>
        <button type="button" onClick={() => shown !== undefined && say(shown)}>
          <span class="kbd">S</span> say it
        </button>
        <button type="button" onClick={() => setMode(mode.kind === 'list' ? { kind: 'step' } : { kind: 'list' })}>
          <span class="kbd">L</span> {mode.kind === 'list' ? 'one step' : 'list'}
        </button>
        <button type="button" onClick={() => (place.value = 'boards')}>
          <span class="kbd">Esc</span> desk
        </button>
        <span class="power">
          {connection.value === 'lost' ? 'server away' : plan.power ? 'power is on' : 'power stays off'}
        </span>
      </footer>
    </section>
  );
}

/** What was done last of one group, oldest first: the group of the last step done. */
function checkGroup(plan: PlanAnswer): readonly UiStep[] {
  const last = plan.before[0];
  if (last === undefined) return [];
  const end = plan.before.findIndex((step) => step.group !== last.group || step.stage !== last.stage);
  return plan.before.slice(0, end < 0 ? undefined : end).toReversed();
}

function Ticks({ number }: { number: number }) {
  const info = model.value.stages.find((item) => item.number === number);
  if (info === undefined) return null;
  const room = size.value.width - 620;
  let spacing = 3.95;
  while (spacing > 0.8 && stageTicks(info, { spacing, gap: 2.4 }).width > room) spacing -= 0.15;
  const { svg, width } = stageTicks(info, { spacing, gap: 2.4 });
  return <Drawing svg={`<svg class="pb" width="${width}" height="46" viewBox="0 -8 ${width} 46">${svg}</svg>`} />;
}

function Finished() {
  return (
    <div class="said">
      <h2>All steps up to this stage are done.</h2>
      <p>Choose the next stage with a digit, or with the stage line on the boards.</p>
    </div>
  );
}

function Then({ steps }: { steps: readonly UiStep[] }) {
  if (steps.length === 0) return null;
  return (
    <div class="then">
      <span>then</span>
      {steps.map((step) => (
        <div key={step.id} style={{ minWidth: 0 }}>
          {step.do === 'wire' && step.from !== undefined && step.to !== undefined ? (
            <>
              <p class="code">
                <WireSample code={step.colour} state="built" /> {step.colour} {step.cutMm} mm
              </p>
              <p class="m">
                {step.from.hole} → {step.to.hole}
              </p>
            </>
          ) : (
            <p title={step.text}>{step.text}</p>
          )}
        </div>
      ))}
    </div>
  );
}

function StepView({
  step,
  asks,
  run,
}: {
  step: UiStep;
  asks: boolean;
  run: (key: string, work: () => Promise<unknown>) => Promise<void>;
}) {
  const width = size.value.width;
  const isWire = step.from !== undefined && step.to !== undefined && step.part === '' && step.cutMm !== undefined;
  const height = Math.max(200, size.value.height - (isWire ? 63 + 181 + 74 + 92 + 46 : 63 + 190 + 92 + 46));
  const drawn = useAsk('step', { stage: step.stage, step: step.id, width: isWire ? width / 2 - 4 : width, height });
  if (isWire)
    return (
      <>
        <Take step={step} bareMm={BARE_MM} />
        <div class="ends">
          <End word="from" end={step.from!} net={step.net} svg={drawn?.from ?? ''} />
          <End word="to" end={step.to!} net={step.net} svg={drawn?.to ?? ''} />
        </div>
        {step.notes.length > 0 && (
          <p class="said" style={{ padding: '6px 24px' }}>
            {step.notes.join(' ')}
          </p>
        )}
      </>
    );
  return (
    <>
      <div class="said">
        <h2>{step.text}</h2>
        {step.notes.map((note) => (
          <p key={note}>{note}</p>
        ))}
        {step.file !== '' && <p class="m">{step.file}</p>}
      </div>
      {step.group === 'meter check' && asks && <Touches stage={step.stage} />}
      {step.do === 'measure' && step.group !== 'meter check' && asks && <Answer step={step} run={run} />}
      {drawn?.whole !== undefined && drawn.whole !== '' && <Drawing class="whole" svg={drawn.whole} />}
    </>
  );
}

function End({
  word,
  end,
  net,
  svg,
}: {
  word: string;
  end: { hole: string; pins: readonly string[] };
  net: string;
  svg: string;
}) {
  const name = end.pins[0] ?? (/:[tb]/.test(end.hole) ? `${net} rail` : net);
  return (
    <section aria-label={`${word} ${end.hole}, ${name}`}>
      <div class="at">
        <span>{word}</span>
        <span class="hole">{end.hole}</span>
        <span class="pinname">{name}</span>
      </div>
      <Drawing class="place" svg={svg} />
    </section>
  );
}

/** What was measured, typed; or Space for as expected. */
function Answer({ step, run }: { step: UiStep; run: (key: string, work: () => Promise<unknown>) => Promise<void> }) {
  const [found, setFound] = useState('');
  const enter = (pass: boolean): void => {
    const text = found.trim() === '' ? (pass ? 'as expected' : 'not as expected') : found.trim();
    void run(step.id, () => act(`measure: ${text}`, { do: 'measured', step: step.id, found: text, pass }));
  };
  return (
    <form
      class="answer"
      onSubmit={(event) => {
        event.preventDefault();
        enter(true);
      }}
    >
      <label>
        shows{' '}
        <input
          class="well"
          type="text"
          autocomplete="off"
          value={found}
          onInput={(event) => setFound(event.currentTarget.value)}
        />
      </label>
      <span>{step.expect === '' ? '' : `should be ${step.expect}`}</span>
      <button type="submit" class="do main">
        that is as it should be
      </button>
      <button type="button" class="do" onClick={() => enter(false)}>
        it is not
      </button>
    </form>
  );
}

export const build: Place = { id: 'build', title: 'Build', View: Build, full: () => true };
