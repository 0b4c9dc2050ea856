// Which model a record's `behaviour.model` names, made for one part and what surrounds it. Processors come from their own table.

import { foldName } from '../../base/index.ts';
import { expandPins, pinsNamed } from '../../parts/index.ts';
import type { SimCode } from '../codes.ts';
import type { SimContents, SimPart } from '../model.ts';
import { PROCESSOR_MODELS } from '../processors/pins.ts';
import { aciaModel } from './acia-6850.ts';
import { displayModel } from './character-display.ts';
import { type MemoryOptions, memoryModel } from './memory.ts';
import type { PartModel } from './model.ts';
import { astableModel, monostableModel, oneShotModel } from './one-shot.ts';
import { piaModel } from './pia-6821.ts';
import { ppiModel } from './ppi-8255.ts';
import { supervisorModel } from './supervisor.ts';
import type { Surroundings } from './surroundings.ts';
import { terminalModel } from './terminal.ts';
import { timerModel } from './timer-8254.ts';
import { uartModel } from './uart.ts';
import { usartModel } from './usart-8251.ts';
import { viaModel } from './via-6522.ts';
import { writingOf, writtenMemoryModel } from './written-memory.ts';
import { ctcModel } from './z80-ctc.ts';
import { pioModel } from './z80-pio.ts';
import { sioModel } from './z80-sio.ts';

export interface ModelProblem {
  readonly code: SimCode;
  readonly message: string;
  readonly why: string;
  readonly help: string;
}

interface Found {
  /** One, or one for each unit that is on its own; none where there is no such model. */
  readonly models: readonly PartModel[];
  readonly problems: readonly ModelProblem[];
}

type Maker = (part: SimPart, around: Surroundings) => Found | PartModel | undefined;

const MODELS: Readonly<Record<string, Maker>> = {
  supervisor: (part, around) => supervisorModel(part.record, around.railOf('TD')),
  '16550': () => uartModel({ buffers: true }),
  '16450': () => uartModel({ buffers: false }),
  '6850': () => aciaModel(),
  'z80-ctc': () => ctcModel(),
  '8251': () => usartModel(),
  '8254': (part) => timerModel({ readsBack: foldName(part.record.part) !== '8253' }),
  '8255': () => ppiModel(),
  '6821': () => piaModel(),
  '6522': () => viaModel(),
  'z80-pio': () => pioModel(),
  'z80-sio': (part) => sioModel((pin) => pinsNamed(part.record, pin).length > 0),
  'character-display': () => displayModel(),
  'one-shot': oneShotsOf,
  timer: timerOf,
};

/** The models of a part with a model in code, and what is wrong with what it holds or hangs on. */
export function modelFor(part: SimPart, contents: SimContents, around: Surroundings): Found {
  if (part.record.category === 'memory') return memoryOf(part, contents, around);
  if (part.record.category === 'connector') return { models: [terminalModel(part.record)], problems: [] };
  const name = foldName(part.record.behaviour?.model ?? '');
  const processor = Object.hasOwn(PROCESSOR_MODELS, name) ? PROCESSOR_MODELS[name] : undefined;
  if (processor !== undefined) return { models: [processor(part)], problems: [] };
  const maker = Object.hasOwn(MODELS, name) ? MODELS[name] : undefined;
  const made = maker?.(part, around);
  if (made === undefined) return { models: [], problems: [] };
  return 'models' in made ? made : { models: [made], problems: [] };
}

const UNTIMED = (part: SimPart, what: string): ModelProblem => ({
  code: 'sim/no-time',
  message: `The time of ${what} is not known.`,
  why: `A resistor and a capacitor straight at its pins set it; ${part.name} has others, or none.`,
  help: 'Put the resistor and the capacitor of the data sheet at its pins, with their values.',
});

