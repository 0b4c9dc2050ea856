export { makeLightFirmware } from './light.ts';
export { makeTideFirmware } from './tide.ts';
export type { Harbour } from './tide-data.ts';
export { HARBOURS, TIDE_PERIODS_HOURS, TIDE_STEP_MINUTES } from './tide-data.ts';
