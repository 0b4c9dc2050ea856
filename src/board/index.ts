export type { HoleName, Layout, PlacedBoard, PlacedLead, PlacedPart, StripId, Wire, WireStyle } from './model.ts';
export { layoutAt } from './model.ts';
