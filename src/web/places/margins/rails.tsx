// Supply: the current stage by stage against the limit, what the boards lose on the way to each chip, drawn on the boards, where
// further feeds help; and from what the meter shows to the contact that is bad.

import { useState } from 'preact/hooks';
import { Drawing } from '../../frame/marks.tsx';
import type { MarginsAnswer } from '../../protocol.ts';
import { engine } from '../../state/session.ts';
import { isNarrow, select, selection, size, stage } from '../../state/store.ts';
import { useAsk } from '../../state/use-ask.ts';
import { figure } from './words.ts';

const volts = (value: number | null): string => (value === null ? 'nothing' : value.toFixed(2));

export function Rails({ answer }: { answer: MarginsAnswer }) {
  const width = Math.max(600, size.value.width - (isNarrow.value ? 60 : 560));
  const picture = useAsk('railPicture', answer.hasRails ? { stage: answer.stage, width } : undefined);
  const most = Math.max(1, ...answer.supply.map((item) => Math.max(item.max, item.limit ?? 0)));
  return (
    <div class="mg-supply">
      <div>
        {answer.drops.map((drop) => (
          <div key={drop.supply} class="mg-drop">
            <p>{drop.text}</p>
            {drop.setting !== undefined && <p>{drop.setting}</p>}
            {drop.proposal !== undefined && <p class="b">{drop.proposal}</p>}
            {drop.unknown.length > 0 && (
              <p class="q">Not counted, since nobody prints what they draw: {drop.unknown.join(', ')}.</p>
            )}
          </div>
        ))}
        {!answer.hasRails && (
          <div class="empty" style={{ padding: 0 }}>
            <h2>Nothing is laid out yet.</h2>
            <p>What the rails lose is worked out from holes and wires. Lay the machine out in Boards first.</p>
          </div>
        )}
        {picture !== undefined && (
          <>
            {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls where the window is narrow */}
            <section class="mg-scroll" tabIndex={0} aria-label="What is lost along the rails, on the boards">
              <Drawing svg={picture.svg} />
            </section>
            <p class="q s">
              A wedge on a rail is as wide as what is lost up to there: the widest is {picture.widestMv} mV. Discs:
              where the supply enters; rings: where it could enter as well. At greatest currents, the supply as stated.
            </p>
          </>
        )}
      </div>
      <div>
        <h2>Current, stage by stage</h2>
        <table>
          <thead>
            <tr>
              <th scope="col">stage</th>
              <th scope="col" class="r">
                typical mA
              </th>
              <th scope="col" class="r">
                at most
              </th>
              <th scope="col">
                <span class="vh">on a rule</span>
              </th>
            </tr>
          </thead>
          <tbody>
            {answer.supply.map((item) => (
              <tr key={item.stage} class={item.stage === answer.stage ? 'on' : ''}>
                <td>
                  {item.stage} {item.name}
                  {item.unknown.length > 0 && <span class="q s"> and {item.unknown.join(', ')}, not known</span>}
                </td>
                <td class="m r">{item.typ}</td>
                <td class="m r b">{item.max}</td>
                <td style={{ width: '90px' }}>
                  <svg width="86" height="12" viewBox="0 0 86 12" aria-hidden="true">
                    <path d="M.5 2V11M85.5 2V11M0 11H86" stroke="var(--line)" fill="none" />
                    <path d={`M0 8H${(86 * item.max) / most}`} stroke="var(--ink)" stroke-width="4" />
                    {item.limit !== null && (
                      <path d={`M${(86 * item.limit) / most - 0.5} 0V12`} stroke="var(--ink)" stroke-width="1.5" />
                    )}
                  </svg>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
        {answer.drops.map((drop) => (
          <div key={drop.supply}>
            <h2>At the chips’ pins, {drop.supply}</h2>
            <table>
              <thead>
                <tr>
                  <th scope="col">chip</th>
                  <th scope="col">meter at</th>
                  <th scope="col" class="r">
                    typical V
                  </th>
                  <th scope="col" class="r">
                    least
                  </th>
                  <th scope="col" class="r">
                    from
                  </th>
                </tr>
              </thead>
              <tbody>
                {drop.chips.map((chip) => (
                  <tr key={chip.part} class={selection.value.part === chip.part ? 'on' : ''}>
                    <td>
                      <button type="button" class="m" onClick={() => select({ part: chip.part })}>
                        {chip.part}
                      </button>
                    </td>
                    <td class="m s">
                      {chip.plus} {chip.ground}
                    </td>
                    <td class="m r">{volts(chip.typVolts)}</td>
                    <td
                      class={`m r b${chip.volts === null || (chip.needs !== null && chip.volts < chip.needs) ? ' fault' : ''}`}
                    >
                      {volts(chip.volts)}
                    </td>
                    <td class="m r">{chip.needs === null ? '' : figure(chip.needs)}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        ))}
        {answer.hasRails && <Meter />}
      </div>
    </div>
  );
}

function Meter() {
  const [text, setText] = useState('');
  const [said, setSaid] = useState('');
  const ask = (): void => {
    void engine.ask('suspects', { stage: stage.value, text }).then(setSaid);
  };
  return (
    <form
      onSubmit={(event) => {
        event.preventDefault();
        ask();
      }}
    >
      <h2>What does the meter show?</h2>
      <label class="lab" for="mg-readings">
        PART=VOLTS across its supply pins, PART.PIN=VOLTS for one pin against the supply’s ground
      </label>
      <input
        id="mg-readings"
        class="m"
        value={text}
        placeholder="ROM=4.61 CPU.GND=0.12"
        onInput={(event) => setText((event.target as HTMLInputElement).value)}
      />
      <button type="submit" class="do">
        which contact is it?
      </button>
      <div role="status">
        {said
          .split('\n')
          .filter((line) => line !== '')
          .map((line) => (
            <p key={line}>{line.replace(/^\s*-\s*/, '')}</p>
          ))}
      </div>
    </form>
  );
}
