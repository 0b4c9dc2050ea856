// Stages and what they end in: stages that do nothing, straps that fight, proofs of nets that are not there, and parts that
// wait for something nobody does.

import { foldName, nearestName } from '../../base/index.ts';
import { ohmsOf } from '../electric.ts';
import { pinNames } from '../levels/drivers.ts';
import { pinNamed } from '../levels/levels.ts';
import { pinSpan } from '../places.ts';
import type { Fact, Rule } from '../rule.ts';

export const emptyStage: Rule = {
  code: 'check/empty-stage',
  title: 'A stage in which nothing is done and nothing proved',
  wholeOnly: true,
  run(context) {
    const { stages } = context.design;
    // Where there is no part at all, that is what is wrong.
    if (context.machine.parts.length === 0) return [];
    // A strap or lead that ends at a stage is something to do in it.
    const ends = new Set(
      stages.flatMap((stage) =>
        [...stage.decl.temporary, ...stage.decl.leads].flatMap((item) =>
          item.until === undefined ? [] : [foldName(item.until.name)],
        ),
      ),
    );
    const changes = new Set<string>();
    for (const list of [
      context.machine.nets,
      context.machine.ties,
      context.machine.logic,
      context.machine.buses,
      context.machine.map,
    ])
      for (const item of list)
        for (const ref of [item.lifetime.from, item.lifetime.until])
          if (ref !== undefined) changes.add(foldName(ref.name));
    return stages.flatMap(({ name, decl }): Fact[] => {
      const acts =
        decl.adds.length + decl.removes.length + decl.replaces.length + decl.moves.length + decl.temporary.length;
      const shows = decl.leads.length + decl.programs.length + decl.prove.length + decl.notes.length;
      if (acts + shows > 0 || ends.has(foldName(name)) || changes.has(foldName(name))) return [];
      return [
        {
          about: [name],
          severity: 'note',
          message: `Stage ${name} adds nothing and proves nothing`,
          why: 'A stage is a step of the build that ends in a proof.',
          help: 'Say what it adds or proves, or take it out.',
          where: decl.span,
        },
      ];
    });
  },
};

export const hardStrap: Rule = {
  code: 'check/hard-strap',
  title: 'A strap without a resistor on a net that something drives',
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      if (!part.temporary || (ohmsOf(part) ?? 0) > 0) return [];
      const net = context.view.nets.find(
        (candidate) => foldName(candidate.net.name) === foldName(part.implied?.serves ?? ''),
      );
      const driver =
        net === undefined ? undefined : [...net.outputs, ...net.threeState, ...net.bidirectional, ...net.openDrain][0];
      if (net === undefined || driver === undefined) return [];
      return [
        {
          about: [net.net.name],
          severity: 'error',
          message: `The strap on ${net.net.name} is a wire, and ${driver.ref} can drive it`,
          why: 'When it drives the other level it is short-circuited.',
          help: 'Strap it through a resistor: through: 2.2 kohm.',
          where: part.origin.span,
        },
      ];
    });
  },
};

const EXPECT_WORDS = new Set([
  'supply',
  'free run',
  'self-test passes',
  'terminal says',
  'display shows',
  'digits show',
  'memory',
]);

