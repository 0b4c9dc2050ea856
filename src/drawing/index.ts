export { type BoardsView, clearOfGutter, type Mark, renderBoards, wholeView } from './boards-drawing.ts';
export { type LaneField, type Lanes, type LaneWire, layLanes, type Point } from './lanes.ts';
export type { HolePlace, Places, Rect, Row } from './places.ts';
export { createPlaces } from './places.ts';
export {
  type Built,
  type BuildState,
  createScene,
  type Scene,
  type SceneInput,
  type ScenePart,
  type SceneWire,
} from './scene.ts';
export { DRAWING_CSS, pageStyle, standaloneStyle } from './style.ts';
export { escapeXml, fitMono, fitSans, monoWidth, sansWidth } from './text.ts';
export { COLOURS, FONTS, type Ground, isWireCode, WIRE_CODES, WIRE_NAMES, type WireCode, wireName } from './tokens.ts';
