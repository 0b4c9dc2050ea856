// Every code of this engine: how bad, and one line of what it means. The pages in docs/findings say more; a test keeps them in step.

import type { Severity } from '../base/index.ts';

export const MARGINS_CODES: Readonly<Record<string, { readonly severity: Severity; readonly title: string }>> = {
  'margins/negative': {
    severity: 'warning',
    title: 'A part is given less time than its maker asks for',
  },
  'margins/thin': {
    severity: 'note',
    title: 'A time is kept with less than 5 ns left',
  },
  'margins/unknown-arc': {
    severity: 'warning',
    title: 'A figure that a margin rests on is not known, so the margin is not known either',
  },
  'margins/cycles-not-covered': {
    severity: 'warning',
    title: 'The bus cycles of this processor, or of this mode, are not worked out',
  },
  'margins/clock-too-slow': {
    severity: 'warning',
    title: 'The clock is slower than the processor can stand',
  },
  'margins/level': {
    severity: 'warning',
    title: 'An output does not reach the level that an input asks for',
  },
  'margins/overload': {
    severity: 'warning',
    title: 'An output has to drive more than it promises',
  },
  'margins/unknown-level': {
    severity: 'note',
    title: 'A figure of levels or loads is not known',
  },
  'margins/supply-limit': {
    severity: 'warning',
    title: 'The parts may draw more than the supply gives',
  },
  'margins/rail-drop': {
    severity: 'warning',
    title: 'Rails, wires and contacts lose so much that a chip gets less than its least supply',
  },
  'margins/supply-setting': {
    severity: 'note',
    title: 'The supply may not be set to its lowest, since the boards lose some of it',
  },
  'margins/not-fed': {
    severity: 'warning',
    title: 'As wired, no way leads from the supply to a chip',
  },
  'margins/ringing': {
    severity: 'note',
    title: 'By estimate a clock or strobe rings so far that an edge may count twice',
  },
  'margins/bypass': {
    severity: 'note',
    title: 'A bypass capacitor is missing, too small or too far from its chip',
  },
  'margins/bulk': {
    severity: 'note',
    title: 'The boards have less bulk capacitance than is usual for their current',
  },
  'margins/serial-rate': {
    severity: 'warning',
    title: 'No usual bit rate comes out of the clock of a serial port',
  },
  'margins/crystal-load': {
    severity: 'note',
    title: 'A crystal sees another load capacitance than it is cut for',
  },
  'margins/supervisor-low': {
    severity: 'warning',
    title: 'The supervisor may let the machine run below the least supply of a part',
  },
};
