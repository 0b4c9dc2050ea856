// What each memory holds as of a stage: the file it was last programmed with, or a self-test made for the machine's addresses. And
// what the simulator's proofs want to know of a machine beside its wiring.

import { type Finding, foldName, hasErrors } from '../base/index.ts';
import { makeZ80SelfTest, type Z80SelfTest } from '../firmware/z80/index.ts';
import { fitImage, readImage } from '../format/image/index.ts';
import { currentAt } from '../margins/index.ts';
import { type Design, type MapRegion, netlistAt, type NetPart } from '../netlist/index.ts';
import type { ProofFacts } from '../sim/index.ts';
import type { Build } from './build.ts';

/** Regions of memory as of a stage whose part is there and which answer at all times. */
function memoryRegions(design: Design, stage: number): { readonly region: MapRegion; readonly part: NetPart }[] {
  const parts = new Map(netlistAt(design, stage).parts.map((part) => [foldName(part.name), part]));
  return design.map.flatMap((region) => {
    const part = parts.get(foldName(region.part));
    const isHere = region.stage <= stage && (region.until === undefined || region.until > stage);
    return region.space === 'memory' && part !== undefined && isHere && region.decl.when === undefined
      ? [{ region, part }]
      : [];
  });
}

/** Forgets when the power goes: what has no image of its own. */
const isRam = (part: NetPart): boolean =>
  part.record.category === 'memory' &&
  part.record.bus?.signals?.write !== undefined &&
  /static memory/i.test(part.record.title);

/** What the part was last programmed with as of a stage: a file, or `self-test`; undefined for nothing. */
function programOf(design: Design, part: NetPart, stage: number): string | undefined {
  let file = part.holds;
  for (const info of design.stages) {
    if (info.number > stage) break;
    for (const program of info.decl.programs)
      if (foldName(program.part.name) === foldName(part.name))
        file = program.with.name === 'firmware' ? part.holds : program.with.name;
  }
  return file;
}

/**
 * The self-test for the machine's memory as of a stage, for a Z80 with at least 8 KiB of ROM from address 0 and RAM above: it
 * proves the longest stretch of RAM. Undefined where no such test can be made.
 */
export function selfTestAt(design: Design, stage: number): Z80SelfTest | undefined {
  const { parts } = netlistAt(design, stage);
  const processors = parts.filter((part) => part.record.category === 'processor');
  if (processors.length !== 1 || processors[0]!.record.bus?.style !== 'z80') return undefined;
  const regions = memoryRegions(design, stage);
  const stretches = (wanted: (part: NetPart) => boolean): { address: number; size: number }[] => {
    const list: { address: number; size: number }[] = [];
    for (const { region } of regions.filter(({ part }) => wanted(part)).sort((a, b) => a.region.at - b.region.at)) {
      const last = list.at(-1);
      if (last !== undefined && last.address + last.size === region.at) last.size += region.bytes;
      else list.push({ address: region.at, size: region.bytes });
    }
    return list;
  };
  const rom = stretches((part) => part.record.category === 'memory' && !isRam(part)).find(
    ({ address }) => address === 0,
  );
  const ram = stretches(isRam)
    .filter(({ address }) => rom !== undefined && address >= rom.size)
    .sort((a, b) => b.size - a.size || a.address - b.address)[0];
  if (rom === undefined || rom.size < 0x2000 || ram === undefined) return undefined;
  return makeZ80SelfTest({ romSize: rom.size, ram });
}

/** What each memory holds as of a stage, by the part's name. */
export function imagesOf(build: Build, stage: number): { images: Map<string, Uint8Array>; findings: Finding[] } {
  const images = new Map<string, Uint8Array>();
  const findings: Finding[] = [];
  const design = build.design();
  for (const part of netlistAt(design, stage).parts) {
    const held = imageOf(build, part, stage);
    findings.push(...(held?.findings ?? []));
    if (held?.bytes !== undefined) images.set(part.name, held.bytes);
  }
  return { images, findings };
}

/** What one memory is to hold as of a stage. */
export interface HeldImage {
  /** The file to program it with, as a path in the project; `self-test` where that is made and lies in no file yet. */
  readonly file: string;
  /** Every cell of the memory, 0xFF where the image says nothing; undefined where the file isn't there or can't be read. */
  readonly bytes: Uint8Array | undefined;
  readonly findings: readonly Finding[];
}

