// Supplies, clocks, defaults and parts of one file.

import type { Span } from '../base/index.ts';
import { type Cursor, child, entries, keySpanOf, quantityAt, report, type Source, textAt } from './cursor.ts';
import { type Fragment, type SectionReader, spend } from './fragment.ts';
import type { NameRef, PartDecl, PinBinding, PinRef } from './model.ts';
import { expandRange, nameFault, rangeLength, splitPin, splitPinName } from './words.ts';

/** `{ key: value }` where there is a value, else nothing: for optional fields. */
export function given<K extends string, V>(key: K, value: V | undefined): { readonly [P in K]?: V } {
  return (value === undefined ? {} : { [key]: value }) as { readonly [P in K]?: V };
}

/** Reports a name that cannot be one. True where it is sound. */
export function checkName(source: Source, name: string, kind: 'part' | 'net' | 'other', span: Span): boolean {
  const fault = nameFault(name, kind);
  if (fault === undefined) return true;
  report(source.findings, 'bad-name', `The name ${JSON.stringify(name)} ${fault}.`, span, {
    help: 'Names consist of letters, digits and - _ + /; a leading slash means active low.',
  });
  return false;
}

/** A path inside the project: relative, `/` between folders, nothing that leads out. Reports any other. */
export function pathAt(at: Cursor | undefined): NameRef | undefined {
  const path = textAt(at);
  if (at === undefined || path === undefined) return undefined;
  const fault = pathFault(path.name);
  if (fault !== undefined)
    return report(at.source.findings, 'bad-path', `The path ${JSON.stringify(path.name)} ${fault}.`, path.span, {
      help: 'Paths start in the folder of the project and stay in it: firmware/tide.hex.',
    });
  return path;
}

/** What is wrong with a path of the project, or undefined. */
export function pathFault(path: string): string | undefined {
  if (path === '' || path.endsWith('/')) return 'names no file';
  if (path.includes('\\')) return 'has a backslash in it; folders are separated by /';
  if (path.startsWith('/') || /^[A-Za-z]:/.test(path)) return 'is not relative to the project';
  if (path.split('/').some((step) => step === '..')) return 'leads out of the project';
  if (nameFault(path, 'other') !== undefined && path.length <= 200) return nameFault(path, 'other');
  return path.length > 200 ? 'is longer than 200 characters' : undefined;
}

/** A pin, PART.PIN, spelled out where it is a range. Empty, with a finding, where it is none. */
export function pinsOf(source: Source, ref: NameRef): PinRef[] {
  const split = splitPin(ref.name);
  if (split === undefined || split.part !== split.part.trim() || /\s/.test(ref.name)) {
    report(
      source.findings,
      'bad-pin',
      ref.name.includes('.')
        ? `${JSON.stringify(ref.name)} is no pin: PART.PIN is wanted, or PART.PIN@NUMBER.`
        : `${JSON.stringify(ref.name)} names no pin: a pin is PART.PIN.`,
      ref.span,
      { help: 'The name of the part ends at the first dot: CPU.A0, CPU.GND@20, CPU.A7-A0.' },
    );
    return [];
  }
  const doubled = /^([^.]*\d)-([^.]+)\.([^.]*\d)$/.exec(split.pin);
  if (doubled !== null && rangeLength(`${doubled[1]}-${doubled[3]}`) !== undefined) {
    const text = `${split.part}.${doubled[1]}-${doubled[3]}`;
    report(source.findings, 'bad-pin', `The part stands once before a range of pins: ${text}.`, ref.span, {
      fixes: [{ title: `Change it to ${text}`, edits: [{ span: ref.span, text }] }],
    });
    return [];
  }
  return expandRange(split.pin).map((pin) => ({
    part: split.part,
    pin,
    ...given('number', split.number),
    span: ref.span,
  }));
}

