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
  SelectPlan,
  StageInfo,
} from './model.ts';
export { netlistAt } from './model.ts';
