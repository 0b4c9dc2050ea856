// All steps as a list: what was done last, where the work is, what is left by group.

import { useMemo } from 'preact/hooks';
import type { PlanAnswer, UiStep } from '../../protocol.ts';
import { useAsk } from '../../state/use-ask.ts';

export function StepList({ plan }: { plan: PlanAnswer }) {
  const now = useMemo(() => new Date().toISOString(), []);
  const where = useAsk('where', { now });
  const last = plan.before.slice(0, 6).toReversed();
  const groups: { name: string; steps: UiStep[] }[] = [];
  for (const step of plan.steps) {
    const name = `Stage ${step.stage}, ${step.stageName}: ${step.group}`;
    if (groups.at(-1)?.name === name) groups.at(-1)!.steps.push(step);
    else groups.push({ name, steps: [step] });
  }
  let count = 0;
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls, so keys must reach it
    <section class="list" tabIndex={0} aria-label="Steps">
      {where !== undefined && where.length > 0 && (
        <>
          <h2>Where was I?</h2>
          {where.map((text) => (
            <p key={text}>{text}</p>
          ))}
        </>
      )}
      {plan.problem !== undefined && <p>{plan.problem}</p>}
      {last.length > 0 && (
        <>
          <h2>Done last</h2>
          <ol>
            {last.map((step) => (
              <li key={step.id}>
                <span>in</span>
                <span>{step.text}</span>
                <span class="m q">{step.id}</span>
              </li>
            ))}
          </ol>
        </>
      )}
      {groups.map((group) => (
        <div key={group.name}>
          <h2>
            {group.name}, {group.steps.length}
          </h2>
          <ol>
            {group.steps.map((step) => {
              count++;
              return (
                <li key={step.id} class={count === 1 ? 'now' : ''}>
                  <span class="r">{count}</span>
                  <span>{step.text}</span>
                  <span class="m">{step.id}</span>
                </li>
              );
            })}
          </ol>
        </div>
      ))}
    </section>
  );
}
