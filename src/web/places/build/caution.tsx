// Before the power goes on, and before hands go in again: what must be so. Local rules come first.

import type { UiStep } from '../../protocol.ts';

/** Whether a step is done under power: what is measured, except continuity and rails, which are metered with it off. */
export function isPowerStep(step: UiStep): boolean {
  return step.do === 'measure' && step.group === 'proofs';
}

const ON = [
  'Local electrical rules come first, and for mains work a licensed person. Use an isolated, current-limited supply, and never open a mains one.',
  'Before a chip goes in: measure the polarity at its rails with a meter.',
  'Look once more for electrolytic capacitors the wrong way round and for chips with pin 1 at the wrong end.',
  'Never join a USB supply and a bench supply.',
  'Set the current limit first. Switch on with a hand at the switch: a chip that is hot to the touch is reversed or fights another, so switch off.',
];
const OFF = [
  'Switch the supply off and wait until the rails read under 0.1 V (common practice, no source).',
  'Take off every other supply too: a chip without its own feeds itself through its inputs.',
  'Discharge yourself before you touch CMOS parts.',
];

export function Caution({ on, stage, next }: { on: boolean; stage: string; next: string }) {
  return (
    <>
      <div class="said">
        <h2>{on ? `Power on for ${stage}` : 'Power off before hands go in'}</h2>
        <p>Then: {next}</p>
      </div>
      {/* biome-ignore lint/a11y/noNoninteractiveTabindex: it scrolls where the window is low */}
      <section class="caution" aria-label="Cautions" tabIndex={0}>
        <h2>{on ? 'First make sure' : 'Before you go on'}</h2>
        <ul>
          {(on ? ON : OFF).map((text) => (
            <li key={text}>{text}</li>
          ))}
        </ul>
      </section>
      <div style={{ flex: 1 }} />
    </>
  );
}
