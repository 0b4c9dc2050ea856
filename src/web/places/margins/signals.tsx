// Clocks and bit rates as they come through the machine; and, by estimate, what wires do to edges: ringing, crosstalk, outputs
// that switch together, bypass. The formulas stand below.

import { Triangle } from '../../frame/marks.tsx';
import type { MarginsAnswer, SignalsUi } from '../../protocol.ts';
import { select } from '../../state/store.ts';
import { figure } from './words.ts';

export function Signals({ answer }: { answer: MarginsAnswer }) {
  return (
    <div class="mg-breaks">
      <div>
        <h2>Clocks</h2>
        {answer.clocks.length === 0 ? (
          <p class="q">Nothing beats yet.</p>
        ) : (
          <table>
            <thead>
              <tr>
                <th scope="col">net</th>
                <th scope="col" class="r">
                  rate
                </th>
                <th scope="col" class="r">
                  high
                </th>
                <th scope="col">from, and to</th>
              </tr>
            </thead>
            <tbody>
              {answer.clocks.map((row) => (
                <tr key={row.net}>
                  <td>
                    <Net name={row.net} />
                  </td>
                  <td class="m r nowrap">{row.rate}</td>
                  <td class="m r nowrap">{row.duty}</td>
                  <td>
                    {row.from} <span class="q s">to {row.feeds}</span>
                  </td>
                </tr>
              ))}
            </tbody>
          </table>
        )}
        {answer.crystals.map((crystal) => (
          <p key={crystal.part} class="mg-drop">
            <span class="m">{crystal.part}</span> is cut for {figure(crystal.wantsPf)} pF and sees{' '}
            {figure(crystal.seesPf)} pF, strips included; two equal capacitors of {figure(crystal.eachPf)} pF would be
            right.
          </p>
        ))}
        {answer.serial.map((port) => (
          <div key={port.part}>
            <h2>
              Bit rates of <span class="m">{port.part}</span>
            </h2>
            <p class="q">{port.clock}</p>
            <table>
              <thead>
                <tr>
                  <th scope="col" class="r">
                    bit/s
                  </th>
                  <th scope="col" class="r">
                    divided by
                  </th>
                  <th scope="col" class="r">
                    off by %
                  </th>
                  <th scope="col" class="r">
                    left of what a receiver stands, %
                  </th>
                </tr>
              </thead>
              <tbody>
                {port.rates.map((rate) => (
                  <tr key={rate.bits}>
                    <td class="m r">{rate.bits}</td>
                    <td class="m r">{rate.divisor}</td>
                    <td class="m r">{rate.percent}</td>
                    <td class={`m r b${rate.leftPercent < 0 ? ' fault' : ''}`}>{rate.leftPercent}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        ))}
      </div>
      <div>
        {answer.signals === undefined ? (
          <>
            <h2>What wires do to edges</h2>
            <p class="q">Estimated from lengths and neighbours: lay the machine out in Boards first.</p>
          </>
        ) : (
          <Estimates signals={answer.signals} />
        )}
      </div>
    </div>
  );
}

function Net({ name }: { name: string }) {
  return (
    <button type="button" class="m" onClick={() => select({ net: name })}>
      {name}
    </button>
  );
}

function Estimates({ signals }: { signals: SignalsUi }) {
  const edges = signals.edges.filter((row) => row.acts !== '');
  const chips = signals.chips
    .filter((row) => row.outputs > 0 || row.advice !== undefined)
    .sort((a, b) => (b.bounce ?? -1) - (a.bounce ?? -1));
  return (
    <>
      <h2>Edges that something acts on, by estimate</h2>
      <table>
        <thead>
          <tr>
            <th scope="col">net</th>
            <th scope="col" class="r">
              mm
            </th>
            <th scope="col" class="r">
              felt from
            </th>
            <th scope="col" class="r">
              V over
            </th>
            <th scope="col" class="r">
              back
            </th>
            <th scope="col" class="r">
              left
            </th>
          </tr>
        </thead>
        <tbody>
          {edges.map((row) => (
            <tr key={row.net}>
              <td>
                <Net name={row.net} />{' '}
                <span class="q s">{row.missing === '' ? row.acts : `not known: ${row.missing}`}</span>
                {row.advice !== undefined && (
                  <p class="s">
                    <span class="doubt">
                      <Triangle />
                    </span>{' '}
                    {row.advice}
                  </p>
                )}
              </td>
              <td class="m r">{row.mm}</td>
              <td class="m r">{figure(row.criticalMm)}</td>
              <td class="m r">{figure(row.over)}</td>
              <td class="m r">{figure(row.back)}</td>
              <td class="m r b">{figure(row.left)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {signals.crosstalk.length > 0 && (
        <>
          <h2>Crosstalk onto them</h2>
          <table>
            <thead>
              <tr>
                <th scope="col">net</th>
                <th scope="col">beside</th>
                <th scope="col" class="r">
                  V
                </th>
                <th scope="col" class="r">
                  to spare
                </th>
              </tr>
            </thead>
            <tbody>
              {signals.crosstalk.slice(0, 12).map((row) => (
                <tr key={row.net}>
                  <td>
                    <Net name={row.net} />
                  </td>
                  <td class="s">{row.from}</td>
                  <td class="m r">{figure(row.volts)}</td>
                  <td class="m r">{figure(row.margin)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </>
      )}
      <h2>Chips: outputs that switch together, and bypass</h2>
      <table>
        <thead>
          <tr>
            <th scope="col">chip</th>
            <th scope="col" class="r">
              outputs
            </th>
            <th scope="col" class="r">
              ground lifts by V
            </th>
            <th scope="col">bypass</th>
          </tr>
        </thead>
        <tbody>
          {chips.map((row) => (
            <tr key={row.part}>
              <td>
                <button type="button" class="m" onClick={() => select({ part: row.part })}>
                  {row.part}
                </button>
              </td>
              <td class="m r">{row.outputs}</td>
              <td class="m r">{figure(row.bounce)}</td>
              <td class="s">
                {row.bypass === undefined ? '' : `${row.bypass}${row.mm === null ? '' : `, ${row.mm} mm`}`}
                {row.advice !== undefined && (
                  <>
                    {' '}
                    <span class="doubt">
                      <Triangle />
                    </span>{' '}
                    {row.advice}
                  </>
                )}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      <p class="mg-drop">{signals.bulk}</p>
      <h2>How it is estimated</h2>
      <p class="q">No margin rests on these. Look with an oscilloscope before changing anything.</p>
      <dl class="mg-formulas">
        {signals.formulas.map(([name, text]) => (
          <div key={name}>
            <dt class="b">{name}</dt>
            <dd class="m s">{text}</dd>
          </div>
        ))}
      </dl>
    </>
  );
}
