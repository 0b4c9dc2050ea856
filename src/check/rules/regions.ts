// Regions of the map against the parts in them: size, place, what else answers there, what a memory holds.

import { foldName, formatHex, formatQuantity, parseQuantity } from '../../base/index.ts';
import type { MapRegion, NetPart } from '../../netlist/index.ts';
import { FALSE, type Fn, TRUE } from '../levels/bdd.ts';
import { levelsAt, pinNames, ruledOut } from '../levels/drivers.ts';
import { isActiveLow, pinNamed } from '../levels/levels.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';
import { listed } from '../rule.ts';

interface Mapped {
  readonly region: MapRegion;
  readonly part: NetPart;
}

function mapped(context: RuleContext): Mapped[] {
  const parts = new Map(context.netlist.parts.map((part) => [foldName(part.name), part]));
  return context.design.map.flatMap((region): Mapped[] => {
    const part = parts.get(foldName(region.part));
    const there = region.stage <= context.stage && (region.until === undefined || context.stage < region.until);
    return part === undefined || !there ? [] : [{ region, part }];
  });
}

/** Bytes of a memory, or registers of a peripheral, by its record. */
function sizeOf(part: NetPart): number | undefined {
  const { bus } = part.record;
  if (bus?.size === undefined) return undefined;
  const quantity = parseQuantity(bus.size);
  return quantity?.dimension === 'size' || quantity?.dimension === 'plain' ? quantity.value : undefined;
}

const bytesText = (bytes: number): string => formatQuantity(bytes, 'size');

export const exceedsMemory: Rule = {
  code: 'check/exceeds-memory',
  title: 'A region larger than the part in it',
  run(context) {
    return mapped(context).flatMap(({ region, part }): Fact[] => {
      const size = sizeOf(part);
      if (size === undefined || part.record.bus?.role !== 'memory' || region.decl.mirrors === 'allowed') return [];
      const offset = region.decl.offset ?? 0;
      if (offset + region.bytes <= size) return [];
      return [
        {
          about: [part.name],
          severity: 'warning',
          message: `${part.name} (${part.type}) has ${bytesText(size)}, and its region is ${bytesText(region.bytes)}${offset > 0 ? ` from ${formatHex(offset)} of the part` : ''}`,
          why: 'The same cells answer again in the rest of the region: what is written there overwrites what is below.',
          help: 'Shorten the region, take a larger memory, or say `mirrors: allowed`.',
          where: region.decl.span,
        },
      ];
    });
  },
};

export const unreachedMemory: Rule = {
  code: 'check/unreached-memory',
  title: 'A part of which the map reaches only some',
  wholeOnly: true,
  run(context) {
    const facts: Fact[] = [];
    const seen = new Map<NetPart, { regions: MapRegion[]; reached: number }>();
    for (const { region, part } of mapped(context)) {
      const entry = seen.get(part) ?? { regions: [], reached: 0 };
      entry.regions.push(region);
      entry.reached = Math.max(entry.reached, (region.decl.offset ?? 0) + region.bytes);
      seen.set(part, entry);
    }
    for (const [part, { regions, reached }] of seen) {
      const size = sizeOf(part);
      if (size === undefined || reached >= size || regions.some((region) => region.decl.offset !== undefined)) continue;
      const memory = part.record.bus?.role === 'memory';
      // Address pins above that something other than the bus drives choose among banks.
      const banked =
        memory &&
        pinNames(part.record.bus?.address)
          .reverse()
          .some((name, bit) => {
            if (2 ** bit < reached) return false;
            const net = pinNamed(context, part, name)?.net ?? -1;
            return (
              net >= 0 && context.netlist.nets[net]!.bus?.name !== 'A' && context.netlist.nets[net]!.kind === 'signal'
            );
          });
      if (banked) continue;
      facts.push({
        about: [part.name],
        severity: memory ? 'note' : 'warning',
        message: memory
          ? `${part.name} (${part.type}) has ${bytesText(size)}, of which ${bytesText(reached)} are reached`
          : `${part.name} (${part.type}) has ${size} registers, and its region reaches ${reached}`,
        why: memory
          ? 'No harm; but the image must lie in the part where the address lines point.'
          : 'The registers above cannot be written or read.',
        help: memory ? 'Extend the region, or waive this.' : `Give it ${size} addresses.`,
        where: regions[0]!.decl.span,
      });
    }
    return facts;
  },
};

export const unalignedRegion: Rule = {
  code: 'check/unaligned-region',
  title: 'A region that does not begin at a multiple of its length',
  run(context) {
    return mapped(context).flatMap(({ region, part }): Fact[] => {
      const { bus } = part.record;
      if (bus?.address === undefined) return [];
      const size = sizeOf(part);
      let length = 1;
      while (length < region.bytes) length *= 2;
      if (size !== undefined) length = Math.min(length, size);
      const offset = region.decl.offset ?? 0;
      const shift = (((region.at - offset) % length) + length) % length;
      if (shift === 0) return [];
      const holds = part.holds !== undefined;
      return [
        {
          about: [part.name],
          severity: holds || bus.role === 'peripheral' ? 'warning' : 'note',
          message: `${part.name} begins at ${formatHex(region.at)}, and its address lines count from a multiple of ${bytesText(length)}`,
          why: holds
            ? `The first byte of the region is not the first byte of the image: it is byte ${formatHex((region.at % length) + 0)} of the part.`
            : bus.role === 'peripheral'
              ? 'Its first register is not at the first address.'
              : 'The memory works all the same, but begins somewhere in its middle.',
          help: `Begin at ${formatHex(Math.floor(region.at / length) * length)} or ${formatHex(Math.ceil(region.at / length) * length)}, or say with \`offset\` where in the part it begins.`,
          where: region.decl.span,
        },
      ];
    });
  },
};

