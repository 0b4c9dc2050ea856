// The stage line: the main control. One graduation per step; choosing a stage turns everything below into the machine as of it.

import { lozenge, sansWidth, type StageSteps, stageTicks } from '../../drawing/index.ts';
import { chooseStage, isNarrow, isPhone, model, size, stage } from '../state/store.ts';
import { Counts } from './marks.tsx';

/** px from graduation to graduation so that the whole build fits; least and most by the look. */
function fitTicks(stages: readonly StageSteps[], room: number, narrow: boolean): { spacing: number; widths: number[] } {
  const least = stages.map((item) => {
    const marks = (item.faults ?? 0) > 0 || (item.doubts ?? 0) > 0 ? 66 : 0;
    return Math.max(
      sansWidth(`${item.number} ${item.name}`, narrow ? 15 : 17, 700) + 18,
      Math.min(sansWidth(item.state, narrow ? 12 : 13) + marks, 190) + 18,
      54,
    );
  });
  const widthsAt = (spacing: number): number[] =>
    stages.map((item, i) => Math.max(least[i]!, stageTicks(item, ticks(spacing)).width + 16));
  const sum = (widths: readonly number[]): number => widths.reduce((a, b) => a + b, 0);
  let low = 0.5;
  let high = 3.95;
  if (sum(widthsAt(high)) <= room) low = high;
  for (let i = 0; i < 14 && high - low > 0.01; i++) {
    const middle = (low + high) / 2;
    if (sum(widthsAt(middle)) <= room) low = middle;
    else high = middle;
  }
  return { spacing: low, widths: widthsAt(low) };
}

const ticks = (spacing: number) => ({ spacing, gap: Math.min(2.8, spacing * 0.8) });

export function StageLine() {
  const { name, stages, fronts } = model.value;
  const narrow = isNarrow.value;
  const phone = isPhone.value;
  const { spacing, widths } = fitTicks(stages, size.value.width - (narrow ? 148 : 200) - 8, narrow);
  return (
    <header class={`stages${narrow ? ' narrow' : ''}${spacing < 2.6 ? ' fine' : ''}`}>
      <div class="who">
        <h1 title={name}>{name === '' ? 'Proofboard' : name}</h1>
        {stages.length > 0 && (
          <ul aria-label="How far the build has come">
            <li>
              <FrontSample kind="planned" height={5} />
              {fronts.designed}
            </li>
            <li>
              <FrontSample kind="built" height={8} />
              {fronts.wired}
            </li>
            <li>
              <svg viewBox="0 0 26 10" aria-hidden="true">
                <g
                  class="pb-tickset"
                  transform="translate(13 5)scale(.56)"
                  dangerouslySetInnerHTML={{ __html: lozenge('proved', 0, 0) }}
                />
              </svg>
              {fronts.proved}
            </li>
          </ul>
        )}
      </div>
      <ol aria-label="Stages" onKeyDown={onKeys}>
        {stages.map((item, i) => (
          <li
            key={item.number}
            class={`st${item.number === stage.value ? ' sel' : item.number < stage.value ? ' past' : ''}`}
            style={phone ? {} : { width: `${widths[i]}px` }}
          >
            <button
              type="button"
              aria-current={item.number === stage.value ? 'step' : undefined}
              tabIndex={item.number === stage.value || (stage.value === 0 && i === 0) ? 0 : -1}
              data-stage={item.number}
              onClick={() => chooseStage(item.number)}
            >
              <span class="nm">
                <b>{item.number}</b>
                <span>{item.name}</span>
              </span>
              <span class="is">
                {item.state}
                <Counts faults={item.faults ?? 0} doubts={item.doubts ?? 0} />
              </span>
              {phone ? (
                <svg class="pb tk" width="40" height="40" viewBox="0 0 40 40" aria-hidden="true">
                  <g dangerouslySetInnerHTML={{ __html: phoneMark(item) }} />
                </svg>
              ) : (
                <svg class="pb tk" width={widths[i]} height="46" viewBox={`0 -8 ${widths[i]} 46`} aria-hidden="true">
                  <g dangerouslySetInnerHTML={{ __html: stageTicks(item, ticks(spacing)).svg }} />
                </svg>
              )}
            </button>
          </li>
        ))}
      </ol>
    </header>
  );
}

function phoneMark(item: StageSteps): string {
  const done = item.steps.filter(({ mark }) => mark === 'built' || mark === 'gone').length;
  const share = item.steps.length === 0 ? 0 : done / item.steps.length;
  return `<path class="pb-base" d="M0 18H30"/>${share > 0 ? `<path class="pb-base built" d="M0 18H${(24 * share).toFixed(1)}"/>` : ''}${lozenge(item.proof, 30, 18)}`;
}

function FrontSample({ kind, height }: { kind: 'planned' | 'built'; height: number }) {
  const top = 8 - height;
  return (
    <svg viewBox="0 0 26 10" aria-hidden="true">
      <path class={`pb-base${kind === 'built' ? ' built' : ''}`} d="M0 8H26" />
      <path class={`pb-tick ${kind}`} d={`M3 8V${top}M8 8V${top}M13 8V${top}M18 8V${top}M23 8V${top}`} />
    </svg>
  );
}

/** Arrows, Home and End within the line. */
function onKeys(event: KeyboardEvent): void {
  const last = model.value.stages.length;
  const to = { ArrowLeft: stage.value - 1, ArrowRight: stage.value + 1, Home: 1, End: last }[event.key];
  if (to === undefined) return;
  event.preventDefault();
  event.stopPropagation();
  chooseStage(Math.max(1, to));
  requestAnimationFrame(() => {
    document.querySelector<HTMLElement>(`[data-stage="${stage.value}"]`)?.focus();
  });
}
