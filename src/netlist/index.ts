export { NETLIST_CODES } from './codes.ts';
export type {
  Design,
  Implied,
  LeadHook,
  MapRegion,
  Net,
  NetClass,
  Netlist,
  NetPart,
  NetPin,
  Origin,
  DeviceOutput,
  DevicePlan,
  StageInfo,
} from './model.ts';
export { netlistAt } from './model.ts';
export { elaborate } from './elaborate/elaborate.ts';
export type { NetlistView, NetView, ResistorLink } from './view.ts';
export { viewOf } from './view.ts';