export const exceedsAddressSpace: Rule = {
  code: 'check/exceeds-address-space',
  title: 'A region beyond the last address of the processor',
  run(context) {
    const processor = context.netlist.parts.find((part) => part.record.bus?.role === 'processor');
    const bus = processor?.record.bus;
    if (processor === undefined || bus === undefined) return [];
    return mapped(context).flatMap(({ region, part }): Fact[] => {
      const bits = region.space === 'memory' ? bus['address-bits'] : bus['port-bits'];
      if (bits === undefined || bits === 0 || region.at + region.bytes <= 2 ** bits) return [];
      return [
        {
          about: [part.name],
          severity: 'error',
          message: `${part.name} reaches to ${formatHex(region.at + region.bytes - 1)}, and the ${region.space === 'memory' ? 'memory' : 'ports'} of ${processor.type} end at ${formatHex(2 ** bits - 1)}`,
          why: 'The processor has no address lines for it.',
          help: 'Move or shorten the region.',
          where: region.decl.span,
        },
      ];
    });
  },
};

export const regionWithoutBus: Rule = {
  code: 'check/region-without-bus',
  title: 'A part that is mapped and on no bus',
  wholeOnly: true,
  run(context) {
    const members = new Set(context.machine.buses.flatMap((bus) => bus.members.map((ref) => foldName(ref.name))));
    return context.machine.map.flatMap((decl): Fact[] => {
      const part = context.netlist.parts.find((candidate) => foldName(candidate.name) === foldName(decl.part.name));
      if (part === undefined || members.has(foldName(part.name))) return [];
      const wired = pinNames(part.record.bus?.data).some((name) => (pinNamed(context, part, name)?.net ?? -1) >= 0);
      if (wired) return [];
      return [
        {
          about: [part.name],
          severity: 'error',
          message: `${part.name} has an address and is a member of no bus`,
          why: 'Its address, data and strobes are joined to nothing.',
          help: `Add it to the members: buses: { main: { members: [${part.name}] } }.`,
          where: decl.span,
        },
      ];
    });
  },
};

export const mirroredRegion: Rule = {
  code: 'check/mirrored-region',
  title: 'A part that answers at other addresses too',
  wholeOnly: true,
  run(context) {
    const levels = levelsAt(context);
    const { bdd } = levels;
    const found: Mirror[] = [];
    let possible: Fn | undefined;
    for (const { region, part } of mapped(context)) {
      if (region.decl.mirrors === 'allowed') continue;
      const select = context.design.devices
        .flatMap((device) => device.outputs)
        .find(
          (output) =>
            output.select !== undefined &&
            foldName(output.select.part) === foldName(part.name) &&
            output.stage <= context.stage &&
            (output.until === undefined || context.stage < output.until),
        )?.select;
      const names = part.record.bus?.selects ?? [];
      if (select === undefined || names.length === 0) continue;
      // Regions in several pieces, or with a condition, are left to the decoder's own report.
      if (select.regions.length !== 1 || Math.log2(region.bytes) % 1 !== 0 || region.at % region.bytes !== 0) continue;
      const chosen = bdd.and(
        ...names.map((name) => (isActiveLow(name) ? bdd.not(levels.at(part, name)) : levels.at(part, name))),
      );
      if (chosen === FALSE || bdd.overflow) continue;
      possible ??= ruledOut(levels);
      const free: number[] = [];
      select.address.forEach((name, bit) => {
        if (2 ** bit < region.bytes) return;
        const flipped = select.address.map((other, k) => {
          if (2 ** k < region.bytes) return TRUE;
          const line = levels.overNets(other) ?? TRUE;
          const high = (Math.floor(region.at / 2 ** k) % 2 === 1) !== (k === bit);
          return high ? line : bdd.not(line);
        });
        if (levels.overNets(name) !== undefined && bdd.and(chosen, possible!, ...flipped) !== FALSE) free.push(bit);
      });
      if (free.length === 0 || bdd.overflow) continue;
      const other =
        Math.floor(region.at / 2 ** free[0]!) % 2 === 1 ? region.at - 2 ** free[0]! : region.at + 2 ** free[0]!;
      found.push({
        region,
        part,
        places: 2 ** free.length - 1,
        other,
        unseen: free.map((bit) => select.address[bit]!).reverse(),
      });
    }
    return [
      ...found.filter((mirror) => mirror.region.decl.mirrors === 'forbidden').map(forbiddenMirror),
      ...mirrorNotes(found),
    ];
  },
};

