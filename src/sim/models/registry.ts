// Which model a record's `behaviour.model` names, made for one part. Processors come from their own table.

import { foldName } from '../../base/index.ts';
import { expandPins, pinsNamed } from '../../parts/index.ts';
import type { SimCode } from '../codes.ts';
import type { SimContents, SimPart } from '../model.ts';
import { PROCESSOR_MODELS } from '../processors/pins.ts';
import { type MemoryOptions, memoryModel } from './memory.ts';
import type { PartModel } from './model.ts';
import { supervisorModel } from './supervisor.ts';
import { terminalModel } from './terminal.ts';
import { uartModel } from './uart.ts';

export interface ModelProblem {
  readonly code: SimCode;
  readonly message: string;
  readonly why: string;
  readonly help: string;
}

interface Found {
  readonly model: PartModel | undefined;
  readonly problems: readonly ModelProblem[];
}

type Maker = (part: SimPart, contents: SimContents) => PartModel | undefined;

const MODELS: Readonly<Record<string, Maker>> = {
  supervisor: (part) => supervisorModel(part.record),
  '16550': () => uartModel({ buffers: true }),
  '16450': () => uartModel({ buffers: false }),
};

/** The model of a part with a model in code, or undefined; and what is wrong with what it holds. */
export function modelFor(part: SimPart, contents: SimContents): Found {
  if (part.record.category === 'memory') return memoryOf(part, contents);
  if (part.record.category === 'connector') return { model: terminalModel(part.record), problems: [] };
  const name = foldName(part.record.behaviour?.model ?? '');
  const processor = Object.hasOwn(PROCESSOR_MODELS, name) ? PROCESSOR_MODELS[name] : undefined;
  if (processor !== undefined) return { model: processor(part), problems: [] };
  const maker = Object.hasOwn(MODELS, name) ? MODELS[name] : undefined;
  return { model: maker?.(part, contents), problems: [] };
}

/** Types that forget: all others keep what they were programmed with. */
function isRam(part: SimPart): boolean {
  return /static memory|static RAM|SRAM/i.test(part.record.title);
}

function memoryOf(part: SimPart, contents: SimContents): Found {
  const { options, problems } = memoryOptions(part, contents);
  return { model: options === undefined ? undefined : memoryModel(options), problems };
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
