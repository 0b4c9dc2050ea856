// A programmable device as it is fused: inputs across, a row for each product term, discs where a term looks at an input; the
// equations; whether the file is proved; where it differs; the vectors with the pin that fails; the file itself.

import { monoWidth } from '../../../drawing/index.ts';
import { Cross } from '../../frame/marks.tsx';
import type { AddressDevice } from '../../protocol.ts';
import { select, selection } from '../../state/store.ts';
import { hex } from './moves.ts';

export function Fused({ device, width }: { device: AddressDevice; width: number }) {
  const unproved = device.rows.filter((row) => !row.proved);
  return (
    <section class="fused" aria-label={`${device.part}, ${device.device}`}>
      <h2>
        <span class={selection.value.part === device.part ? 'hl' : ''}>{device.part}</span>
        {device.isOwn ? `, as ${device.file} has it` : ', as it will be fused'}{' '}
        <span class="q">
          {device.device}
          {device.mode === 'cells' || device.mode === '' ? '' : `, ${device.mode} mode`}, revision {device.revision}{' '}
          from stage {device.stage}
        </span>
      </h2>
      {device.rows.length > 0 && <Terms device={device} width={width} />}
      {device.rows.length > 0 && (
        <p class="s q legend">
          <svg width="12" height="12" viewBox="0 0 12 12" aria-hidden="true">
            <circle class="one" cx="6" cy="6" r="5" />
          </svg>{' '}
          must be 1{' '}
          <svg width="12" height="12" viewBox="0 0 12 12" aria-hidden="true">
            <circle class="zero" cx="6" cy="6" r="4.5" />
          </svg>{' '}
          must be 0, a crossing alone: either
        </p>
      )}
      <ul class="equations">
        {device.rows.map((row) => (
          <li key={row.pin} class={selection.value.net === row.net ? 'on' : ''}>
            <button type="button" class="m" onClick={() => select({ net: row.net })}>
              {row.net} {row.registered ? '<=' : '='} {row.equation}
              {row.enable === '' ? '' : `, driven while ${row.enable}`}
            </button>
            <span class="q s">
              {row.terms.length} of {row.room === 0 ? '?' : row.room} terms
              {row.proved ? '' : ', not proved minimal'}
              {row.passes > 1 ? `, ${row.passes} passes` : ''}
            </span>
          </li>
        ))}
      </ul>
      <p class={`verdict ${device.isProved ? 'proved' : 'fault'}`}>
        {device.isProved ? <Lozenge /> : <Cross />}{' '}
        <span>
          <b>
            {device.file} is {device.isProved ? 'proved equal to this map.' : 'not proved.'}
          </b>{' '}
          {device.fuses > 0 && (
            <>
              Read back from {device.fuses.toLocaleString('en').replaceAll(',', ' ')} fuses by separate code and
              compared at {device.points.toLocaleString('en').replaceAll(',', ' ')} combinations of levels.{' '}
            </>
          )}
          {device.sum !== '' && (
            <>
              Checksum <span class="m">{device.sum}</span>.{' '}
            </>
          )}
          {device.signature.replaceAll('.', '') !== '' && (
            <>
              Signature <span class="m">{device.signature}</span>.{' '}
            </>
          )}
          {unproved.length === 0 ? '' : `Fewer terms may do for ${unproved.map((row) => row.net).join(', ')}.`}
        </span>
      </p>
      {device.discrete !== '' && <p class="s discrete">Instead, {device.discrete}.</p>}
      {device.differences.length > 0 && <Differences device={device} />}
      {device.failures.length > 0 && <Failures device={device} />}
      {device.vectors.length > 0 && (
        <details>
          <summary>
            {device.vectors.length} test vectors
            {device.failures.length === 0 ? ', all as the fuses do' : `, ${failing(device).size} of them fail`}
          </summary>
          {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
          <pre class="vectors" tabIndex={0}>
            {device.vectors.map((vector) => (
              <Vector key={vector.number} device={device} vector={vector} />
            ))}
          </pre>
        </details>
      )}
      {device.text !== '' && (
        <details>
          <summary>the fuse file, {device.file}</summary>
          <p>
            <button type="button" class="do" onClick={() => save(device.file, device.text)}>
              save it
            </button>
          </p>
          {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
          <pre class="jed" tabIndex={0}>
            {plain(device.text)}
          </pre>
        </details>
      )}
    </section>
  );
}

function Lozenge() {
  return (
    <svg class="ic" viewBox="0 0 12 12" aria-hidden="true">
      <path d="M6 .8L11.2 6L6 11.2L.8 6Z" fill="currentColor" stroke="none" />
    </svg>
  );
}

const PITCH = 38;
const ROW = 27;

/** The array: inputs as columns, terms as rows. */
function Terms({ device, width }: { device: AddressDevice; width: number }) {
  const columns = device.columns.filter((column) => column.used);
  const names = Math.max(46, ...device.rows.map((row) => monoWidth(row.net, 13))) + 18;
  const pitch = Math.max(17, Math.min(PITCH, (width - names - 76) / Math.max(1, columns.length)));
  const longest = Math.max(0, ...columns.map((column) => monoWidth(column.net, 12.5)));
  const top = 22 + longest * 0.78;
  const x = (k: number): number => names + pitch * (k + 0.5);
  const right = names + pitch * columns.length + 10;
  const lines = device.rows.flatMap((row) =>
    (row.terms.length === 0 ? [undefined] : row.terms).map((term, k) => ({ row, term, isFirst: k === 0 })),
  );
  const y = (k: number): number => top + ROW * (k + 0.75);
  const bottom = y(lines.length - 1) + ROW * 0.6;
  const total = Math.max(right + 62, x(columns.length - 1) + longest * 0.75 + 10);
  const used = new Map(device.columns.map((column, k) => [column.pin, k]));
  const radius = Math.min(6, pitch * 0.3);
  return (
    <svg
      class="pb array"
      width={total}
      height={bottom}
      viewBox={`0 0 ${total} ${bottom}`}
      role="img"
      aria-label={`${device.part}: ${device.rows.map((row) => `${row.net} = ${row.equation}`).join('; ')}`}
    >
      {columns.map((column, k) => (
        <g key={column.pin}>
          <path class="hair" d={`M${x(k)} ${top}V${bottom - 6}`} />
          <text
            x={x(k)}
            y={top - 20}
            transform={`rotate(-50 ${x(k)} ${top - 20})`}
            class={selection.value.net === column.net ? 'b onmark' : ''}
            style={{ fontSize: '12.5px' }}
          >
            {column.net}
          </text>
          <text class="q" x={x(k)} y={top - 5} text-anchor="middle" style={{ fontSize: '11px' }}>
            {column.pin}
          </text>
        </g>
      ))}
      {lines.map(({ row, term, isFirst }, k) => {
        const isOn = selection.value.net === row.net;
        return (
          // biome-ignore lint/a11y/noStaticElementInteractions: a pointer's short way; the equations below are buttons
          <g key={`${row.pin} ${k}`} class="term" onClick={() => select({ net: row.net })}>
            {isOn && <rect class="hl" x="0" y={y(k) - ROW / 2} width={total} height={ROW} />}
            {isFirst && (
              <text x="4" y={y(k)} dy=".35em" class={isOn ? 'b' : ''} style={{ fontSize: '13px' }}>
                {row.net}
              </text>
            )}
            <path class="rule" d={`M${names - 10} ${y(k)}H${right}`} />
            {term === undefined && (
              <text class="s q" x={names} y={y(k) - 5} style={{ fontSize: '12px' }}>
                no term: always {row.activeLow ? 'high' : 'low'}
              </text>
            )}
            {columns.map((column, c) => {
              const level = term?.[used.get(column.pin)!];
              return level === undefined ? null : (
                <circle key={column.pin} class={level === 1 ? 'one' : 'zero'} cx={x(c)} cy={y(k)} r={radius} />
              );
            })}
            {isFirst && (
              <>
                <path class="gate" d={`M${right} ${y(k) - 8}h8a8 8 0 0 1 0 16h-8z`} />
                {row.activeLow && <circle class="zero" cx={right + 19.5} cy={y(k)} r="3" />}
                <text class="q" x={right + 28} y={y(k)} dy=".35em" style={{ fontSize: '12px' }}>
                  {row.pin}
                </text>
              </>
            )}
          </g>
        );
      })}
    </svg>
  );
}

function Differences({ device }: { device: AddressDevice }) {
  return (
    <>
      <h3>Where {device.file} differs from the map</h3>
      <ul class="differences">
        {device.differences.slice(0, 40).map((one) => (
          <li key={`${one.space} ${one.from} ${one.text}`}>
            <span class="m b">
              {hex(one.from, 4)}
              {one.to === one.from ? '' : ` to ${hex(one.to, 4)}`}
            </span>{' '}
            {one.text}
            {one.at === '' ? '' : `, with ${one.at}`}.
          </li>
        ))}
      </ul>
    </>
  );
}

const failing = (device: AddressDevice): ReadonlySet<number> => new Set(device.failures.map((one) => one.vector));

/** Failing vectors as sentences, beside the device's outline with the pins marked. */
function Failures({ device }: { device: AddressDevice }) {
  const pins = new Set(device.failures.map((one) => one.pin));
  const half = device.pins.length / 2;
  const high = half * 15 + 16;
  return (
    <>
      <h3>Vectors that the fuses fail</h3>
      <div class="failures">
        <svg
          class="pb outline"
          width="250"
          height={high}
          viewBox={`0 0 250 ${high}`}
          role="img"
          aria-label={`${device.device}: pins ${[...pins].join(', ')} fail`}
        >
          <path class="body" d={`M96 8H160V${high - 8}H90V14Z`} />
          {device.pins.map((pin, k) => {
            const isLeft = k < half;
            const y = 16 + (isLeft ? k : device.pins.length - 1 - k) * 15 + 4;
            const isBad = pins.has(pin.pin);
            return (
              <g key={pin.pin} class={isBad ? 'bad' : ''}>
                <path class="rule" d={isLeft ? `M90 ${y}h-7` : `M160 ${y}h7`} />
                <text
                  class={isBad ? 'b' : 'q'}
                  x={isLeft ? 94 : 156}
                  y={y}
                  dy=".35em"
                  text-anchor={isLeft ? 'start' : 'end'}
                  style={{ fontSize: '10.5px' }}
                >
                  {pin.pin}
                </text>
                <text
                  class={isBad ? 'b' : ''}
                  x={isLeft ? 78 : 172}
                  y={y}
                  dy=".35em"
                  text-anchor={isLeft ? 'end' : 'start'}
                  style={{ fontSize: '11.5px' }}
                >
                  {pin.net}
                </text>
                {isBad && (
                  <path
                    class="cross"
                    d={isLeft ? `M82 ${y - 5}l10 10m0 -10l-10 10` : `M158 ${y - 5}l10 10m0 -10l-10 10`}
                  />
                )}
              </g>
            );
          })}
        </svg>
        <ul>
          {device.failures.slice(0, 12).map((one) => (
            <li key={`${one.vector} ${one.pin}`}>{one.text}</li>
          ))}
        </ul>
      </div>
    </>
  );
}

function Vector({
  device,
  vector,
}: {
  device: AddressDevice;
  vector: { readonly number: number; readonly conditions: string };
}) {
  const bad = device.failures.filter((one) => one.vector === vector.number).map((one) => one.pin - 1);
  const text = [...vector.conditions];
  return (
    <span class={bad.length === 0 ? '' : 'bad'}>
      {String(vector.number).padStart(4)}{' '}
      {bad.length === 0
        ? vector.conditions
        : text.map((symbol, k) =>
            bad.includes(k) ? (
              <b key={k} class="hl">
                {symbol}
              </b>
            ) : (
              symbol
            ),
          )}
      {'\n'}
    </span>
  );
}

/** Without the two characters that frame the file. */
function plain(text: string): string {
  return text.replaceAll('\u0002', '').replaceAll('\u0003', '');
}

function save(name: string, text: string): void {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([text], { type: 'application/octet-stream' }));
  link.download = name.split('/').at(-1) ?? name;
  link.click();
  URL.revokeObjectURL(link.href);
}
