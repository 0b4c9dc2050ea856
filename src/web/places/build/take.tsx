// The piece of wire to take, drawn as a dimensioned piece in its colour: code, cut length, bare ends.

import { isWireCode, wireName } from '../../../drawing/index.ts';
import type { UiStep } from '../../protocol.ts';
import { size } from '../../state/store.ts';

export function Take({ step, bareMm }: { step: UiStep; bareMm: number }) {
  const width = size.value.width;
  const inner = width - 48;
  const mm = step.cutMm ?? 0;
  const code = isWireCode(step.colour) ? step.colour : 'x';
  const figure = String(mm);
  const figureWide = figure.length * 60 + 110;
  const gap0 = inner / 2 - figureWide / 2 - 16;
  const gap1 = inner / 2 + figureWide / 2 + 16;
  const bare = Math.min(inner * 0.2, (bareMm / Math.max(1, mm)) * inner);
  const out = step.do === 'take-out' || step.do === 'detach';
  const word = out
    ? 'take out'
    : step.do === 'move'
      ? `move, from ${step.was.join(', ')}`
      : step.do === 'trim'
        ? 'trim it to this'
        : `bare ${bareMm} mm each end`;
  return (
    <div class="take">
      <svg
        class={`pb c-${code}`}
        viewBox={`0 0 ${width} 180`}
        role="img"
        aria-label={`${out ? 'Take out' : 'Take'} ${isWireCode(step.colour) ? wireName(step.colour) : step.colour}, ${mm} mm`}
      >
        <g transform="translate(24 0)">
          <path
            class="rule"
            d={`M.6 58V150M${inner - 0.6} 58V150M0 72H${gap0}M${gap1} 72H${inner}`}
            style={{ strokeWidth: '1.3px' }}
          />
          <path class="inkfill" d={`M0 72l14 -4.5v9zM${inner} 72l-14 -4.5v9z`} />
          <path
            d={`M3 140H${inner - 3}`}
            style={{ stroke: 'var(--line)', strokeWidth: '7px', strokeLinecap: 'round' }}
          />
          <rect class="inkfill" x={bare} y="126" width={Math.max(0, inner - 2 * bare)} height="28" />
          <rect
            x={bare + 1.5}
            y="127.5"
            width={Math.max(0, inner - 2 * bare - 3)}
            height="25"
            style={{ fill: out ? 'var(--sheet)' : 'var(--c)' }}
          />
          {out && (
            <rect
              x={bare + 1.5}
              y="127.5"
              width={Math.max(0, inner - 2 * bare - 3)}
              height="25"
              fill="none"
              style={{ stroke: 'var(--c)', strokeWidth: '5px', strokeDasharray: '14 9' }}
            />
          )}
          <text class="s b" x={inner / 2 - 52} y="106" text-anchor="middle" style={{ fontSize: '104px' }}>
            {figure}
          </text>
          <text class="s" x={inner / 2 + figureWide / 2 - 92} y="106" style={{ fontSize: '44px' }}>
            mm
          </text>
          <text class="s" x="22" y="50" style={{ fontSize: '38px' }}>
            <tspan class="b">{step.colour}</tspan>
            <tspan dx="14">{isWireCode(step.colour) ? wireName(step.colour) : ''}</tspan>
          </text>
          <text class="s" x={inner - 22} y="50" text-anchor="end" style={{ fontSize: '26px' }}>
            {word}
          </text>
        </g>
      </svg>
    </div>
  );
}
