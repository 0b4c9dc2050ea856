// Checks of a part record that the schema cannot make: numbers against the package, names against the pin table, figures
// against each other. Behaviour has its own file.

import { foldName, parseQuantity, parseValue } from '../base/index.ts';
import type { Path } from '../yaml/index.ts';
import { checkBehaviour } from './check-behaviour.ts';
import { expandPins, pinNames, pinsNamed } from './pin-names.ts';
import type { PartRecord } from './record.ts';
import type { Reporter } from './reporter.ts';

/** Runs every check of a record. */
export function checkRecord(record: PartRecord, reporter: Reporter): void {
  checkPackage(record, reporter);
  checkPins(record, reporter);
  checkJoined(record, reporter);
  checkUnits(record, reporter);
  checkFreedoms(record, reporter);
  checkTies(record, reporter);
  checkBus(record, reporter);
  checkClasses(record, reporter);
  checkArcs(record, reporter);
  checkRanges(record, record.sources, reporter);
  checkBehaviour(record, reporter);
  if (!Object.hasOwn(record.sources, 'pins'))
    reporter.say('parts/no-source', { path: ['sources'] }, 'sources does not say where the pin table was read.', {
      help: 'Add `pins:` with document, table and page, or `from memory`.',
    });
  const familyName = /^\d+x\d/.test(record.part);
  if (familyName !== (record.families !== undefined))
    reporter.say(
      'parts/family-name',
      { path: ['part'] },
      familyName ? `${record.part} names no families.` : `${record.part} has families, but no x in its name for them.`,
      { help: 'A type of several logic families is written 74x138, with `families: [LS, HCT]`.' },
    );
}

/** The lead positions a package has: the numbers that pins must bear. */
export function leadNumbers(record: Pick<PartRecord, 'package'>): number[] {
  const { only, leads, pins } = record.package;
  if (only !== undefined) return [...only].sort((a, b) => a - b);
  if (leads !== undefined)
    return Object.keys(leads)
      .map(Number)
      .sort((a, b) => a - b);
  return Array.from({ length: pins }, (_, i) => i + 1);
}

function checkPackage(record: PartRecord, reporter: Reporter): void {
  const made = record.package;
  const say = (key: string, message: string, help: string): void =>
    reporter.say('parts/package', { path: ['package', key] }, message, { help });
  if (made.kind === 'dip') {
    if (made.width === undefined)
      say('kind', 'A dip needs its width.', 'Add `width: 300` or 600: mil between the rows.');
    if (made.pins % 2 === 1)
      say('pins', 'A dip has an even number of lead positions.', 'Use `only` where some are missing.');
  } else if (made.width !== undefined) say('width', `A ${made.kind} has no width of rows.`, 'Take it out.');
  if (made.only !== undefined) {
    if (made.kind !== 'dip') say('only', '`only` is for a dip with missing leads.', 'Take it out.');
    if (new Set(made.only).size !== made.only.length) say('only', 'A lead stands twice.', 'Keep it once.');
    for (const number of made.only)
      if (number < 1 || number > made.pins) say('only', `There is no lead ${number}.`, `Leads are 1 to ${made.pins}.`);
  }
  if (made.kind === 'grid') {
    if (made.leads === undefined) say('kind', 'A grid package needs `leads`.', 'Give each pin number its place.');
    else {
      const places = Object.values(made.leads).map((place) => place.join());
      if (new Set(places).size !== places.length) say('leads', 'Two leads stand at one place.', 'Give each its own.');
      if (places.length !== made.pins)
        say('leads', `${places.length} leads for ${made.pins} pins.`, 'Make them agree.');
      const first = made.leads['1'];
      if (first !== undefined && (first[0] !== 0 || first[1] !== 0))
        say('leads', 'Pin 1 stands at [0, 0].', 'Count the others from it.');
    }
  } else if (made.leads !== undefined) say('leads', '`leads` is for a grid package.', 'Take it out.');
  if (made.kind === 'two-lead') {
    if (made.pins !== 2) say('pins', 'A two-lead part has two pins.', 'Write `pins: 2`.');
    if (made.span === undefined) say('kind', 'A two-lead part needs `span`.', 'Least and greatest distance in mm.');
  } else if (made.span !== undefined) say('span', '`span` is for a two-lead part.', 'Take it out.');
  if (made.span !== undefined && made.span[0] > made.span[1])
    say('span', 'The least distance is above the greatest.', 'Exchange them.');
}