/** A single pin here, or undefined with a finding. */
export function pinAt(at: Cursor | undefined): PinRef | undefined {
  const ref = textAt(at);
  if (at === undefined || ref === undefined) return undefined;
  const pins = pinsOf(at.source, ref);
  if (pins.length > 1)
    return report(at.source.findings, 'bad-pin', `One pin is wanted, and ${ref.name} is a range.`, ref.span);
  return pins[0];
}

export const readSupplies: SectionReader = (root, fragment) => {
  for (const [name, at] of entries(child(root, 'supplies'))) {
    const span = keySpanOf(at);
    checkName(root.source, name, 'net', span);
    if (/^gnd$/i.test(name))
      report(root.source.findings, 'bad-name', 'GND is ground; a supply needs another name.', span);
    fragment.supplies.push({
      name,
      volts: quantityAt(child(at, 'volts'), 'voltage', { above: 0, most: 60 }) ?? 5,
      ...given('tolerance', quantityAt(child(at, 'tolerance'), 'ratio', { above: 0, most: 0.5 })),
      ...given('limitAmps', quantityAt(child(at, 'limit'), 'current', { above: 0, most: 100 })),
      span,
    });
  }
};

export const readClocks: SectionReader = (root, fragment) => {
  for (const [name, at] of entries(child(root, 'clocks'))) {
    checkName(root.source, name, 'other', keySpanOf(at));
    const rateHz = quantityAt(child(at, 'rate'), 'frequency', { above: 0, most: 1e9 });
    // A clock of unknown rate would make every margin look right or wrong by chance: it is left out.
    if (rateHz === undefined) continue;
    fragment.clocks.push({
      name,
      ...given('from', pinAt(child(at, 'from'))),
      rateHz,
      ...given('duty', quantityAt(child(at, 'duty'), 'ratio', { above: 0, most: 1 })),
      span: keySpanOf(at),
    });
  }
};

export const readDefaults: SectionReader = (root, fragment) => {
  const at = child(root, 'defaults');
  if (at === undefined) return;
  fragment.defaults = {
    ...given('family', textAt(child(at, 'family'))),
    ...given('pullOhm', quantityAt(child(at, 'pull'), 'resistance', { above: 0 })),
    ...given('bypassFarad', quantityAt(child(at, 'bypass'), 'capacitance', { above: 0 })),
    ...given('bulkFarad', quantityAt(child(at, 'bulk'), 'capacitance', { above: 0 })),
    ...given('ledOhm', quantityAt(child(at, 'led'), 'resistance', { above: 0 })),
    ...given('supply', textAt(child(at, 'supply'))),
    span: keySpanOf(at),
  };
};

function readBindings(at: Cursor | undefined, fragment: Fragment, budget: Parameters<SectionReader>[2]): PinBinding[] {
  const bindings: PinBinding[] = [];
  for (const [key, value] of entries(at)) {
    const net = textAt(value);
    if (net === undefined) continue;
    const pinSpan = keySpanOf(value);
    const { findings } = fragment.source;
    const pin = splitPinName(key);
    if (pin === undefined || /\s/.test(key)) {
      report(findings, 'bad-pin', `${JSON.stringify(key)} is no pin: PIN is wanted, or PIN@NUMBER.`, pinSpan);
      continue;
    }
    const open = net.name.trim().toLowerCase() === 'open';
    if (!open && !checkName(fragment.source, net.name, 'net', net.span)) continue;
    const pins = expandRange(pin.pin);
    const named = open ? [undefined] : expandRange(net.name);
    // A range of pins may all go to one net: `K8-K1: GND`.
    const nets = named.length === 1 ? pins.map(() => named[0]) : named;
    if (pins.length !== nets.length) {
      unequal(fragment.source, { name: key, span: pinSpan }, pins.length, net, nets.length);
      continue;
    }
    if (!spend(budget, 'items', pins.length, { span: pinSpan, findings })) return bindings;
    pins.forEach((name, index) => {
      bindings.push({
        pin: name,
        ...given('number', pin.number),
        pinSpan,
        net: nets[index],
        netSpan: net.span,
      });
    });
  }
  return bindings;
}

