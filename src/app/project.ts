// One project in memory: the texts of its files, and everything derived from them, each computed when first asked for and
// kept until a file that it rests on changes. Hosts put texts in; nothing here reads a disk.

import { type Finding, foldName, type Result, sortFindings } from '../base/index.ts';
import { check } from '../check/index.ts';
import { type Machine, readMachine, type WaiverDecl } from '../machine/index.ts';
import { type Design, elaborate, type StageInfo } from '../netlist/index.ts';
import { createLibrary, type FamilyRecord, type Library, type PartRecord, readPart } from '../parts/index.ts';
import { MACHINE_FINDING_CODES } from './codes.ts';
import { applyWaivers, type Waived } from './findings.ts';

/** The records and blocks that come with the tool. */
export interface Shipped {
  readonly parts: readonly PartRecord[];
  readonly families: readonly FamilyRecord[];
  /** Texts of shipped blocks by name, such as `shipped:blocks/serial-port.yaml`. */
  readonly files: Readonly<Record<string, string>>;
}

interface Memo {
  readonly key: readonly unknown[];
  readonly value: unknown;
}

export class Project {
  readonly #shipped: Shipped;
  readonly #files = new Map<string, string>();
  readonly #memos = new Map<string, Memo>();
  readonly main: string;
  /** Counts changes of files that the machine rests on; layout, journal and captures do not. */
  #machineVersion = 0;

  constructor(shipped: Shipped, files: ReadonlyMap<string, string>, main = 'machine.yaml') {
    this.#shipped = shipped;
    this.main = main;
    for (const [path, text] of files) this.#files.set(path, text);
  }

  /** The records and blocks it was opened with. */
  get shipped(): Shipped {
    return this.#shipped;
  }

  /** The text of a file of the project (or of the tool's own blocks), if it is known. */
  text(path: string): string | undefined {
    return this.#files.get(path) ?? (Object.hasOwn(this.#shipped.files, path) ? this.#shipped.files[path] : undefined);
  }

  /** Names of the project's files. */
  paths(): string[] {
    return [...this.#files.keys()].sort();
  }

  /** Puts a file's new text in, or takes the file out. */
  setText(path: string, text: string | undefined): void {
    if (this.#files.get(path) === text) return;
    if (text === undefined) this.#files.delete(path);
    else this.#files.set(path, text);
    if (!path.startsWith('builds/')) this.#machineVersion++;
  }

  /** Computes once for the same inputs; inputs are compared by identity. */
  memo<T>(name: string, key: readonly unknown[], compute: () => T): T {
    const known = this.#memos.get(name);
    if (known !== undefined && known.key.length === key.length && known.key.every((item, k) => item === key[k]))
      return known.value as T;
    const value = compute();
    this.#memos.set(name, { key, value });
    return value;
  }

  /** The tool's library with the project's own parts, which stand before it. */
  library(): Result<Library> {
    const own = this.paths().filter((path) => /^parts\/[^/]+\.ya?ml$/.test(path));
    const texts = own.map((path) => this.#files.get(path));
    return this.memo('library', [this.#shipped, ...own, ...texts], () => {
      const findings: Finding[] = [];
      const records: PartRecord[] = [];
      for (const path of own) {
        const reading = readPart(path, this.#files.get(path)!);
        findings.push(...reading.findings);
        if (reading.value !== undefined) records.push(reading.value);
      }
      return { value: createLibrary([...this.#shipped.parts, ...records], this.#shipped.families), findings };
    });
  }

  machine(): Result<Machine> {
    return this.memo('machine', [this.#machineVersion], () =>
      readMachine(this.main, { read: (path) => this.text(path) }, { knownCodes: MACHINE_FINDING_CODES }),
    );
  }

  design(): Result<Design> {
    return this.memo('design', [this.machine(), this.library()], () =>
      elaborate(this.machine().value, this.library().value),
    );
  }

  /** Findings of reading, elaboration and checks, waivers not yet applied. */
  #raw(): readonly Finding[] {
    return this.memo('raw', [this.design()], () => {
      const design = this.design();
      const read = this.machine().findings;
      // What the reader says of a place, elaboration need not say once more: two nets for one pin, a type that is a number.
      const told = new Set(
        read.flatMap(({ code, where: [span] }) =>
          (code === 'machine/pin-on-two-nets' || code === 'yaml/misread-value') && span !== undefined
            ? [`${span.file} ${span.start}`]
            : [],
        ),
      );
      return sortFindings([
        ...read,
        ...this.library().findings,
        ...design.findings.filter(
          ({ code, where: [span] }) =>
            (code !== 'netlist/pin-in-two-nets' && code !== 'netlist/unknown-type') ||
            span === undefined ||
            !told.has(`${span.file} ${span.start}`),
        ),
        ...check(design.value, this.machine().value, this.library().value),
      ]);
    });
  }

  /** Waivers of what these findings can be; those of margins are the verb's that reckons them. */
  #waivers(): readonly WaiverDecl[] {
    return this.machine().value.waivers.filter((waiver) => !waiver.code.name.startsWith('margins/'));
  }

  /** Everything wrong or doubtful in the machine, in the order of its places; waived ones set aside. */
  findings(): readonly Finding[] {
    return this.memo('findings', [this.#raw()], () =>
      sortFindings(applyWaivers(this.#raw(), this.#waivers()).findings),
    );
  }

  waived(): readonly Waived[] {
    return this.memo('waived', [this.#raw()], () => applyWaivers(this.#raw(), this.#waivers()).waived);
  }

  /** The stage meant by a name or number on the command line: 0 is the empty bench; undefined when there is none such. */
  stageNamed(text: string | undefined): number | undefined {
    const stages: readonly StageInfo[] = this.design().value.stages;
    if (text === undefined) return stages.length;
    if (/^\d+$/.test(text)) return Number(text) <= stages.length ? Number(text) : undefined;
    return stages.find((stage) => foldName(stage.name) === foldName(text))?.number;
  }
}
