// Simulation: the machine as its boards have it at the stage, running. Left its time, steps and terminal; right what a hand and an
// eye find: buttons, lights, levels at the selected net's pins, registers, memory; and what the stage is to prove.

import { useState } from 'preact/hooks';
import { Cross, Disc, Triangle } from '../../frame/marks.tsx';
import {
  choosePace,
  hand,
  pause,
  powerOff,
  powerOn,
  prove,
  run,
  simBusy,
  simMemory,
  simOn,
  simPace,
  simProofs,
  simShown,
  step,
} from '../../state/sim-run.ts';
import { isNarrow, isPhone, model, select, selection, stage } from '../../state/store.ts';
import type { Place } from '../registry.ts';
import './simulation.css';
import { Terminal } from './terminal.tsx';

const PACES: readonly (readonly [string, number | undefined])[] = [
  ["the machine's own", undefined],
  ['as fast as it goes', 0],
  ['1,000 clocks a second', 1000],
  ['20 clocks a second', 20],
  ['2 clocks a second', 2],
];

const hex = (value: number): string => value.toString(16).toUpperCase().padStart(4, '0');
/** A level as a probe shows it. */
const letter = (level: number | string): string => (level === 1 ? 'H' : level === 0 ? 'L' : level === 'Z' ? 'Z' : '?');
const levelWords: Readonly<Record<string, string>> = { H: 'high', L: 'low', Z: 'floating', '?': 'not known' };

function time(ns: number): string {
  if (ns < 1e9) return `${(ns / 1e6).toFixed(4)} ms`;
  return `${(ns / 1e9).toFixed(3)} s`;
}
function speedWords(speed: number, rateHz: number): string {
  if (speed <= 0) return '';
  const text = speed >= 1e6 ? `${(speed / 1e6).toFixed(2)} million` : Math.round(speed).toLocaleString('en');
  const own =
    rateHz > 0
      ? `, ${speed / rateHz >= 0.995 && speed / rateHz < 1.005 ? 'its own speed' : `${(speed / rateHz).toPrecision(2)} of its own speed`}`
      : '';
  return `${text} clocks a second${own}`;
}

function Simulation() {
  const on = simOn.value;
  if (model.value.parts === 0)
    return (
      <div class="empty">
        <h2>Nothing to switch on yet</h2>
        <p>There are no parts at this stage.</p>
      </div>
    );
  return (
    <div class={`sm${isNarrow.value ? ' narrow' : ''}${isPhone.value ? ' one' : ''}`}>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
      <section class="sm-left" tabIndex={0} aria-label="The machine and its terminal">
        <Controls />
        {on?.hasTerminal === true && (
          <>
            <h2 class="sm-head">Terminal</h2>
            <Terminal rows={isNarrow.value ? 16 : 24} />
          </>
        )}
        {on !== undefined && !on.hasTerminal && <p class="q">No serial line leads out of the machine at this stage.</p>}
        <Proofs />
      </section>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
      <section class="sm-right" tabIndex={0} aria-label="What a hand and an eye find">
        {on === undefined ? (
          <p class="q">
            {simBusy.value === 'on'
              ? 'It is put together.'
              : 'Switch it on to press its buttons and to see its lights, levels, registers and memory.'}
          </p>
        ) : (
          <>
            <Hands />
            <Lights />
            <Pins />
            <Registers />
            <Memory />
          </>
        )}
      </section>
    </div>
  );
}

function Controls() {
  const on = simOn.value;
  const shown = simShown.value;
  const isRunning = shown?.isRunning === true;
  const canStep = on !== undefined && on.rateHz > 0 && shown !== undefined;
  const hasProcessor = canStep && shown.processor !== undefined;
  if (on === undefined || shown === undefined)
    return (
      <div class="sm-controls">
        <h2>Stage {stage.value} is switched off</h2>
        <p class="acts">
          <button type="button" class="do main" disabled={simBusy.value === 'on'} onClick={powerOn}>
            switch on
          </button>
        </p>
      </div>
    );
  const { processor } = shown;
  return (
    <div class="sm-controls">
      <h2>
        {isRunning ? 'It runs' : 'It stands'} at <span class="m">{time(shown.ns)}</span>
        {on.rateHz > 0 && (
          <>
            , clock <span class="m">{shown.clocks.toLocaleString('en')}</span>
          </>
        )}
      </h2>
      <p class="sm-now m" aria-hidden={isRunning}>
        {processor === undefined
          ? ' '
          : processor.lost !== ''
            ? processor.lost
            : `${hex(processor.at)}  ${processor.instruction === '' ? 'no known instruction' : processor.instruction}`}
      </p>
      <p class="acts">
        {isRunning ? (
          <button type="button" class="do main" onClick={pause}>
            pause
          </button>
        ) : (
          <button type="button" class="do main" onClick={run}>
            run
          </button>
        )}
        <button type="button" class="do" disabled={!canStep} onClick={() => step('clock')}>
          one clock
        </button>
        <button type="button" class="do" disabled={!hasProcessor} onClick={() => step('cycle')}>
          one machine cycle
        </button>
        <button type="button" class="do" disabled={!hasProcessor} onClick={() => step('instruction')}>
          one instruction
        </button>
        <button type="button" class="do" onClick={powerOn}>
          off and on
        </button>
        <button type="button" class="do" onClick={powerOff}>
          switch off
        </button>
      </p>
      <p class="sm-pace">
        <label>
          Speed{' '}
          <select
            class="well"
            value={String(simPace.value)}
            onChange={(event) => {
              const text = event.currentTarget.value;
              choosePace(text === 'undefined' ? undefined : Number(text));
            }}
          >
            {PACES.map(([title, pace]) => (
              <option key={title} value={String(pace)}>
                {title}
              </option>
            ))}
          </select>
        </label>{' '}
        <span class="q">{isRunning ? speedWords(shown.speed, on.rateHz) : ''}</span>
      </p>
      <p class="q s">
        Read from the {on.from === 'boards' ? 'boards as they are at this stage' : 'netlist: there is no layout'}. No
        delays: what needs nanoseconds is under Margins.
      </p>
      {[...on.notes, ...shown.findings].slice(0, 6).map((text) => (
        <p class="doubt sm-note" key={text}>
          <Triangle /> {text}
        </p>
      ))}
    </div>
  );
}

