// Harbours of the tide clerk. Places and figures are invented: no table for any shore. The form is the usual one, a mean
// level and a sum of harmonics; the periods are the astronomical ones.

/** One harbour: heights in centimetres, phases in degrees at midnight of day one. */
export interface Harbour {
  readonly name: string;
  readonly mean: number;
  /** Amplitude and phase of each harmonic, in the order of TIDE_PERIODS_HOURS. Amplitudes add up to 250 at most. */
  readonly harmonics: readonly (readonly [amplitude: number, phase: number])[];
}

/** Periods of the principal lunar and solar semidiurnal and of the lunisolar diurnal tide, hours. */
export const TIDE_PERIODS_HOURS = [12.4206, 12, 23.9345] as const;

/** Harbour 1 to 8, by switch. */
export const HARBOURS: readonly Harbour[] = [
  {
    name: 'OLD QUAY',
    mean: 310,
    harmonics: [
      [152, 40],
      [51, 95],
      [14, 200],
    ],
  },
  {
    name: 'SLUICE',
    mean: 280,
    harmonics: [
      [140, 72],
      [44, 120],
      [16, 215],
    ],
  },
  {
    name: 'NORTH MOLE',
    mean: 335,
    harmonics: [
      [168, 15],
      [56, 70],
      [12, 190],
    ],
  },
  {
    name: 'FERRY STEPS',
    mean: 240,
    harmonics: [
      [118, 110],
      [37, 160],
      [18, 230],
    ],
  },
  {
    name: 'LANTERN ROCK',
    mean: 360,
    harmonics: [
      [171, 350],
      [58, 45],
      [11, 170],
    ],
  },
  {
    name: 'SAND BAR',
    mean: 205,
    harmonics: [
      [96, 140],
      [29, 190],
      [21, 250],
    ],
  },
  {
    name: 'MILL DAM',
    mean: 180,
    harmonics: [
      [80, 175],
      [24, 225],
      [22, 265],
    ],
  },
  {
    name: 'REED CREEK',
    mean: 150,
    harmonics: [
      [62, 205],
      [18, 260],
      [24, 280],
    ],
  },
];
/** Minutes between two heights that the firmware works out. */
export const TIDE_STEP_MINUTES = 10;
