// Bring-up: what should I see, what did I see, and which wire is it? What to measure at the stage and the waveforms expected; a
// capture dropped in and laid beside them; the places that would explain it, on the boards; and from there to the mending.

import { useEffect, useRef, useState } from 'preact/hooks';
import { Drawing } from '../../frame/marks.tsx';
import { model, select, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import type { Place } from '../registry.ts';
import './bringup.css';
import type { BringupPlaceRow } from '../../bringup-protocol.ts';
import { Channels } from './channels.tsx';
import { NextProbe } from './next-probe.tsx';
import { ask, canStop, clear, diagnosis, guide, plan, progress, reading, readFile, refused, stop } from './state.ts';
import { type Chosen, Verdict } from './verdict.tsx';
import { Waves } from './waves.tsx';

function BringUp() {
  const { version, build, hasLayout, stages } = model.value;
  const [chosen, setChosen] = useState<Chosen>({ group: 0, place: 0 });
  const [isOver, setOver] = useState(false);
  const input = useRef<HTMLInputElement>(null);
  const isReady = version >= 0 && hasLayout;
  useEffect(() => {
    if (isReady && stage.value > 0) ask(stage.value);
  }, [isReady, stage.value, build]);
  const told = diagnosis.value;
  const answers = guide.value?.answers.length ?? 0;
  useEffect(() => setChosen({ group: 0, place: 0 }), [told, answers]);
  if (version < 0) return <p class="empty">Reading the machine.</p>;
  if (!hasLayout)
    return (
      <div class="empty">
        <h2>Nothing is laid out yet</h2>
        <p>What should be seen follows from the holes. Lay the machine out in Boards first.</p>
      </div>
    );
  if (stage.value === 0)
    return (
      <div class="empty">
        <h2>The empty bench</h2>
        <p>There is nothing to measure before the first stage. Choose a stage above.</p>
      </div>
    );
  const seen = reading.value;
  const waves = seen?.waves ?? plan.value?.waves;
  // Once something was measured, its ranking stands in the place of the capture's own.
  const places = guide.value !== undefined && guide.value.answers.length > 0 ? guide.value.places : undefined;
  const name = stages.find(({ number }) => number === stage.value)?.name ?? '';
  const take = (files: FileList | null | undefined): void => {
    for (const file of files ?? []) readFile(stage.value, file);
  };
  return (
    <section
      class={`bu${isOver ? ' over' : ''}`}
      aria-label="Bring-up"
      onDragOver={(event) => {
        event.preventDefault();
        setOver(true);
      }}
      onDragLeave={() => setOver(false)}
      onDrop={(event) => {
        event.preventDefault();
        setOver(false);
        take(event.dataTransfer?.files);
      }}
    >
      <div class="bu-main">
        <div class="bu-hd">
          <h2>{seen === undefined ? `What should be seen: ${name}` : `${seen.name} beside what should be seen`}</h2>
          <span class="bu-work" aria-live="polite">
            {progress.value === undefined
              ? ''
              : `${progress.value.words}${progress.value.share > 0 ? `, ${Math.round(100 * progress.value.share)} %` : ''}`}
          </span>
          {canStop && progress.value?.words.startsWith('Trying') === true && (
            <button type="button" class="do" onClick={stop}>
              stop
            </button>
          )}
        </div>
        <div class="bu-bar" aria-hidden="true">
          <i style={{ width: `${100 * (progress.value?.share ?? 0)}%` }} />
        </div>
        {waves !== undefined ? (
          <Waves
            waves={waves}
            label={seen === undefined ? 'Predicted waveforms' : 'Predicted and captured waveforms'}
          />
        ) : (
          <div class="bu-none">
            {plan.value === undefined ? (
              <p class="q">Working out what should be seen.</p>
            ) : plan.value.isClocked ? (
              <p>The capture could not be laid on the clock: what is wrong with it stands at the right.</p>
            ) : (
              <p>
                No clock runs in this stage, so there are no waveforms. Its proofs are measured with a meter: Build
                shows them one by one.
              </p>
            )}
          </div>
        )}
        {told !== undefined && told.verdict !== 'correct' && told.groups.length > 0 && (
          <OnBoards chosen={chosen} places={places} />
        )}
      </div>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
      <section class="bu-side" tabIndex={0} aria-label="Measuring and finding">
        {told !== undefined && seen !== undefined && (
          <Verdict diagnosis={told} reading={seen} places={places} chosen={chosen} choose={setChosen}>
            {told.verdict !== 'correct' && guide.value !== undefined && <NextProbe guide={guide.value} />}
          </Verdict>
        )}
        <section class="bu-drop" aria-label="Capture">
          <h2>{seen === undefined ? 'Bring a capture' : 'Another capture'}</h2>
          <p>
            Drop a file here, VCD or CSV, of any size. It stays on this computer. Best from the release of reset on, at
            eight samples a clock or more.
          </p>
          <div class="acts">
            <button type="button" class="do main" onClick={() => input.current?.click()}>
              choose a file
            </button>
            {seen !== undefined && (
              <button type="button" class="do" onClick={clear}>
                put {seen.files.length > 1 ? 'them' : 'it'} away
              </button>
            )}
          </div>
          <input
            ref={input}
            type="file"
            hidden
            aria-label="Capture file"
            multiple
            onChange={(event) => {
              take(event.currentTarget.files);
              event.currentTarget.value = '';
            }}
          />
          {refused.value.map((sentence) => (
            <p key={sentence} class="fault" role="alert">
              {sentence}
            </p>
          ))}
        </section>
        {seen !== undefined && <About />}
        <Measure />
      </section>
    </section>
  );
}

/** How the capture was laid, what was found in it, and its channels. */
function About() {
  const seen = reading.value!;
  const by =
    seen.by === 'clock'
      ? 'by the edges of its clock'
      : seen.by === 'reset'
        ? 'by the nominal rate, from the release of reset on'
        : seen.by === 'correlation'
          ? 'by what changes, where it fits best'
          : undefined;
  return (
    <section class="bu-about" aria-label="About the capture">
      {by !== undefined && (
        <p>
          Laid {by}, {seen.sure > 0.97 ? 'with certainty' : seen.sure > 0.7 ? 'fairly surely' : 'not surely'}.
          {seen.strays > 0 && ` ${seen.strays} single bits differ alone: noise, or a fault that shows that rarely.`}
        </p>
      )}
      {seen.problem !== undefined && <p class="doubt">{seen.problem}</p>}
      {seen.findings.map((one) => (
        <p key={one.message} class={one.severity === 'error' ? 'fault' : one.severity === 'warning' ? 'doubt' : ''}>
          {one.message} <span class="q">{[...one.notes, one.help ?? ''].join(' ')}</span>
        </p>
      ))}
      {seen.missing.length > 0 && <p class="q">{seen.missing.join(' ')}</p>}
      <Channels reading={seen} />
    </section>
  );
}

/** Where the leads go, and what each should show. */
function Measure() {
  const rows = plan.value?.rows ?? [];
  if (rows.length === 0) return null;
  const hasLeads = rows.some(({ lead }) => lead !== '');
  return (
    <section class="bu-measure" aria-label="What to measure">
      <h2>What to measure</h2>
      {!hasLeads && (
        <p class="q">
          This stage hangs no leads; these are the lines that tell most. A `leads` entry in the machine file makes steps
          of them.
        </p>
      )}
      <table>
        <thead>
          <tr>
            {hasLeads && <th scope="col">lead</th>}
            <th scope="col">net</th>
            <th scope="col">hole</th>
            <th scope="col">should show</th>
          </tr>
        </thead>
        <tbody>
          {rows.map(({ net, hole, lead, expect }) => (
            <tr key={`${lead} ${net}`}>
              {hasLeads && <td>{lead}</td>}
              <td>
                <button type="button" class="m bu-net" onClick={() => select({ net })}>
                  {net}
                </button>
              </td>
              <td class="m">{hole}</td>
              <td>{expect}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

/** The chosen place and its like, on the boards. */
function OnBoards({ chosen, places }: { chosen: Chosen; places: readonly BringupPlaceRow[] | undefined }) {
  const host = useRef<HTMLDivElement>(null);
  const [size, setSize] = useState<{ width: number; height: number } | undefined>(undefined);
  useEffect(() => {
    if (host.current === null) return;
    const watch = new ResizeObserver(([entry]) => {
      const { width, height } = entry!.contentRect;
      setSize({ width: Math.round(width), height: Math.round(height) });
    });
    watch.observe(host.current);
    return () => watch.disconnect();
  }, []);
  const listed = places ?? diagnosis.value?.groups[chosen.group]?.places ?? [];
  const place = listed[chosen.place];
  const question = guide.value?.question;
  const answer = useAsk(
    'doubted',
    size === undefined || place === undefined
      ? undefined
      : {
          stage: stage.value,
          ...size,
          wires: listed.slice(0, 12).flatMap(({ wire }) => wire ?? []),
          holes: [...place.holes],
          text: place.step === undefined ? '' : `step ${place.step}`,
          part: place.part,
          probes: question === undefined || question.kind === 'look' ? [] : question.holes,
        },
  );
  return (
    <figure class="bu-boards">
      <div ref={host}>{answer !== undefined && <Drawing svg={answer} />}</div>
      <figcaption class="q">{place?.text ?? ''}</figcaption>
    </figure>
  );
}

export const bringUp: Place = { id: 'bring-up', title: 'Bring-up', View: BringUp };
