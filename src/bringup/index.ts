// Bring-up: from what was measured to the wrong wire. The one door of this folder.

export type { Capture, CaptureChannel, ChannelMatch, MatchHow, Observed, ObservedNet } from './model.ts';