const cellsOf = (part: NetPart): number => 2 ** part.record.pins.filter((pin) => pin.group === 'address').length;

/** The contents of a file as a memory of `cells` holds them. */
function read(build: Build, file: string, cells: number): Omit<HeldImage, 'file'> {
  const text = build.project.text(file);
  if (text === undefined) return { bytes: undefined, findings: [] };
  return build.project.memo(`image ${file} ${cells}`, [text], () => {
    const image = readImage(
      Uint8Array.from(text, (character) => character.charCodeAt(0) & 0xff),
      file,
    );
    const fitted = fitImage(image.value, { address: 0, size: cells }, file);
    return {
      bytes: hasErrors(image.findings) ? undefined : fitted.value,
      findings: [...image.findings, ...fitted.findings],
    };
  });
}

/** What a memory is to hold as of a stage; undefined for another part, and for one that nothing is said of. */
export function imageOf(build: Build, part: NetPart, stage: number): HeldImage | undefined {
  if (part.record.category !== 'memory') return undefined;
  const design = build.design();
  const file = programOf(design, part, stage);
  if (file === undefined) return undefined;
  const cells = cellsOf(part);
  if (file !== 'self-test') return { file, ...read(build, file, cells) };
  const made = build.project.memo(`self-test ${build.name} ${stage}`, [design], () => selfTestAt(design, stage));
  if (made === undefined) return { file, bytes: undefined, findings: [] };
  const bytes = new Uint8Array(cells).fill(0xff);
  bytes.set(made.bytes.subarray(0, cells));
  // The file that ships with a project, or that `image` wrote, where it is still this test.
  const kept = [SELF_TEST_FILE, selfTestPath(build, part.name)].find((path) => {
    const there = read(build, path, cells).bytes;
    return there?.every((byte, at) => byte === bytes[at]);
  });
  return { file: kept ?? file, bytes, findings: [] };
}

const SELF_TEST_FILE = 'firmware/self-test.hex';

/** Where `image` writes the self-test of a memory, as a path in the project. */
export function selfTestPath(build: Build, part: string): string {
  return `${build.folder}/images/${part.replace(/[^\w.-]/g, '_')}-self-test.hex`;
}

/** The sum of all cells modulo 65,536: what a device programmer shows for a part read whole. Common practice, no source. */
export function sumOf(bytes: Uint8Array): number {
  let sum = 0;
  for (const byte of bytes) sum = (sum + byte) & 0xffff;
  return sum;
}

/** What proofs want to know of the machine as of a stage. */
export function proofFacts(design: Design, stage: number): ProofFacts {
  const current = currentAt(design, stage);
  const test = selfTestAt(design, stage);
  const regions = memoryRegions(design, stage);
  return {
    supplies: design.supplies.map(({ name, volts, tolerance }, k) => ({
      name,
      volts,
      tolerance,
      // The margins know one supply's current only.
      ...(k > 0 || current.unknown.length > 0 ? {} : { typMa: current.typ, maxMa: current.max }),
    })),
    ...(test === undefined ? {} : { selfTest: { ends: test.ends, clocks: test.clocks } }),
    memoryAt: (address) =>
      regions.find(({ region, part }) => {
        const at = address - region.at;
        return part.record.category === 'memory' && at >= 0 && at < region.bytes;
      })?.part.name,
  };
}

/** The files that memories of a design may be programmed with, in a stable order. */
export function imageFiles(build: Build): readonly string[] {
  const design = build.design();
  const parts = netlistAt(design, design.stages.length).parts.filter((part) => part.record.category === 'memory');
  return [
    ...new Set([
      SELF_TEST_FILE,
      ...parts.flatMap((part) => [
        selfTestPath(build, part.name),
        ...(part.holds === undefined ? [] : [part.holds]),
        ...design.stages.flatMap((info) =>
          info.decl.programs
            .filter((program) => foldName(program.part.name) === foldName(part.name))
            .map((program) => program.with.name),
        ),
      ]),
    ]),
  ].sort();
}