export const unknownProofNet: Rule = {
  code: 'check/unknown-proof-net',
  title: 'A proof of a net that is not there at its stage',
  run(context) {
    const stage = context.design.stages[context.stage - 1]!;
    const names = new Map(context.netlist.nets.map((net) => [foldName(net.name), net.name]));
    const later = new Set(context.design.netlists.at(-1)!.nets.map((net) => foldName(net.name)));
    const pins = new Set(context.netlist.pins.map((pin) => foldName(pin.ref)));
    return stage.decl.prove.flatMap((proof) =>
      proof.expect.flatMap((term): Fact[] => {
        const key = term.key.trim();
        if (EXPECT_WORDS.has(key)) return [];
        const range = /^(.*?)(\d+)-(.*?)(\d+)$/.exec(key);
        const wanted =
          range !== null && range[1] === range[3] ? [`${range[1]}${range[2]}`, `${range[3]}${range[4]}`] : [key];
        const missing = wanted.find((name) => !names.has(foldName(name)) && !pins.has(foldName(name)));
        if (missing === undefined) return [];
        const comes = later.has(foldName(missing));
        const near = comes ? undefined : nearestName(missing, names.values());
        return [
          {
            about: [missing, stage.name],
            severity: 'warning',
            message: comes
              ? `Stage ${stage.name} proves ${missing}, which has no pin yet`
              : `Stage ${stage.name} proves ${missing}, and there is no such net${near === undefined ? '' : `; did you mean ${near}?`}`,
            why: 'There is nothing to measure at.',
            help: comes
              ? 'Prove it in the stage that brings it.'
              : 'Write one of the names that `proofboard netlist` lists.',
            where: term.keySpan,
            ...(near === undefined || range !== null
              ? {}
              : { fixes: [{ title: `Change it to ${near}`, edits: [{ span: term.keySpan, text: near }] }] }),
          },
        ];
      }),
    );
  },
};

export const noWatchdogStrobe: Rule = {
  code: 'check/no-watchdog-strobe',
  title: 'A watchdog that nobody keeps quiet',
  wholeOnly: true,
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      if (part.record.category !== 'supervisor') return [];
      if (!Object.keys(part.record.facts ?? {}).some((name) => name.startsWith('watchdog'))) return [];
      const pin = ['/ST', 'WDI', '/WDI']
        .map((name) => pinNamed(context, part, name))
        .find((found) => found !== undefined);
      if (pin === undefined) return [];
      // Open switches it off where the record says that it may float.
      if (pin.net < 0 && context.view.row(pin)['may-float'] !== undefined) return [];
      const net = pin.net < 0 ? undefined : context.view.nets[pin.net]!;
      const strobed =
        net !== undefined &&
        net.net.kind === 'signal' &&
        (net.outputs.length + net.threeState.length + net.bidirectional.length + net.openDrain.length > 0 ||
          context.view.outside(net));
      if (strobed) return [];
      return [
        {
          about: [pin.ref],
          severity: 'error',
          message: `Nothing strobes ${pin.ref}, so ${part.name} resets the machine again and again`,
          why: 'A watchdog resets whenever it has seen no edge for about a second. Held at one level it never sees one.',
          help: 'Join it to something the program toggles, or to a clock; or take a supervisor without a watchdog.',
          where: pinSpan(context, pin),
        },
      ];
    });
  },
};

export const noInterruptVector: Rule = {
  code: 'check/no-interrupt-vector',
  title: 'An interrupt to which nobody answers with a vector',
  run(context) {
    return context.netlist.parts.flatMap((part): Fact[] => {
      const { bus } = part.record;
      if (bus?.role !== 'processor' || !/^(?:8088|8086|8085)$/.test(bus.style ?? '')) return [];
      const pin = pinNamed(context, part, pinNames(bus.signals?.interrupt)[0] ?? '');
      if (pin === undefined || pin.net < 0) return [];
      const net = context.view.nets[pin.net]!;
      const source = [...net.outputs, ...net.threeState, ...net.openDrain][0];
      if (net.net.kind !== 'signal' || source === undefined) return [];
      const answers = context.netlist.parts.some(
        (other) =>
          other !== part &&
          other.record.bus?.role === 'peripheral' &&
          other.record.bus.signals?.['interrupt-acknowledge'] !== undefined,
      );
      if (answers) return [];
      return [
        {
          about: [pin.ref],
          severity: 'warning',
          message: `${source.ref} interrupts ${part.name}, and nothing answers with a vector`,
          why: 'In the acknowledge the processor reads a number from the data bus that says which routine to run. Nobody drives it, so it takes any.',
          help: 'Add an interrupt controller (8259) to the bus, or drive the vector from a buffer enabled by /INTA; the other way is to poll.',
          where: pinSpan(context, pin),
        },
      ];
    });
  },
};