function Hands() {
  const hands = simOn.value?.hands ?? [];
  const [set, setSet] = useState<ReadonlySet<string>>(new Set());
  if (hands.length === 0) return null;
  const turn = (name: string, isOn: boolean): void => {
    const next = new Set(set);
    if (isOn) next.add(name);
    else next.delete(name);
    setSet(next);
    hand(name, isOn);
  };
  return (
    <>
      <h2 class="sm-head">Buttons and switches</h2>
      <p class="sm-hands">
        {hands.map(({ name, holds }) => {
          const isOn = set.has(name);
          const title = name.replace(/\.PRESSED$/, '');
          if (holds === 'until set back')
            return (
              <button type="button" class="do m" key={name} aria-pressed={isOn} onClick={() => turn(name, !isOn)}>
                {title} {isOn ? 'on' : 'off'}
              </button>
            );
          return (
            <button
              type="button"
              class="do m"
              key={name}
              aria-pressed={isOn}
              title="Down as long as it is held"
              onPointerDown={(event) => {
                event.currentTarget.setPointerCapture(event.pointerId);
                turn(name, true);
              }}
              onPointerUp={() => turn(name, false)}
              onPointerCancel={() => turn(name, false)}
              onKeyDown={(event) => {
                if ((event.key === ' ' || event.key === 'Enter') && !event.repeat) turn(name, true);
              }}
              onKeyUp={(event) => {
                if (event.key === ' ' || event.key === 'Enter') turn(name, false);
              }}
              onBlur={() => {
                if (isOn) turn(name, false);
              }}
            >
              {title}
            </button>
          );
        })}
      </p>
    </>
  );
}

function Lights() {
  const shown = simShown.value;
  if (shown === undefined || (shown.lamps.length === 0 && shown.displays.length === 0)) return null;
  const isSegment = (name: string): boolean => shown.digits !== '' && /\.(?:[A-G]|DP)$/.test(name);
  const lamps = shown.lamps.filter(({ name }) => !isSegment(name));
  return (
    <>
      <h2 class="sm-head">Lights</h2>
      {shown.digits !== '' && (
        <p class="sm-digits m" role="img" aria-label={`digits: ${shown.digits}`}>
          {shown.digits}
        </p>
      )}
      {shown.displays.map(({ part, lines }) => (
        <pre class="sm-display" key={part} role="img" aria-label={`${part}: ${lines.join(' / ')}`}>
          {lines.join('\n')}
        </pre>
      ))}
      {lamps.length > 0 && (
        <ul class="sm-lamps">
          {lamps.map(({ name, light }) => (
            <li key={name}>
              <span class={`sm-lamp${light > 0.02 ? ' lit' : ''}`} aria-hidden="true" />
              <span class="m">{name}</span>
              <span class="vh">{light > 0.02 ? ', lit' : ', dark'}</span>
            </li>
          ))}
        </ul>
      )}
    </>
  );
}

