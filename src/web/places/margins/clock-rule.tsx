// The clock as a mark on a rule that can be moved: how far the machine runs, and what gives way where.

import { useMemo } from 'preact/hooks';
import type { MarginsAnswer } from '../../protocol.ts';
import { size } from '../../state/store.ts';
import { megahertz } from './words.ts';

interface Props {
  readonly answer: MarginsAnswer;
  readonly clockHz: number | undefined;
  readonly setClock: (hz: number | undefined) => void;
}

const EDGE = 14;
const BASE = 112;

/** A round step so that some ten of them make the span. */
function stepFor(span: number): number {
  const power = 10 ** Math.floor(Math.log10(span / 10));
  const raw = span / 10 / power;
  return power * (raw < 1.5 ? 1 : raw < 3.5 ? 2 : raw < 7.5 ? 5 : 10);
}

export function ClockRule({ answer, clockHz, setClock }: Props) {
  const own = answer.clockHz;
  const limit = answer.maxHz ?? answer.knownHz;
  const now = clockHz ?? own;
  const width = Math.max(640, size.value.width - 48);
  const most = Math.max(own ?? 0, limit ?? 0) * 1.6;
  const step = most > 0 ? stepFor(most) : 1e6;
  const end = Math.ceil(most / step) * step;
  const x = (hz: number): number => EDGE + (hz / end) * (width - 2 * EDGE);
  const flags = useMemo(() => {
    const shown: { at: number; what: string; level: number; from: number; to: number }[] = [];
    const centre = x(now ?? 0);
    for (const item of answer.breaks.clock) {
      if (item.at <= 0 || item.at > end) continue;
      if (shown.some((other) => Math.abs(other.at - item.at) < end / 400)) continue;
      // Each on the highest line where it meets no other word; what finds none is in the list of what breaks first.
      const left = x(item.at);
      const wide = 7.4 * item.what.length + 56;
      const [from, to] = left > width - 260 ? [left - wide, left] : [left, left + wide];
      const isFree = (level: number): boolean =>
        shown.every((other) => other.level !== level || other.to < from || other.from > to) &&
        (level > 1 || to < centre - 90 || from > centre + 90);
      const level = [0, 1, 2, 3].find(isFree);
      if (level !== undefined) shown.push({ at: item.at, what: item.what, level, from, to });
    }
    return shown;
  }, [answer, end, width, now]);
  if (own === null || now === null || most <= 0)
    return (
      <div class="mg-clock">
        <h2>Clock</h2>
        <p>Nobody says how fast it runs: state the rate under `clocks` in the machine file.</p>
      </div>
    );
  let ticks = '';
  const words = [];
  for (let k = 0; k * (step / 5) <= end + 1; k++) {
    const at = x(k * (step / 5)).toFixed(1);
    ticks += `M${at} ${BASE}v${k % 5 === 0 ? -24 : -10}`;
    if (k % 5 === 0)
      words.push(
        <text key={k} x={at} y={BASE + 20} text-anchor={k === 0 ? 'start' : 'middle'} class="rt">
          {(k * (step / 5)) / 1e6 || 0}
        </text>,
      );
  }
  const isOver = limit !== null && now > limit;
  return (
    <div class="mg-clock">
      <div class="mg-hd">
        <h2>Clock</h2>
        <p>
          {limit === null ? (
            'Nothing that depends on the clock is known well enough to say how far it runs.'
          ) : (
            <>
              This machine runs to <b>{megahertz(limit)}</b>
              {answer.maxHz === null && ' by what is known; some figures are missing, so nobody can promise it'}.{' '}
              {answer.critical !== undefined && `Past that ${answer.critical} gives way.`}{' '}
              {answer.faster !== undefined && `${answer.faster}.`}
            </>
          )}{' '}
          {answer.minHz !== null && answer.minHz > 0 && `It may not be slower than ${megahertz(answer.minHz)}.`}
        </p>
        {clockHz !== undefined && (
          <button type="button" class="do" onClick={() => setClock(undefined)}>
            back to {megahertz(own)}
          </button>
        )}
      </div>
      <div class="mg-rule" style={{ width: `${width}px` }}>
        <svg width={width} height={BASE + 28} viewBox={`0 0 ${width} ${BASE + 28}`} aria-hidden="true">
          <defs>
            <pattern id="mg-h" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
              <path d="M0 0V5" stroke="var(--ink-2)" stroke-width="1.1" />
            </pattern>
          </defs>
          {limit !== null && (
            <rect
              x={x(limit)}
              y={BASE - 26}
              width={Math.max(0, x(end) - x(limit))}
              height="26"
              fill="url(#mg-h)"
              opacity=".55"
            />
          )}
          <rect class="cursor" x={x(now) - 46} y="34" width="92" height={BASE - 28} />
          <path class="ax" d={`M${EDGE} ${BASE}H${width - EDGE}${ticks}`} />
          {limit !== null && <path d={`M${EDGE} ${BASE}H${x(limit)}`} stroke="var(--ink)" stroke-width="5" />}
          {words}
          {flags.map((flag) => {
            const left = x(flag.at);
            const isLate = left > width - 260;
            return (
              <g key={flag.what}>
                <path class="ax" d={`M${left} ${BASE}V${18 + flag.level * 16}`} />
                <text
                  x={left + (isLate ? -6 : 6)}
                  y={22 + flag.level * 16}
                  text-anchor={isLate ? 'end' : 'start'}
                  class="ft"
                >
                  {(flag.at / 1e6).toFixed(2)} {flag.what}
                </text>
              </g>
            );
          })}
          <path class="ax" d={`M${x(now)} 34V${BASE + 6}`} stroke-width="2" />
          <text
            x={Math.min(Math.max(x(now), 60), width - 60)}
            y="28"
            text-anchor="middle"
            class={`cl${isOver ? ' over' : ''}`}
          >
            {(now / 1e6).toFixed(4)} MHz
          </text>
        </svg>
        <input
          type="range"
          aria-label="Clock to try, MHz"
          aria-valuetext={`${(now / 1e6).toFixed(3)} MHz`}
          min={0}
          max={1000}
          step={1}
          value={Math.round((now / end) * 1000)}
          onInput={(event) => {
            const share = Number((event.target as HTMLInputElement).value) / 1000;
            setClock(Math.max(end / 1000, share * end));
          }}
        />
      </div>
    </div>
  );
}