const MAY_REPEAT: ReadonlySet<string> = new Set(['supply', 'ground', 'passive', 'unconnected']);
const CHIPS: ReadonlySet<string> = new Set(['processor', 'companion', 'memory', 'logic-device', 'logic', 'supervisor']);

function checkPins(record: PartRecord, reporter: Reporter): void {
  const expected = new Set(leadNumbers(record));
  const seen = new Map<number, string>();
  const names = new Map<string, { index: number; name: string; kind: string; alias: boolean }>();
  record.pins.forEach((pin, index) => {
    const other = seen.get(pin.number);
    if (other !== undefined)
      reporter.say('parts/pin-number', { path: ['pins', index, 'number'] }, `Pin ${pin.number} is ${other} already.`, {
        help: 'Each number stands once.',
      });
    else if (!expected.has(pin.number))
      reporter.say('parts/pin-number', { path: ['pins', index, 'number'] }, `The package has no lead ${pin.number}.`, {
        help: `It has ${record.package.pins} lead positions.`,
      });
    seen.set(pin.number, pin.name);
    for (const [place, name] of [pin.name, ...(pin.aliases ?? [])].entries()) {
      const key = foldName(name);
      const before = names.get(key);
      const alias = place > 0;
      if (before !== undefined) {
        const sameRail = before.kind === pin.kind && MAY_REPEAT.has(pin.kind) && before.index !== index;
        if (!sameRail)
          reporter.say(
            'parts/repeated-name',
            { path: alias ? ['pins', index, 'aliases', place - 1] : ['pins', index, 'name'] },
            `${name} is a name of pin ${record.pins[before.index]!.number} already.`,
            {
              help: 'Only supply, ground, passive and unconnected pins may share a name, and only with their own kind.',
            },
          );
      }
      names.set(key, { index, name, kind: pin.kind, alias });
      if (!alias && pin.kind !== 'passive' && !/^(?![01]$|and$|or$|not$|when$)[A-Za-z0-9_/+.@$-]+$/.test(name))
        reporter.say('parts/pin-name', { path: ['pins', index, 'name'] }, `${name} cannot be written in a formula.`, {
          help: "Names are letters, digits and _ / + . @ $ -; the maker's own spelling can be an alias.",
        });
      if (/[\s,]/.test(name))
        reporter.say('parts/pin-name', { path: ['pins', index] }, `${name} cannot stand in a list.`, {
          help: 'Names have no spaces and no commas.',
        });
    }
  });
  for (const number of expected)
    if (!seen.has(number))
      reporter.say('parts/pin-number', { path: ['pins'], key: true }, `Pin ${number} is missing from the table.`, {
        help: 'Pins that are connected to nothing are entered too, as unconnected.',
      });
  if (CHIPS.has(record.category) && record.symbol !== 'module')
    for (const kind of ['supply', 'ground'])
      if (!record.pins.some((pin) => pin.kind === kind))
        reporter.say('parts/no-supply', { path: ['pins'], key: true }, `No pin is of kind ${kind}.`, {
          help: 'A chip without it cannot be checked for power.',
        });
}

function checkJoined(record: PartRecord, reporter: Reporter): void {
  const numbers = new Set(record.pins.map((pin) => pin.number));
  const group = new Map<number, number>();
  record.joined?.forEach((joined, index) => {
    const path = ['joined', index];
    if (joined.length < 2) reporter.say('parts/joined', { path }, 'One pin alone is joined to nothing.');
    joined.forEach((number, place) => {
      if (!numbers.has(number)) reporter.say('parts/joined', { path: [...path, place] }, `There is no pin ${number}.`);
      if (group.has(number))
        reporter.say('parts/joined', { path: [...path, place] }, `Pin ${number} stands twice.`, {
          help: 'Pins that are one conductor stand in one list.',
        });
      group.set(number, index);
    });
  });
}

/** Says so where `name` is no pin of the record; true where it is one. */
function knowsPin(record: PartRecord, name: string, path: Path, reporter: Reporter): boolean {
  if (pinsNamed(record, name).length > 0) return true;
  reporter.unknown('parts/unknown-pin', { path }, 'pin', name, pinNames(record));
  return false;
}

