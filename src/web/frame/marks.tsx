// The few signs of the page: the verdicts by shape (cross, triangle, disc), the ground, the codes of wires.

import { isWireCode, wireName } from '../../drawing/index.ts';

export function Cross() {
  return (
    <svg class="ic" viewBox="0 0 12 12" aria-hidden="true">
      <path d="M1.5 1.5l9 9m0-9l-9 9" stroke-width="2.2" />
    </svg>
  );
}

export function Triangle() {
  return (
    <svg class="ic" viewBox="0 0 12 12" aria-hidden="true">
      <path d="M6 1.2l5.2 9.6H.8z" stroke-width="1.7" />
    </svg>
  );
}

export function Disc() {
  return (
    <svg class="ic" viewBox="0 0 12 12" aria-hidden="true">
      <circle cx="6" cy="6" r="4" stroke-width="1.5" />
    </svg>
  );
}

/** A sentence whose words between backticks are names in a file. */
export function Words({ text }: { text: string }) {
  return (
    <>
      {text.split('`').map((piece, i) =>
        i % 2 === 0 ? (
          piece
        ) : (
          <span class="m" key={piece}>
            {piece}
          </span>
        ),
      )}
    </>
  );
}

/** How many faults and doubts, by shape and number. */
export function Counts({ faults, doubts }: { faults: number; doubts: number }) {
  return (
    <>
      {faults > 0 && (
        <span class="cnt fault">
          <Cross /> {faults}
          <span class="vh"> {faults === 1 ? 'error' : 'errors'}</span>
        </span>
      )}
      {doubts > 0 && (
        <span class="cnt doubt">
          <Triangle /> {doubts}
          <span class="vh"> {doubts === 1 ? 'warning' : 'warnings'}</span>
        </span>
      )}
    </>
  );
}

export function HalfDisc() {
  return (
    <svg viewBox="0 0 14 14" aria-hidden="true">
      <circle cx="7" cy="7" r="6" fill="none" stroke="currentColor" stroke-width="1.4" />
      <path d="M7 1a6 6 0 0 1 0 12z" fill="currentColor" />
    </svg>
  );
}

/** A wire's code with its name for those who can't see it. */
export function Code({ code }: { code: string }) {
  return (
    <span class="m b" title={isWireCode(code) ? wireName(code) : code}>
      {code}
    </span>
  );
}

/** A short piece of wire, as the drawing shows it. */
export function WireSample({ code, state }: { code: string; state: 'built' | 'planned' | 'out' }) {
  const [core, r] = { built: [3.4, 4], planned: [1.4, 3.2], out: [3, 3.6] }[state] as [number, number];
  return (
    <svg width="44" height="12" viewBox="0 0 44 12" aria-hidden="true">
      <g class={`pb-wire ${state} c-${isWireCode(code) ? code : 'x'}`}>
        <path class="core" d="M5 6h34" style={{ strokeWidth: `${core}px` }} />
        <circle class="end" cx="5" cy="6" r={r} />
        <circle class="end" cx="39" cy="6" r={r} />
      </g>
    </svg>
  );
}

/** Text made elsewhere into SVG or HTML by our own drawing code, where every name is escaped. */
export function Drawing({
  svg,
  class: className,
  label,
  scrolls = false,
}: {
  svg: string;
  class?: string;
  label?: string;
  /** It may be wider than its place: keys must reach it. */
  scrolls?: boolean;
}) {
  return (
    <div
      class={className}
      {...(scrolls ? { tabIndex: 0 } : {})}
      {...(label === undefined ? {} : { role: 'group', 'aria-label': label })}
      dangerouslySetInnerHTML={{ __html: svg }}
    />
  );
}
