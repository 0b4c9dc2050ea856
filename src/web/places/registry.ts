// The places there are. One more is one more folder here, with its registration in the list; nothing else has to know it.

import type { ComponentType } from 'preact';

export interface Place {
  readonly id: string;
  readonly title: string;
  readonly View: ComponentType;
  /** Counts beside the title, by shape. */
  readonly Count?: ComponentType;
  /** True where it stands apart from the others, behind a rule. */
  readonly apart?: boolean;
  /** True where it fills the window, with a frame of its own. */
  readonly full?: () => boolean;
}