interface Mirror extends Mapped {
  /** How many other places it answers at, and one of them. */
  readonly places: number;
  readonly other: number;
  /** Address lines that its select does not look at. */
  readonly unseen: readonly string[];
}

const mirrorText = ({ region, part, places, other, unseen }: Mirror): string =>
  `${part.name} at ${formatHex(region.at)} answers at ${formatHex(other)}${places > 1 ? ` and ${places - 1} more places` : ''} too: ${listed(unseen)} ${unseen.length === 1 ? 'is' : 'are'} not looked at`;

function forbiddenMirror(mirror: Mirror): Fact {
  return {
    about: [mirror.part.name],
    severity: 'error',
    message: mirrorText(mirror),
    why: 'The map forbids it.',
    help: 'Let the decoder look at these lines too, or take a larger one.',
    where: mirror.region.decl.span,
  };
}

/** One note for each space: a decoder that looks at few lines mirrors everything that it selects. */
function mirrorNotes(found: readonly Mirror[]): Fact[] {
  return (['memory', 'ports'] as const).flatMap((space): Fact[] => {
    const mirrors = found.filter(({ region }) => region.space === space && region.decl.mirrors !== 'forbidden');
    const first = mirrors[0];
    if (first === undefined) return [];
    const names = mirrors.map(({ part }) => part.name);
    return [
      {
        about: names,
        severity: 'note',
        message:
          mirrors.length === 1
            ? mirrorText(first)
            : `${listed(names)} answer at other ${space === 'memory' ? 'addresses' : 'ports'} too, since their selects do not look at every address line`,
        why: 'No harm while nothing else is put there; but a program that goes astray hits them from behind.',
        help: 'Say `mirrors: allowed` where you know, or `mirrors: forbidden` to have the lines decoded.',
        where: first.region.decl.span,
        ...(mirrors.length === 1
          ? {}
          : { notes: mirrors.map((mirror) => ({ text: `${mirrorText(mirror)}.`, span: mirror.region.decl.span })) }),
      },
    ];
  });
}

/** Whether a memory forgets when the supply goes. */
export function isVolatile(part: NetPart): boolean {
  return /\bstatic\b|\bdynamic\b|\bRAM\b/i.test(part.record.title);
}

export const noImage: Rule = {
  code: 'check/no-image',
  title: 'A memory that is programmed beforehand and holds no image',
  wholeOnly: true,
  run(context) {
    const programmed = new Set(
      context.design.stages.flatMap((stage) => stage.decl.programs.map((program) => foldName(program.part.name))),
    );
    return context.netlist.parts.flatMap((part): Fact[] => {
      if (part.record.bus?.role !== 'memory' || isVolatile(part)) return [];
      if (part.holds !== undefined || programmed.has(foldName(part.name))) return [];
      return [
        {
          about: [part.name],
          severity: 'warning',
          message: `${part.name} (${part.type}) holds no image`,
          why: 'An erased memory reads 0xFF everywhere.',
          help: `Say which file goes into it: ${part.name}: { type: ${part.type}, holds: firmware/first.hex }.`,
          where: part.origin.span,
        },
      ];
    });
  },
};

export const imageInRam: Rule = {
  code: 'check/image-in-ram',
  title: 'A memory that forgets, with an image to hold',
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      if (part.record.bus?.role !== 'memory' || !isVolatile(part) || part.holds === undefined) return [];
      return [
        {
          about: [part.name],
          severity: 'warning',
          message: `${part.name} (${part.type}) is to hold ${part.holds}, and forgets it when the supply goes`,
          why: 'Nothing can be programmed into it in a programmer; its write pin would be tied off as well.',
          help: 'Take `holds` away, or take an EEPROM or flash type.',
          where: part.origin.span,
        },
      ];
    });
  },
};

export const noWriteProtection: Rule = {
  code: 'check/no-write-protection',
  title: 'A memory with an image whose write pin is active or free while the supply rises',
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      const { bus } = part.record;
      if (bus?.role !== 'memory' || isVolatile(part) || bus.signals?.write === undefined) return [];
      const pin = pinNamed(context, part, pinNames(bus.signals.write)[0] ?? '');
      if (pin === undefined || pin.net < 0) return [];
      const net = context.view.nets[pin.net]!;
      const make = (severity: Fact['severity'], message: string, help: string): Fact[] => [
        {
          about: [pin.ref],
          severity,
          message,
          why: 'While the supply rises, strobes do as they like, and a byte of the image is overwritten: the commonest way an EEPROM comes to read 0xFF.',
          help,
          where: pin.origin?.span ?? part.origin.span,
        },
      ];
      if (net.net.kind === 'ground')
        return make('error', `${pin.ref} is tied low: ${part.name} is written whenever it is selected`, 'Tie it high.');
      if (net.net.kind !== 'signal' || context.view.pulled(net) === 'high') return [];
      if (net.outputs.length > 0) return [];
      return make(
        'warning',
        `${pin.ref} follows ${net.net.name}, which nothing holds high while the supply rises`,
        `Write under ties: { high: [${pin.ref}], through: 10 kohm }, and use the part's software protection.`,
      );
    });
  },
};