function checkUnits(record: PartRecord, reporter: Reporter): void {
  const names = new Set<string>();
  const letters = new Map<string, string>();
  const holder = new Map<string, string>();
  record.units?.forEach((unit, index) => {
    if (names.has(foldName(unit.name)))
      reporter.say('parts/unit', { path: ['units', index, 'name'] }, `There is a unit ${unit.name} already.`);
    names.add(foldName(unit.name));
    const own = Object.keys(unit.pins).sort().join(' ');
    const before = letters.get(unit.kind);
    if (before !== undefined && before !== own)
      reporter.say('parts/unit', { path: ['units', index, 'pins'] }, `Units of kind ${unit.kind} have unlike pins.`, {
        help: `The first has ${before}, this one ${own}.`,
      });
    letters.set(unit.kind, own);
    for (const [letter, name] of Object.entries(unit.pins)) {
      const path = ['units', index, 'pins', letter];
      if (!knowsPin(record, name, path, reporter)) continue;
      const pin = pinsNamed(record, name)[0]!.name;
      const other = holder.get(pin);
      if (other !== undefined && other !== `${unit.kind} ${letter}`)
        reporter.say('parts/unit', { path }, `${pin} stands in another unit under another letter.`, {
          help: 'Units may share a pin, such as an enable, only in the same place.',
        });
      holder.set(pin, `${unit.kind} ${letter}`);
    }
  });
}

function checkFreedoms(record: PartRecord, reporter: Reporter): void {
  record.freedoms?.forEach((freedom, index) => {
    const path = ['freedoms', index, 'exchange'];
    if (freedom.exchange.length < 2)
      reporter.say('parts/freedom', { path }, 'A single tuple can be exchanged with nothing.');
    const used = new Set<string>();
    const first = freedom.exchange[0] ?? [];
    freedom.exchange.forEach((tuple, row) => {
      if (tuple.length !== first.length || tuple.length === 0)
        reporter.say('parts/freedom', { path: [...path, row] }, 'The tuples of a freedom have one length.');
      tuple.forEach((name, column) => {
        const place = [...path, row, column];
        if (!knowsPin(record, name, place, reporter)) return;
        const pin = pinsNamed(record, name)[0]!;
        const key = `${pin.name}@${pin.number}`;
        if (used.has(key)) reporter.say('parts/freedom', { path: place }, `${name} stands twice in this freedom.`);
        used.add(key);
        const model = first[column] === undefined ? undefined : pinsNamed(record, first[column])[0];
        if (model !== undefined && model.kind !== pin.kind)
          reporter.say(
            'parts/freedom',
            { path: place },
            `${name} is ${pin.kind}, but ${model.name} is ${model.kind}.`,
            {
              help: 'Only pins of one kind can stand in for each other.',
            },
          );
      });
    });
  });
}

function checkTies(record: PartRecord, reporter: Reporter): void {
  record.ties?.forEach((tie, index) => {
    tie.pins.forEach((text, place) => {
      for (const name of expandPins(record, text)) knowsPin(record, name, ['ties', index, 'pins', place], reporter);
    });
    if (!/^(?:high|low|open)$/.test(tie.to) && pinsNamed(record, tie.to).length === 0)
      reporter.unknown('parts/unknown-pin', { path: ['ties', index, 'to'] }, 'level or pin', tie.to, [
        'high',
        'low',
        'open',
        ...pinNames(record),
      ]);
    if (tie.through !== undefined && parseValue(tie.through, 'resistance') === undefined)
      reporter.say('parts/tie', { path: ['ties', index, 'through'] }, `${tie.through} is no resistance.`, {
        help: 'Write such as `10 kohm`.',
      });
    if (tie.unless !== undefined && tie.unless !== 'connected')
      reporter.say('parts/tie', { path: ['ties', index, 'unless'] }, 'Only `connected` can stand here.');
  });
}

