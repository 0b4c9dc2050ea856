// All steps as a list: what was done last, where the work is, what is left by group.

import type { PlanAnswer, UiStep } from '../../protocol.ts';

export function StepList({ plan }: { plan: PlanAnswer }) {
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
