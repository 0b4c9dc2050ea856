// What to measure: before anything, next, and what a passed proof has covered.

export { type ChannelChoice, chooseChannels, type Coverage, coverageOf, shownBy } from './coverage.ts';
export { type Dictionary, type Level, LEVELS, makeDictionary, probeNets, type Showing } from './dictionary.ts';
export { type Answer, COSTS, keyOf, type Measurement, measurementText, readAnswer } from './measure.ts';
export { GuidedSession, type LikelyPlace, type Suggestion } from './session.ts';
