export {
  type AddressBlock,
  type AddressMapView,
  type AddressScale,
  addressBlocks,
  addressMapDrawing,
  addressScale,
  blockText,
  type Stretch,
} from './address-map.ts';
export { type BoardsView, clearOfGutter, type Mark, renderBoards, wholeView } from './boards-drawing.ts';
export { type CycleView, cycleDrawing } from './cycle.ts';
export { compactValue } from './parts-drawing.ts';
export { type BusDiagramView, bitRange, busDiagram } from './bus-diagram.ts';
export { type LaneField, type Lanes, type LaneWire, layLanes, type Point } from './lanes.ts';
export { type NetLineView, netLine } from './net-line.ts';
export { type RailDropView, railDropDrawing, widestDropMv } from './rail-drop.ts';
export { createNetTree, type NetTree, type Station } from './net-tree.ts';
export { onBoards } from './on-boards.ts';
export { type PinCardView, pinCard } from './pin-card.ts';
export type { BoardPlace, HolePlace, Places, Rect, Row, StripPlace } from './places.ts';
export { createPlaces, nearestHole } from './places.ts';
export {
  type Built,
  type BuildState,
  createScene,
  type Scene,
  type SceneInput,
  type SceneLead,
  type ScenePart,
  type SceneWire,
} from './scene.ts';
export { countWires, renderSheet, type SheetView, titleBlock } from './sheet.ts';
export {
  frontsOf,
  lozenge,
  type StageLineView,
  type StageSteps,
  type StepMark,
  stageLine,
  stageTicks,
  type TickOptions,
} from './stage-line.ts';
export {
  type DrawingBox,
  drawingBox,
  paintDrawing,
  type PaintFont,
  type Painter,
  type PathPaint,
  type TextPaint,
} from './paint.ts';
export { type ChipLabel, chipLabels } from './labels.ts';
export { pinsAt, type StepView, stepView } from './step-view.ts';
export { DRAWING_CSS, pageStyle, standaloneStyle } from './style.ts';
export { escapeXml, fitMono, fitSans, monoWidth, sansWidth } from './text.ts';
export { COLOURS, FONTS, type Ground, isWireCode, WIRE_CODES, WIRE_NAMES, type WireCode, wireName } from './tokens.ts';
export { roundedPath, wireTitle } from './wires-drawing.ts';
