// Before the power goes on: the stage's card, with what to mind, where to set the limit and what to expect. Before hands go in
// again: that it is off. Local rules come first.

import type { UiStep } from '../../protocol.ts';
import { useAsk } from '../../state/use-ask.ts';

/** Whether a step is done under power: the rails before any chip is in, and the proofs of a stage; the meter plan is not. */
export function isPowerStep(step: UiStep): boolean {
  return step.do === 'measure' && (step.group === 'proofs' || step.group === 'rails check');
}

const OFF = [
  'Switch the supply off and wait until the rails read under 0.1 V (common practice, no source).',
  'Take off every other supply too: a chip without its own feeds itself through its inputs.',
  'Discharge yourself before you touch CMOS parts.',
];

export function Caution({ on, stage, number, next }: { on: boolean; stage: string; number: number; next: string }) {
  const card = useAsk('card', on ? { stage: number } : undefined);
  return (
    <>
      <div class="said">
        <h2>{on ? `Power on for ${stage}` : 'Power off before hands go in'}</h2>
        {on && card !== undefined && (
          <>
            {card.supplies.map((text) => (
              <p key={text} class="b">
                {text}
              </p>
            ))}
            <p>{card.limit}</p>
            <p>{card.expected}</p>
          </>
        )}
        <p>Then: {next}</p>
      </div>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls where the window is low */}
      <section class="caution" aria-label="Cautions" tabIndex={0}>
        <h2>{on ? 'First make sure' : 'Before you go on'}</h2>
        <ul>
          {(on ? (card?.cautions ?? []) : OFF).map((text) => (
            <li key={text}>{text}</li>
          ))}
        </ul>
        {on && card !== undefined && card.ifNot.length > 0 && (
          <>
            <h2>If it is not so</h2>
            <ul>
              {card.ifNot.map(({ seen, remedy }) => (
                <li key={seen}>
                  {seen}: {remedy}
                </li>
              ))}
            </ul>
          </>
        )}
      </section>
      <div style={{ flex: 1 }} />
    </>
  );
}
