export type { BoardChoice, FixedPlace, LayoutChoices } from './choices.ts';
export { NO_CHOICES } from './choices.ts';
export type { ChoiceEdit } from './choices-file.ts';
export { editChoices, readChoices } from './choices-file.ts';
export { BoardsFileSchema } from './choices-schema.ts';
export type { ExtractedNode, ExtractedPin, Extraction } from './extract.ts';
export { compareWithNetlist, extract, proveLayout } from './extract.ts';
export { FEED_MA, worstCurrent } from './feeds.ts';
export type { Box, Footprint, FootLead, Rotation } from './footprint.ts';
export { footprintOf, turned } from './footprint.ts';
export type { BoardKind, Grid, HoleAddress } from './geometry.ts';
export {
  BOARD_KINDS,
  createGrid,
  FIRST_COLUMN_MM,
  FIRST_ROW_MM,
  findBoardKind,
  formatHole,
  hasHole,
  isRailRow,
  PITCH_MM,
  parseHole,
  placeOfHole,
  ROWS,
  stripOfHole,
} from './geometry.ts';
export type { LayOptions } from './lay.ts';
export { lay } from './lay.ts';
export { printLayout, readLayout } from './layout-file.ts';
export type {
  CrimpedLead,
  Exchange,
  HoleName,
  Layout,
  PlacedBoard,
  PlacedLead,
  PlacedPart,
  StripId,
  Wire,
  WireStyle,
} from './model.ts';
export { layoutAt } from './model.ts';
export type { TreeResult, TreeStrip, TreeWire } from './net-tree.ts';
export { solveTree } from './net-tree.ts';
export type { FreedomKind } from './exchange.ts';
export { exchangePins, freedomsOf } from './exchange.ts';
export type { LayoutEditor, Move, MoveResult } from './edit.ts';
export { openEditor, rewire } from './edit.ts';
export { BOARD_CODES } from './codes.ts';
export { placementCost, wiringTotals } from './measure.ts';
export type { CutList, CutRow } from './cut-list.ts';
export { cutListOf } from './cut-list.ts';
