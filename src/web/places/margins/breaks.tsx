// What breaks first: for a rising clock, a falling supply and a slow part, in the order they come, with what is seen then; and
// everything that was found doubtful.

import { Triangle } from '../../frame/marks.tsx';
import type { BreakUi, MarginsAnswer } from '../../protocol.ts';
import { showText } from '../../state/store.ts';
import { megahertz } from './words.ts';

export function Breaks({ answer }: { answer: MarginsAnswer }) {
  const never = answer.breaks.clock.filter((item) => item.at === 0);
  const rising = answer.breaks.clock.filter((item) => item.at > 0);
  return (
    <div class="mg-breaks">
      <div>
        {never.length > 0 && (
          <>
            <h2>At any clock</h2>
            <Steps list={never} at={() => 'now'} />
          </>
        )}
        <h2>As the clock rises{answer.clockHz === null ? '' : ` from ${megahertz(answer.clockHz)}`}</h2>
        {rising.length === 0 ? (
          <p class="q">Nothing is known that depends on the clock.</p>
        ) : (
          <Steps list={rising.slice(0, 8)} at={(item) => megahertz(item.at)} />
        )}
        <h2>As the supply falls</h2>
        {answer.breaks.supply.length === 0 ? (
          <p class="q">No least supply is known.</p>
        ) : (
          <Steps list={answer.breaks.supply.slice(0, 8)} at={(item) => `${item.at} V`} />
        )}
        <h2>If one part is slower than printed</h2>
        {answer.breaks.slower.length === 0 ? (
          <p class="q">Nothing is known.</p>
        ) : (
          <Steps list={answer.breaks.slower.slice(0, 8)} at={(item) => `${Math.round(item.at)} %`} />
        )}
      </div>
      <div>
        <h2>Found on the way</h2>
        {answer.findings.length === 0 && <p class="q">Nothing negative, thin or unknown.</p>}
        {answer.findings.map((finding) => {
          const where = finding.where[0];
          return (
            <article class="mg-found" key={finding.id}>
              <h3>
                {finding.severity === 'warning' && (
                  <span class="doubt">
                    <Triangle />
                    <span class="vh">warning</span>{' '}
                  </span>
                )}
                {finding.message}
              </h3>
              {finding.notes.map((note) => (
                <p key={note.text} class="q">
                  {note.text}
                </p>
              ))}
              {finding.help !== undefined && <p>{finding.help}</p>}
              {where !== undefined && (
                <button type="button" class="do" onClick={() => showText(where)}>
                  line {where.line}
                </button>
              )}
            </article>
          );
        })}
      </div>
    </div>
  );
}

function Steps({ list, at }: { list: readonly BreakUi[]; at: (item: BreakUi) => string }) {
  return (
    <ol class="mg-steps">
      {list.map((item) => (
        <li key={`${item.at} ${item.what} ${item.symptom}`}>
          <span class="m b">{at(item)}</span>
          <span>
            <b>{item.what}</b>
            <br />
            {item.symptom}
          </span>
        </li>
      ))}
    </ol>
  );
}