function checkBus(record: PartRecord, reporter: Reporter): void {
  const bus = record.bus;
  if (bus === undefined) return;
  const each = (text: string, path: Path): void => {
    for (const name of expandPins(record, text)) knowsPin(record, name, path, reporter);
  };
  for (const key of ['address', 'data'] as const) if (bus[key] !== undefined) each(bus[key], ['bus', key]);
  for (const [signal, text] of Object.entries(bus.signals ?? {})) each(text, ['bus', 'signals', signal]);
  for (const key of ['selects', 'inputs', 'outputs'] as const)
    bus[key]?.forEach((text, index) => {
      each(text, ['bus', key, index]);
    });
  if (bus.size !== undefined) {
    const size = parseQuantity(bus.size);
    if (size === undefined || (size.dimension !== 'size' && size.dimension !== 'plain'))
      reporter.say('parts/size', { path: ['bus', 'size'] }, `${bus.size} is no size.`, {
        help: 'Write such as `32 KiB`, or the number of registers.',
      });
  }
  bus.vectors?.forEach((vector, index) => {
    if (vector.bytes < 1)
      reporter.say('parts/size', { path: ['bus', 'vectors', index, 'bytes'] }, 'A vector has at least one byte.');
  });
}

function checkClasses(record: PartRecord, reporter: Reporter): void {
  if (record.clock?.pin !== undefined) knowsPin(record, record.clock.pin, ['clock', 'pin'], reporter);
  // Where a part comes in families, they give further classes; checkLibrary sees those.
  if (record.families !== undefined) return;
  record.pins.forEach((pin, index) => {
    for (const [key, table] of [
      ['input', 'inputs'],
      ['output', 'outputs'],
    ] as const) {
      const wanted = pin[key];
      if (wanted === undefined) continue;
      const known = [record, ...Object.values(record.grades ?? {})].flatMap((holder) =>
        Object.keys(holder[table] ?? {}),
      );
      if (!known.includes(wanted))
        reporter.unknown('parts/unknown-class', { path: ['pins', index, key] }, `class of ${table}`, wanted, known);
    }
  });
}

/** What an arc starts or ends at: `rise CLK`, `A7-A0`, a group, a list of these. */
function checkArcs(record: PartRecord, reporter: Reporter): void {
  const groups = new Set(record.pins.flatMap((pin) => (pin.group === undefined ? [] : [foldName(pin.group)])));
  const check = (arcs: PartRecord['arcs'], path: Path): void =>
    arcs?.forEach((arc, index) => {
      for (const end of ['from', 'to'] as const) {
        const text = arc[end];
        if (text === undefined) continue;
        for (const piece of text.split(',')) {
          const name = piece.trim().replace(/^(?:rise|fall)\s+/, '');
          if (groups.has(foldName(name))) continue;
          if (expandPins(record, name).every((pin) => pinsNamed(record, pin).length > 0)) continue;
          reporter.say('parts/arc-end', { path: [...path, index, end] }, `${name} is no pin, range or group.`, {
            severity: 'warning',
            help: 'Write a pin, a range or a group, with `rise` or `fall` before it where an edge is meant; lists with commas.',
          });
        }
      }
    });
  check(record.arcs, ['arcs']);
  for (const [name, grade] of Object.entries(record.grades ?? {})) check(grade.arcs, ['grades', name, 'arcs']);
}

/**
 * Walks all figures: min <= typ <= max wherever they stand together, thresholds in order, and every `source` a key of
 * `sources` or `from memory`.
 */
export function checkRanges(root: object, sources: Readonly<Record<string, string>>, reporter: Reporter): void {
  const walk = (value: unknown, path: Path): void => {
    if (Array.isArray(value)) {
      value.forEach((entry, index) => {
        walk(entry, [...path, index]);
      });
      return;
    }
    if (typeof value !== 'object' || value === null) return;
    const entry = value as Readonly<Record<string, unknown>>;
    const ordered = (low: string, high: string): void => {
      const [a, b] = [entry[low], entry[high]];
      if (typeof a === 'number' && typeof b === 'number' && a > b)
        reporter.say('parts/range-order', { path: [...path, low] }, `${low} ${a} is above ${high} ${b}.`, {
          help: 'Makers print some negative figures with min and max exchanged: enter them by their meaning.',
        });
    };
    ordered('min', 'typ');
    ordered('typ', 'max');
    ordered('min', 'max');
    ordered('vil', 'vih');
    const source = entry.source;
    if (typeof source === 'string' && !Object.hasOwn(sources, source) && !/^from memory\b/.test(source))
      reporter.unknown('parts/unknown-source', { path: [...path, 'source'] }, 'source', source, [
        ...Object.keys(sources),
        'from memory',
      ]);
    for (const [key, inner] of Object.entries(entry)) if (key !== 'sources') walk(inner, [...path, key]);
  };
  walk(root, []);
}