/** Reports two ranges that should be of one length. */
export function unequal(source: Source, a: NameRef, lengthA: number, b: NameRef, lengthB: number): void {
  const count = (name: string, length: number): string =>
    `${name} ${length === 1 && rangeLength(name) === undefined ? 'is one' : `has ${length}`}`;
  report(
    source.findings,
    'unequal-ranges',
    `The two sides differ in length: ${count(a.name, lengthA)}, ${count(b.name, lengthB)}.`,
    b.span,
    {
      notes: [{ text: `${a.name} stands here.`, span: a.span }],
      help: 'A range has the same letters on both sides, then numbers (A7-A0); they are joined in the order written.',
    },
  );
}

/** One part under its name. */
export function readPart(
  name: string,
  at: Cursor,
  fragment: Fragment,
  budget: Parameters<SectionReader>[2],
): PartDecl | undefined {
  const span = keySpanOf(at);
  const { findings } = fragment.source;
  if (!spend(budget, 'parts', 1, { span, findings })) return undefined;
  checkName(fragment.source, name, 'part', span);
  const type = textAt(child(at, 'type'));
  return {
    name,
    type: type?.name.trim() ?? '',
    typeSpan: type?.span ?? span,
    ...given('grade', textAt(child(at, 'grade'))),
    ...given('value', textAt(child(at, 'value'))),
    ...given('rateHz', quantityAt(child(at, 'rate'), 'frequency', { above: 0, most: 1e9 })),
    ...given('family', textAt(child(at, 'family'))),
    ...given('supply', textAt(child(at, 'supply'))),
    ...given('colour', textAt(child(at, 'colour'))),
    ...given('holds', pathAt(child(at, 'holds'))),
    ...given('throughOhm', quantityAt(child(at, 'through'), 'resistance', { above: 0, most: 1e9 })),
    comesOut: child(at, 'comes-out')?.value === true,
    ...given('uses', pathAt(child(at, 'uses'))),
    pins: readBindings(child(at, 'pins'), fragment, budget),
    ...given('note', textAt(child(at, 'note'))?.name),
    span,
  };
}

export const readParts: SectionReader = (root, fragment, budget) => {
  for (const [name, at] of entries(child(root, 'parts'))) {
    const part = readPart(name, at, fragment, budget);
    if (part === undefined) return;
    fragment.parts.push(part);
  }
};

/** The name, format and included files; `key` is `machine` or `block`. */
export function readHead(root: Cursor, fragment: Fragment, key: 'machine' | 'block'): void {
  fragment.name = textAt(child(root, key))?.name;
  fragment.about = textAt(child(root, 'about'))?.name;
  const format = child(root, 'format')?.value;
  if (typeof format === 'number') fragment.format = format;
  const includes = child(root, 'includes');
  if (includes !== undefined && Array.isArray(includes.value)) {
    includes.value.forEach((value: unknown, index) => {
      const path = pathAt({ source: root.source, value, path: [...includes.path, index] });
      if (path !== undefined) fragment.includes.push(path);
    });
  }
  fragment.layout = child(root, 'layout')?.value;
  for (const [name, at] of entries(child(root, 'joins'))) {
    checkName(root.source, name, 'net', keySpanOf(at));
    const fallback = textAt(child(at, 'default'));
    const about = typeof at.value === 'string' ? at.value : textAt(child(at, 'about'))?.name;
    const names = expandRange(name);
    const named = fallback === undefined ? undefined : expandRange(fallback.name);
    const nets = named?.length === 1 ? names.map(() => named[0]!) : named;
    if (fallback !== undefined && nets !== undefined && nets.length !== names.length) {
      unequal(root.source, { name, span: keySpanOf(at) }, names.length, fallback, nets.length);
      continue;
    }
    names.forEach((one, index) => {
      fragment.joins.push({
        name: one,
        about: about ?? '',
        ...given('default', nets === undefined ? undefined : { name: nets[index]!, span: fallback!.span }),
        span: keySpanOf(at),
      });
    });
  }
}
