// What a line expands to, as a loom: nets across in the colours of their wires, parts as columns that they pass through.

import type { LoomAnswer } from '../../protocol.ts';
import { isWireCode, monoWidth, sansWidth } from '../../../drawing/index.ts';
import { select, selection } from '../../state/store.ts';

const ROW = 21;
const TOP = 34;

export function Loom({ loom, width }: { loom: LoomAnswer; width: number }) {
  const names = Math.max(40, ...loom.rows.map((row) => monoWidth(row.net, 12.5))) + 16;
  const count = Math.max(1, loom.columns.length);
  const pitch = Math.min(112, (width - names - 50) / count);
  const wide = Math.min(52, pitch * 0.62);
  const x = (i: number): number => names + pitch * (i + 0.5);
  let y = TOP;
  const rows = loom.rows.map((row) => {
    if (row.gap) y += 10;
    y += ROW;
    return { ...row, y };
  });
  const bottom = y + 14;
  const total = names + pitch * count + 6;
  return (
    <div class="loom">
      <svg
        width={total}
        height={bottom + 4}
        viewBox={`0 0 ${total} ${bottom + 4}`}
        role="img"
        aria-label={`${loom.title}: ${loom.note}`}
      >
        {loom.columns.map((column, i) => (
          <g key={column.name}>
            <rect class={`col ${column.state}`} x={x(i) - wide / 2} y={TOP} width={wide} height={bottom - TOP} />
            <text
              class="head"
              x={x(i)}
              y={TOP - 10}
              style={{
                fontWeight: column.state === 'built' ? 700 : 400,
                fontSize: `${sansWidth(column.name, 16, 700) > pitch - 6 ? Math.max(9, (16 * (pitch - 6)) / sansWidth(column.name, 16, 700)) : 16}px`,
              }}
            >
              {column.name}
            </text>
          </g>
        ))}
        {rows.map((row) => {
          const touched = row.pins.flatMap((pin, i) => (pin === undefined ? [] : [i]));
          const code = isWireCode(row.colour) ? row.colour : 'x';
          const on = selection.value.net === row.net;
          return (
            // biome-ignore lint/a11y/noStaticElementInteractions: a pointer's short way to the same selection
            <g key={row.net} data-net={row.net} class={`c-${code}`} onClick={() => select({ net: row.net })}>
              {on && <rect class="on" x="0" y={row.y - ROW / 2 - 1} width={total} height={ROW} />}
              {touched.slice(1).map((to, k) => {
                const from = touched[k]!;
                return loom.columns.slice(from, to).map((_, step) => {
                  const a = x(from + step) + wide / 2;
                  const b = x(from + step + 1) - wide / 2;
                  return (
                    <g key={`${from} ${step}`}>
                      {row.built && (
                        <path d={`M${a} ${row.y}H${b}`} style={{ stroke: 'var(--k)', strokeWidth: '4.2px' }} />
                      )}
                      <path
                        d={`M${a} ${row.y}H${b}`}
                        style={{
                          stroke: row.built ? 'var(--c)' : 'var(--p)',
                          strokeWidth: row.built ? '2.8px' : '1.2px',
                        }}
                      />
                      {step > 0 && (
                        <path
                          d={`M${x(from + step) - wide / 2} ${row.y}h${wide}`}
                          style={{ stroke: 'var(--p)', strokeWidth: '1px', opacity: 0.5 }}
                        />
                      )}
                    </g>
                  );
                });
              })}
              <text x="0" y={row.y} dy=".34em" style={{ fontWeight: on ? 700 : 400 }}>
                {row.net}
              </text>
              {row.pins.map((pin, i) =>
                pin === undefined ? null : (
                  <text
                    class="pin"
                    key={loom.columns[i]!.name}
                    x={x(i)}
                    y={row.y}
                    dy=".34em"
                    style={{
                      fontWeight: loom.columns[i]!.state === 'built' ? 700 : 400,
                      fontSize: pin.length > 6 ? '9px' : '12.5px',
                    }}
                  >
                    {pin.length > 9 ? `${pin.split(' ').length} pins` : pin}
                  </text>
                ),
              )}
            </g>
          );
        })}
      </svg>
    </div>
  );
}
