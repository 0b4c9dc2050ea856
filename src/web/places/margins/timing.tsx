// Bus cycles: the drawing of one with its slack, every path in the order they give out, and the clock to move. Below, the other
// budgets as marks on their rules.

import { useEffect, useState } from 'preact/hooks';
import { Drawing } from '../../frame/marks.tsx';
import type { MarginsAnswer, TimingUi } from '../../protocol.ts';
import { engine } from '../../state/session.ts';
import { isNarrow, isPhone, select, size, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import { ClockRule } from './clock-rule.tsx';
import { megahertz } from './words.ts';

interface Props {
  readonly answer: MarginsAnswer;
  readonly show: (view: 'levels' | 'supply' | 'breaks') => void;
}

export function Timing({ answer, show }: Props) {
  const [cycle, setCycle] = useState<string | undefined>(undefined);
  const [target, setTarget] = useState<string | undefined>(undefined);
  const [clockHz, setClockHz] = useState<number | undefined>(undefined);
  const [moved, setMoved] = useState<readonly TimingUi[] | undefined>(undefined);
  useEffect(() => {
    if (clockHz === undefined) {
      setMoved(undefined);
      return;
    }
    let isLate = false;
    const due = setTimeout(() => {
      void engine.ask('clockAt', { stage: stage.value, clockHz }).then((rows) => {
        if (!isLate) setMoved(rows);
      });
    }, 40);
    return () => {
      isLate = true;
      clearTimeout(due);
    };
  }, [clockHz, answer]);

  const rows = moved ?? answer.rows;
  const first = answer.rows.find((row) => row.cycle !== 'clock' && row.marginNs !== null) ?? answer.rows[0];
  const names = answer.cycles.map((item) => item.cycle);
  const chosen =
    cycle !== undefined && names.includes(cycle) ? cycle : first?.cycle !== 'clock' ? first?.cycle : names[0];
  const targets = answer.cycles.find((item) => item.cycle === chosen)?.targets ?? [];
  const part =
    target !== undefined && targets.includes(target) ? target : cycle === undefined ? first?.target : undefined;
  const width = isPhone.value ? 760 : Math.max(620, Math.min(1120, size.value.width - (isNarrow.value ? 48 : 500)));
  const svg = useAsk(
    'cycle',
    chosen === undefined
      ? undefined
      : { stage: answer.stage, cycle: chosen, target: part, clockHz, width, most: size.value.height < 1150 ? 3 : 6 },
  );
  if (answer.processor === null)
    return (
      <div class="empty">
        <h2>No processor yet.</h2>
        <p>Bus cycles are worked out from the stage on that puts it in. Levels, loads and supply are there now.</p>
      </div>
    );
  if (answer.rows.length === 0)
    return (
      <div class="empty">
        <h2>The bus cycles of {answer.processor} are not worked out.</h2>
        <p>Nothing is said of its timing, neither good nor bad.</p>
      </div>
    );
  const pick = (row: TimingUi): void => {
    if (row.cycle === 'clock') return;
    setCycle(row.cycle);
    setTarget(row.target);
    select({ part: row.target });
  };
  return (
    <div class="mg-timing">
      <div class="mg-drawing">
        <div class="mg-hd">
          <h2>
            {chosen}
            {part === undefined ? '' : ` with ${part}`}
          </h2>
          {names
            .filter((name) => name !== chosen)
            .map((name) => (
              <button
                type="button"
                class="do"
                key={name}
                onClick={() => {
                  setCycle(name);
                  setTarget(part);
                }}
              >
                {name}
              </button>
            ))}
          <span class="mg-targets">
            {targets
              .filter((name) => name !== part)
              .map((name) => (
                <button
                  type="button"
                  class="do m"
                  key={name}
                  onClick={() => {
                    setCycle(chosen);
                    setTarget(name);
                  }}
                >
                  {name}
                </button>
              ))}
            {part !== undefined && (
              <button
                type="button"
                class="do"
                onClick={() => {
                  setCycle(chosen);
                  setTarget(undefined);
                }}
              >
                all parts
              </button>
            )}
          </span>
        </div>
        {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls where the window is narrow */}
        <section class="mg-scroll" tabIndex={0} aria-label="The cycle, drawn">
          {svg === undefined ? <p class="q">Drawing it.</p> : <Drawing svg={svg} />}
        </section>
        <p class="q s">Worst case of each part as its maker prints it. {answer.assumptions.join(' ')}</p>
      </div>
      <div class="mg-paths">
        <h2>Every path, in the order they give out</h2>
        {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it */}
        <section class="mg-table" tabIndex={0} aria-label="Every path">
          <table>
            <thead>
              <tr>
                <th scope="col">cycle and path</th>
                <th scope="col" class="r">
                  has ns
                </th>
                <th scope="col" class="r">
                  needs
                </th>
                <th scope="col" class="r">
                  left
                </th>
                <th scope="col" class="r">
                  runs to
                </th>
              </tr>
            </thead>
            <tbody>
              {rows.map((row) => (
                <Row
                  key={`${row.cycle} ${row.target} ${row.check}`}
                  row={row}
                  isOn={row.cycle === chosen && row.target === part}
                  pick={pick}
                />
              ))}
            </tbody>
          </table>
        </section>
      </div>
      <ClockRule answer={answer} clockHz={clockHz} setClock={setClockHz} />
      <Budgets answer={answer} show={show} />
    </div>
  );
}

function Row({ row, isOn, pick }: { row: TimingUi; isOn: boolean; pick: (row: TimingUi) => void }) {
  const isBad = row.marginNs !== null && row.marginNs < 0;
  return (
    <tr class={`${isOn ? 'on' : ''}${isBad ? ' bad' : ''}`}>
      <td>
        <button type="button" onClick={() => pick(row)} title={row.path}>
          <span class={isOn ? '' : 'q'}>{row.cycle}</span> <span class="m">{row.target}</span>
          <br />
          <span class="m s">{row.check}</span>
          {row.marginNs === null && <span class="q s"> not known: {row.path}</span>}
          {row.tracks && <span class="q s"> if outputs of one chip go together</span>}
        </button>
      </td>
      <td class="m r">{row.availableNs ?? ''}</td>
      <td class="m r">{row.requiredNs ?? ''}</td>
      <td class={`m r b${isBad ? ' fault' : ''}`}>{row.marginNs ?? '?'}</td>
      <td class="m r nowrap">
        {row.marginNs === null ? '?' : row.maxHz === null ? 'any' : row.maxHz === 0 ? 'none' : megahertz(row.maxHz)}
      </td>
    </tr>
  );
}

function Rule({ share, marks = 4 }: { share: number; marks?: number }) {
  const at = Math.max(0, Math.min(1, share)) * 300;
  const ticks = Array.from({ length: marks + 1 }, (_, k) => `M${(300 * k) / marks} ${k % marks === 0 ? 3 : 9}V15`).join(
    '',
  );
  return (
    <svg width="100%" height="18" viewBox="-1 0 302 18" preserveAspectRatio="none" aria-hidden="true">
      <path d={`${ticks}M0 15H300`} stroke="var(--line)" fill="none" vector-effect="non-scaling-stroke" />
      <path d={`M0 12.5H${at.toFixed(1)}`} stroke={share > 1 ? 'var(--fault)' : 'var(--ink)'} stroke-width="5" />
    </svg>
  );
}

function Budgets({ answer, show }: Props) {
  const loaded = answer.nets
    .flatMap((net) =>
      net.pf === null
        ? []
        : net.drivers.map((driver) => ({ net: net.net, pf: net.pf!, driver, test: driver.testLoadPf })),
    )
    .filter((item) => item.test !== null)
    .sort((a, b) => b.pf / b.test! - a.pf / a.test!)[0];
  const level = answer.nets.filter((net) => net.worst !== null).sort((a, b) => a.worst! - b.worst!)[0];
  const now = answer.supply.at(-1);
  const drop = answer.drops.filter((item) => item.lostMv !== null).sort((a, b) => b.lostMv! - a.lostMv!)[0];
  return (
    <div class="mg-budgets">
      <h2>The other budgets</h2>
      {loaded !== undefined && (
        <button type="button" onClick={() => show('levels')}>
          Load <b>{Math.round(loaded.pf)} pF</b>{' '}
          <span class="q">
            of {loaded.test}, <span class="m">{loaded.net}</span> at <span class="m">{loaded.driver.driver}</span>
          </span>
          <Rule share={loaded.pf / loaded.test!} />
        </button>
      )}
      {level !== undefined && (
        <button type="button" onClick={() => show('levels')}>
          Levels <b>{level.worst} V to spare</b>{' '}
          <span class="q">
            <span class="m">{level.net}</span>, {level.worstAt}
          </span>
          <Rule share={Math.max(0, level.worst!) / 1.6} />
        </button>
      )}
      {now !== undefined && (
        <button type="button" onClick={() => show('supply')}>
          Current <b>{now.max} mA</b>{' '}
          <span class="q">
            {now.limit === null ? 'at most' : `of ${now.limit}`}
            {now.unknown.length > 0 && `, ${now.unknown.length} not known`}
          </span>
          <Rule share={now.limit === null ? 0 : now.max / now.limit} />
        </button>
      )}
      {drop !== undefined && (
        <button type="button" onClick={() => show('supply')}>
          Rail drop <b>{drop.lostMv} mV</b>{' '}
          <span class="q">
            of 250, to <span class="m">{drop.lowest}</span>
          </span>
          <Rule share={drop.lostMv! / 250} />
        </button>
      )}
    </div>
  );
}