/** The one-shots of a part, each with the resistor and capacitor at its pins. One without them and with its inputs tied is left out. */
function oneShotsOf(part: SimPart, around: Surroundings): Found {
  const problems: ModelProblem[] = [];
  const factor = /^74LS/i.test(part.type) ? 0.37 : 0.45;
  const models = (part.record.units ?? []).flatMap(({ name, pins }): PartModel[] => {
    const { A, B, CLR, CEXT, RCEXT, Q, NQ } = pins;
    if (A === undefined || B === undefined || CLR === undefined || Q === undefined || NQ === undefined) return [];
    const ohms = around.ohms(RCEXT ?? '', 1);
    const farads = around.farads(RCEXT ?? '', CEXT ?? '');
    if (ohms !== undefined && farads !== undefined)
      return [oneShotModel({ a: A, b: B, clear: CLR, q: Q, nq: NQ, ns: factor * ohms * farads * 1e9 })];
    if ([A, B].some((pin) => around.railOf(pin) === undefined))
      problems.push(UNTIMED(part, `${part.name} unit ${name}`));
    return [];
  });
  return { models, problems };
}

/** A 555 as its resistors and capacitor make it. */
function timerOf(part: SimPart, around: Surroundings): Found {
  const farads = around.farads('THRES', 0);
  const ra = around.ohms('DISCH', 1);
  const rb = around.ohms('DISCH', 'THRES');
  if (farads !== undefined && ra !== undefined && rb !== undefined && around.areJoined('TRIG', 'THRES')) {
    const unit = Math.LN2 * farads * 1e9;
    return { models: [astableModel((ra + rb) * unit, rb * unit)], problems: [] };
  }
  if (farads !== undefined && ra !== undefined && around.areJoined('DISCH', 'THRES'))
    return { models: [monostableModel(1.1 * ra * farads * 1e9)], problems: [] };
  return { models: [], problems: [UNTIMED(part, part.name)] };
}

/** Types that forget: all others keep what they were programmed with. */
export function isRam(part: SimPart): boolean {
  return /static memory|static RAM|SRAM/i.test(part.record.title);
}

/** A memory; one that the machine can write takes its maker's sequences, unless its write pin is held high. */
function memoryOf(part: SimPart, contents: SimContents, around: Surroundings): Found {
  const { options, problems } = memoryOptions(part, contents);
  const writing =
    options?.write === undefined || around.railOf(options.write) === 1 ? undefined : writingOf(part.record.part);
  if (options !== undefined && writing !== undefined)
    return { models: [writtenMemoryModel(options, writing)], problems };
  return { models: options === undefined ? [] : [memoryModel(options)], problems };
}

/** What the model of a memory part is made from; undefined where its record does not say enough. */
export function memoryOptions(
  part: SimPart,
  contents: SimContents,
): { readonly options: MemoryOptions | undefined; readonly problems: readonly ModelProblem[] } {
  const { record } = part;
  const bus = record.bus;
  const read = bus?.signals?.read;
  if (bus?.address === undefined || bus.data === undefined || read === undefined)
    return { options: undefined, problems: [] };
  // Ranges are written highest bit first.
  const address = expandPins(record, bus.address).reverse();
  const data = expandPins(record, bus.data).reverse();
  const write = bus.signals?.write;
  const problems: ModelProblem[] = [];
  const isForgetful = isRam(part);
  const image = contents.images?.get(part.name);
  const size = 2 ** address.length;
  if (image !== undefined && image.length > size)
    problems.push({
      code: 'sim/image-too-large',
      message: `The image for ${part.name} has ${image.length} bytes; a ${part.type} holds ${size}.`,
      why: 'The bytes beyond its size are left out.',
      help: 'Take a larger memory or a smaller image.',
    });
  if (image === undefined && !isForgetful)
    problems.push({
      code: 'sim/no-image',
      message: `What ${part.name} holds is not known.`,
      why: 'Every byte read from it is unknown, and a processor that takes an unknown byte for an instruction is lost.',
      help: 'Say what it holds (`holds: FILE`), and let a stage program it.',
    });
  const selects = (bus.selects ?? []).map((pin) => ({ pin, high: !pin.startsWith('/') }));
  return {
    options: {
      address,
      data,
      selects: selects.filter(({ pin }) => pinsNamed(record, pin).length > 0),
      read,
      write,
      writes: write === undefined ? 'never' : isForgetful ? 'allowed' : 'ignored',
      image,
      rest: isForgetful ? 'random' : 'unknown',
    },
    problems,
  };
}
