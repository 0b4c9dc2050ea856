// Beside the boards: the selected net as a line, the selected part with its pins, a hole, or what the stage changes; and the
// title block, which is the legend too.

import { useEffect, useState } from 'preact/hooks';
import { Code, Drawing, WireSample } from '../../frame/marks.tsx';
import { isWireCode } from '../../../drawing/index.ts';
import type { BuyAnswer, StationData } from '../../protocol.ts';
import { edit } from '../../state/history.ts';
import { layState, startLay } from '../../state/lay-run.ts';
import { askSlow, engine } from '../../state/session.ts';
import { chooseStage, isNarrow, model, notice, select, selection, showText, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import { MovePanel, moving, startMove } from './moving.tsx';
import { Progress } from './progress.tsx';

export function Panel() {
  const { net, part, pin, hole } = selection.value;
  if (part !== undefined && pin === undefined) return <PartPanel name={part} />;
  if (net !== undefined)
    return (
      <>
        <NetPanel name={net} />
        {hole !== undefined && <HolePanel name={hole} />}
        {part !== undefined && (
          <p>
            Pin {pin?.slice(pin.lastIndexOf('.') + 1)} of{' '}
            <button type="button" class="do m" onClick={() => select({ part })}>
              {part}
            </button>
          </p>
        )}
      </>
    );
  if (hole !== undefined) return <HolePanel name={hole} />;
  return <StagePanel />;
}

function NetPanel({ name }: { name: string }) {
  const net = useAsk('net', { stage: stage.value, net: name });
  const [whole, setWhole] = useState(false);
  const diagram = useAsk('bus', whole ? { stage: stage.value, net: name } : undefined);
  if (net === undefined)
    return (
      <div class="panel">
        <h2 class="name hl">{name}</h2>
        <p class="words">No stage has a net of this name.</p>
      </div>
    );
  const many = net.stations.length > 9;
  return (
    <div class="panel">
      <div class="head">
        <h2 class="name hl">{net.name}</h2>
        <p class="words">{net.words}</p>
      </div>
      {isNarrow.value || many ? (
        <Line stations={net.stations} />
      ) : (
        <Drawing class="netline" svg={net.svg} label="The ends of the net and the wires between them" scrolls />
      )}
      <div class="acts" style={{ marginTop: '8px' }}>
        {net.comes !== undefined && (
          <button type="button" class="do main" onClick={() => chooseStage(net.comes!)}>
            go to stage {net.comes}
          </button>
        )}
        {net.origin?.where !== undefined && (
          <button type="button" class="do" onClick={() => showText(net.origin!.where!)}>
            where it is said, line {net.origin.where.line}
          </button>
        )}
        <button type="button" class="do" aria-pressed={whole} onClick={() => setWhole(!whole)}>
          {whole ? 'close the bus diagram' : 'bus diagram'}
        </button>
        <button type="button" class="do" onClick={() => select({})}>
          let go
        </button>
      </div>
      {whole && diagram !== undefined && <Drawing class="wide-figure" svg={diagram} label="Bus diagram" />}
    </div>
  );
}

/** A net as a list of stations, for narrow windows and for long nets. */
function Line({ stations }: { stations: readonly StationData[] }) {
  const shown = stations.slice(0, 60);
  return (
    <ol class="line" style={{ marginTop: '14px' }}>
      {shown.map((station, i) => {
        const next = shown[i + 1]?.wire;
        const state = next === undefined ? '' : next.state === 'built' ? ' in' : next.state === 'out' ? ' out' : '';
        return (
          <li key={`${station.part} ${station.number} ${i}`} class={state}>
            <svg class="disc" viewBox="0 0 22 22" aria-hidden="true">
              <circle
                cx="11"
                cy="11"
                r="9"
                fill={station.drives ? 'var(--ink)' : 'var(--sheet)'}
                stroke="var(--ink)"
                stroke-width="2"
              />
              {station.drives && <path d="M8 6.5l6.5 4.5L8 15.5z" fill="var(--sheet)" />}
            </svg>
            <span class="pin">
              {station.part === undefined ? (
                <b>{station.pin}</b>
              ) : (
                <button type="button" onClick={() => select({ part: station.part! })}>
                  <b>{station.part}</b>.{station.number} <b>{station.pin}</b>
                </button>
              )}
              {station.more > 0 && <span class="q"> and {station.more} more</span>}
              {station.drives && <span class="vh"> drives</span>}
            </span>
            <span class="m r">{station.holes.join(', ')}</span>
            {next !== undefined && (
              <span class="w">
                <Code code={next.colour} /> <span class="m">{next.cutMm} mm</span>{' '}
                <span class="q">
                  {next.next
                    ? 'next step'
                    : `${{ built: 'in', planned: 'to come', out: 'to take out' }[next.state]}${next.step === undefined ? '' : `, step ${next.step}`}`}
                </span>
              </span>
            )}
          </li>
        );
      })}
      {stations.length > shown.length && <li>and {stations.length - shown.length} more</li>}
    </ol>
  );
}

async function choose(label: string, change: unknown): Promise<void> {
  const answer = await engine.ask('choose', { edit: change });
  if (typeof answer === 'string') notice.value = answer;
  else if (await edit(label, [{ path: answer.file, text: answer.text }]))
    notice.value = `${label}. The next layout keeps to it.`;
}

function PartPanel({ name }: { name: string }) {
  const part = useAsk('part', { stage: stage.value, part: name, net: selection.value.net });
  const [card, setCard] = useState(false);
  const [buy, setBuy] = useState<BuyAnswer | undefined>(undefined);
  const { version } = model.value;
  useEffect(() => {
    setBuy(undefined);
    let isOver = false;
    void askSlow('buy', { stage: model.value.stages.length, part: name }).then((answer) => {
      if (!isOver) setBuy(answer);
    });
    return () => {
      isOver = true;
    };
  }, [name, version]);
  if (part === undefined) return <div class="panel" />;
  const where = part.firstHole === '' ? '' : `pin 1 in ${part.firstHole}`;
  return (
    <div class="panel part">
      <div class="head">
        <h2 class="name hl">{part.name}</h2>
        <p class="words">
          {part.title}. <span class="m">{[part.type, part.value].filter((text) => text !== '').join(', ')}</span>.{' '}
          {part.state === 'later'
            ? `Comes at stage ${part.stage}.`
            : { built: 'In, ', planned: 'Not in yet, ', out: 'To be taken out, ' }[part.state]}
          {part.state !== 'later' && where !== '' ? `${where}.` : ''}
        </p>
      </div>
      {buy !== undefined && (
        <p>
          {buy.text}.{buy.substitutes.length > 0 && ` Would do as well: ${buy.substitutes.join('; ')}.`}
        </p>
      )}
      {part.cautions.map((text) => (
        <p key={text}>
          <b>Mind: </b>
          {text}
        </p>
      ))}
      <MovePanel />
      <div class="acts" style={{ margin: '8px 0' }}>
        <button type="button" class="do" aria-pressed={card} onClick={() => setCard(!card)}>
          {card ? 'pins as a list' : 'pin card'}
        </button>
        {part.firstHole !== '' && part.state !== 'later' && moving.value === undefined && (
          <button
            type="button"
            class="do"
            title="Drag it, or Shift and arrows on the drawing; R turns it"
            onClick={() => startMove(part.name, { kind: 'step', columns: 1, rows: 0 })}
          >
            move it
          </button>
        )}
        {part.firstHole !== '' && (
          <button
            type="button"
            class="do"
            onClick={() =>
              void choose(
                part.fixed ? `free ${part.name}` : `fix ${part.name}`,
                part.fixed
                  ? { do: 'free', part: part.name }
                  : {
                      do: 'fix',
                      part: part.name,
                      at: part.firstHole,
                      rotation: part.rotation,
                      ...(part.leads.length === 2 ? { to: part.leads[1] } : {}),
                    },
              )
            }
          >
            {part.fixed ? 'free it' : 'fix it here'}
          </button>
        )}
        {part.where !== undefined && (
          <button type="button" class="do" onClick={() => showText(part.where!)}>
            where it is said, line {part.where.line}
          </button>
        )}
        <button type="button" class="do" onClick={() => select({})}>
          let go
        </button>
      </div>
      {card ? (
        <Drawing class="card" svg={part.card} label={`Pin card of ${part.name}`} />
      ) : (
        part.pins.length > 0 && (
          <table class="pins">
            <thead>
              <tr>
                <th scope="col" class="r">
                  pin
                </th>
                <th scope="col">name</th>
                <th scope="col">net</th>
                <th scope="col">hole</th>
              </tr>
            </thead>
            <tbody>
              {part.pins.map((pin) => (
                <tr key={pin.number} class={pin.net !== '' && pin.net === selection.value.net ? 'on' : ''}>
                  <td class="r">{pin.number}</td>
                  <td class="b">{pin.name}</td>
                  <td>
                    {pin.net === '' ? (
                      <span class="q">none</span>
                    ) : (
                      <button type="button" onClick={() => select({ net: pin.net })}>
                        {pin.net}
                      </button>
                    )}
                  </td>
                  <td>{pin.hole}</td>
                </tr>
              ))}
            </tbody>
          </table>
        )
      )}
    </div>
  );
}

function HolePanel({ name }: { name: string }) {
  const hole = useAsk('hole', { stage: stage.value, hole: name });
  if (hole === undefined) return <p>No board has a hole {name}.</p>;
  return (
    <div class="panel ruled" style={{ paddingTop: '8px' }}>
      <div class="head">
        <h2 class="name">{hole.hole}</h2>
        <p class="words">
          {hole.holds === '' ? 'Empty.' : `Holds ${hole.holds}.`}{' '}
          {hole.net === undefined ? 'Its strip carries no net.' : `Its strip carries ${hole.net}.`}{' '}
          {hole.free.length > 0 && (
            <>
              Free in the strip: <span class="m">{hole.free.join(', ')}</span>.
            </>
          )}
        </p>
      </div>
      <div class="acts">
        <button
          type="button"
          class="do"
          onClick={() =>
            void choose(hole.forbidden ? `allow ${name}` : `keep ${name} free`, {
              do: hole.forbidden ? 'allow' : 'forbid',
              hole: name,
            })
          }
        >
          {hole.forbidden ? 'allow it again' : 'keep it free'}
        </button>
        <button type="button" class="do" onClick={() => select({})}>
          let go
        </button>
      </div>
    </div>
  );
}

function StagePanel() {
  const answer = useAsk('stage', { stage: stage.value });
  const [diagram, setDiagram] = useState(false);
  const bus = useAsk('bus', diagram ? { stage: stage.value, net: undefined } : undefined);
  const info = model.value.stages.find((item) => item.number === stage.value);
  if (answer === undefined) return null;
  return (
    <div class="panel">
      {answer.stale !== undefined && (
        <p style={{ marginBottom: '8px' }}>
          <b>{answer.stale}</b> Lay it out again: what still fits stays where it is.
        </p>
      )}
      {answer.note !== '' && <p style={{ marginBottom: '8px' }}>{answer.note}</p>}
      <table>
        <thead>
          <tr>
            <th scope="col">
              what stage {stage.value}
              {info === undefined ? '' : `, ${info.name},`} changes
            </th>
            <th scope="col">
              <span class="vh">steps</span>
            </th>
            <th scope="col" class="r">
              state
            </th>
            <th scope="col" class="r">
              to cut
            </th>
          </tr>
        </thead>
        <tbody>
          {answer.rows.map((row) => (
            <tr key={row.group}>
              <td class={row.text === 'all done' ? 'b' : ''}>{row.group}</td>
              <td class="ticksrow">
                <GroupTicks marks={row.marks} />
              </td>
              <td class="r nowrap">{row.text}</td>
              <td class="r m nowrap">{row.cut}</td>
            </tr>
          ))}
        </tbody>
      </table>
      <div class="acts" style={{ marginTop: '10px' }}>
        {layState.value === undefined ? (
          <>
            <button type="button" class="do" onClick={() => startLay(false)}>
              lay out again
            </button>
            <button type="button" class="do" onClick={() => startLay(true)}>
              try another layout
            </button>
          </>
        ) : (
          <Progress />
        )}
        <button type="button" class="do" aria-pressed={diagram} onClick={() => setDiagram(!diagram)}>
          {diagram ? 'close the bus diagram' : 'bus diagram'}
        </button>
      </div>
      {diagram && bus !== undefined && <Drawing class="wide-figure" svg={bus} label="Bus diagram" />}
    </div>
  );
}

/** One mark per step, in the colour of its wire: broad done, thin to come, dashed out. */
function GroupTicks({ marks }: { marks: readonly { colour: string; state: string }[] }) {
  const step = marks.length > 24 ? 150 / marks.length : 6.4;
  return (
    <svg width="160" height="17" viewBox="0 0 160 17" aria-hidden="true">
      <path d={`M0 16H${Math.min(158, marks.length * step + 2)}`} stroke="var(--ink)" stroke-width="1" />
      {marks.map((mark, i) => {
        const x = 2 + i * step;
        const code = isWireCode(mark.colour) ? mark.colour : undefined;
        const colour =
          code === undefined ? 'var(--ink)' : mark.state === 'planned' ? `var(--p-${code})` : `var(--w-${code})`;
        const cased = code !== undefined && mark.state !== 'planned';
        const width = Math.min(mark.state === 'planned' ? 1.2 : 4, step * 0.7);
        return (
          <g key={i}>
            {cased && <path d={`M${x} 15.5V3`} stroke={`var(--k-${code})`} stroke-width={width + 1.4} />}
            <path
              d={`M${x} 15.5V3`}
              stroke={colour}
              stroke-width={width}
              {...(mark.state === 'out' ? { 'stroke-dasharray': '2.5 1.8' } : {})}
            />
          </g>
        );
      })}
    </svg>
  );
}

export function TitleBlock({ scale, isShort }: { scale: number; isShort: boolean }) {
  const answer = useAsk('stage', { stage: stage.value });
  const info = model.value.stages.find((item) => item.number === stage.value);
  if (answer === undefined) return null;
  const { built, planned, out, mm } = answer.wires;
  const bar = 20 * scale;
  return (
    <dl class={`block${isShort ? ' short' : ''}`} aria-label="Title block">
      <div>
        <dt class="lab">drawing</dt>
        <dd class="b">{answer.boards}</dd>
      </div>
      <div>
        <dt class="lab">as of</dt>
        <dd class="b">{info === undefined ? 'the empty bench' : `stage ${info.number}, ${info.name}`}</dd>
      </div>
      <div>
        <dt class="lab">wires</dt>
        <dd class="b">
          {built + planned}, {(mm / 1000).toFixed(1)} m cut
        </dd>
      </div>
      <div>
        <dt class="lab">20 mm</dt>
        <dd>
          <svg width={Math.min(130, bar + 2)} height="14" aria-hidden="true">
            <path
              d={`M1 1v12M1 7H${bar + 1}m0 -6v12M${1 + bar / 2} 4v6M${1 + bar / 4} 5v4M${1 + bar * 0.75} 5v4`}
              stroke="var(--ink)"
              fill="none"
            />
          </svg>
        </dd>
      </div>
      <div>
        <dt>
          <WireSample code="BU" state="built" />
        </dt>
        <dd>
          <b>{built}</b> built
        </dd>
      </div>
      <div>
        <dt>
          <WireSample code="BU" state="planned" />
        </dt>
        <dd>
          <b>{planned}</b> planned
        </dd>
      </div>
      <div>
        <dt>
          <WireSample code="BU" state="out" />
        </dt>
        <dd>
          <b>{out}</b> to take out
        </dd>
      </div>
      <div>
        <dt>
          <svg width="40" height="14" aria-hidden="true">
            <rect
              x=".5"
              y=".5"
              width="39"
              height="13"
              fill="none"
              stroke="var(--line)"
              stroke-dasharray="1 3"
              stroke-linecap="round"
            />
          </svg>
        </dt>
        <dd>a later stage</dd>
      </div>
    </dl>
  );
}