function Pins() {
  const shown = simShown.value;
  const { net, part } = selection.value;
  const [text, setText] = useState('');
  return (
    <>
      <h2 class="sm-head">
        {net !== undefined ? (
          <>
            Levels on <span class="m hl">{net}</span>
          </>
        ) : part !== undefined ? (
          <>
            Levels at <span class="m hl">{part}</span>
          </>
        ) : (
          'Levels'
        )}
      </h2>
      <form
        class="sm-pick"
        onSubmit={(event) => {
          event.preventDefault();
          const name = text.trim();
          if (name !== '') select(name.startsWith('part ') ? { part: name.slice(5).trim() } : { net: name });
        }}
      >
        <label>
          Net{' '}
          <input
            class="well m"
            value={text}
            placeholder={net ?? '/RD'}
            onInput={(event) => setText(event.currentTarget.value)}
          />
        </label>
        <button type="submit" class="do">
          look
        </button>
      </form>
      {shown !== undefined && shown.pins.length > 0 ? (
        <ul class="sm-pins">
          {shown.pins.map(({ pin, name, level, net: on }) => {
            const sign = letter(level);
            return (
              <li key={pin}>
                <span class="m b sm-level" role="img" aria-label={levelWords[sign]}>
                  {sign}
                </span>
                <span class="m">{pin}</span> <span class="m">{name}</span>
                {part !== undefined && net === undefined && on !== name && !on.includes('.') && (
                  <span class="m q"> {on}</span>
                )}
              </li>
            );
          })}
        </ul>
      ) : (
        <p class="q">
          {net === undefined && part === undefined
            ? 'Choose a net or a part, here or anywhere, to see what a probe finds at its pins.'
            : 'Nothing of that name is on the boards at this stage.'}
        </p>
      )}
    </>
  );
}

function Registers() {
  const processor = simShown.value?.processor;
  if (processor === undefined) return null;
  return (
    <>
      <h2 class="sm-head">Registers</h2>
      <dl class="sm-registers m">
        {processor.registers.map(({ name, value }) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </>
  );
}

function Memory() {
  const shown = simShown.value;
  if (shown?.processor === undefined) return null;
  const from = simMemory.value;
  const wide = isNarrow.value ? 8 : 16;
  const rows = Array.from({ length: shown.memory.length / wide }, (_, k) =>
    shown.memory.slice(k * wide, (k + 1) * wide),
  );
  const move = (to: number): void => {
    simMemory.value = (((to % 65536) + 65536) % 65536) & ~15;
  };
  return (
    <>
      <h2 class="sm-head">Memory</h2>
      <p class="acts">
        <label>
          from{' '}
          <input
            class="well m sm-address"
            value={hex(from)}
            onChange={(event) => {
              const value = Number.parseInt(event.currentTarget.value.replace(/^0x/i, ''), 16);
              if (Number.isNaN(value)) event.currentTarget.value = hex(from);
              else move(value);
            }}
          />
        </label>
        <button type="button" class="do" onClick={() => move(from - 128)}>
          before
        </button>
        <button type="button" class="do" onClick={() => move(from + 128)}>
          after
        </button>
        {shown.processor !== undefined && (
          <button
            type="button"
            class="do"
            onClick={() => move(Number.parseInt(shown.processor!.registers[1]!.value, 16) - 32)}
          >
            at the stack
          </button>
        )}
      </p>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
      <pre class="sm-memory" tabIndex={0}>
        {rows
          .map((bytes, k) => {
            const text = bytes
              .map((byte) => {
                const code = Number.parseInt(byte, 16);
                return code >= 32 && code < 127 ? String.fromCharCode(code) : '.';
              })
              .join('');
            return `${hex((from + k * wide) & 0xffff)}  ${bytes.slice(0, 8).join(' ')}  ${wide === 8 ? '' : `${bytes.slice(8).join(' ')}  `}${text}`;
          })
          .join('\n')}
      </pre>
    </>
  );
}

function Proofs() {
  const proofs = simProofs.value;
  return (
    <>
      <h2 class="sm-head">What stage {stage.value} is to prove</h2>
      <p class="acts">
        <button type="button" class="do" disabled={simBusy.value === 'proofs'} onClick={prove}>
          {simBusy.value === 'proofs'
            ? 'running them'
            : proofs === undefined
              ? 'simulate the proofs'
              : 'simulate them again'}
        </button>
      </p>
      {proofs !== undefined &&
        (proofs.length === 0 ? (
          <p class="q">The stage says nothing of what it is to prove.</p>
        ) : (
          <table class="sm-proofs">
            <thead>
              <tr>
                <th>expected</th>
                <th>simulated</th>
                <th>verdict</th>
              </tr>
            </thead>
            <tbody>
              {proofs.map((row) => (
                <tr key={row.proof}>
                  <td>{row.proof}</td>
                  <td>{row.predicted}</td>
                  <td class="nowrap">
                    {row.pass === true ? (
                      <span class="proved">
                        <Disc /> shows
                      </span>
                    ) : row.pass === false ? (
                      <span class="fault">
                        <Cross /> does not show
                      </span>
                    ) : (
                      <span class="doubt">
                        <Triangle /> not simulated
                      </span>
                    )}
                  </td>
                </tr>
              ))}
            </tbody>
          </table>
        ))}
    </>
  );
}

export const simulationPlace: Place = { id: 'simulation', title: 'Simulation', View: Simulation };
