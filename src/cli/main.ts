// The command line: reads the arguments, runs the verb, prints its text or one JSON document, and gives the exit code: 0
// nothing wrong, 1 findings of severity error, 2 the request could not be carried out.

import { writeFileSync } from 'node:fs';
import { readFileSync } from 'node:fs';
import { join, relative, resolve } from 'node:path';
import { Command, CommanderError, InvalidArgumentError, Option } from 'commander';
import {
  type Build,
  bookInputOf,
  bookVerb,
  buildNames,
  cardVerb,
  cycleVerb,
  checkVerb,
  chooseBuild,
  countFindings,
  decodeVerb,
  diagnoseVerb,
  probesVerb,
  doneVerb,
  expectVerb,
  explainVerb,
  findingToJson,
  findingToText,
  failedVerb,
  journalVerb,
  mendedVerb,
  renamedVerb,
  imageVerb,
  layVerb,
  marginsVerb,
  measuredVerb,
  netlistVerb,
  overVerb,
  Places,
  Project,
  partsVerb,
  progressValue,
  proofsVerb,
  readingVerb,
  refuse,
  MachineRun,
  runVerb,
  walkVerb,
  shoppingVerb,
  stepsVerb,
  touchVerb,
  undoVerb,
  type VerbResult,
  whereVerb,
  wordVerb,
  wrongVerb,
} from '../app/index.ts';
import { hasErrors } from '../base/index.ts';
import { serveWorkbench, writeWhole } from '../server/index.ts';
import { carryOut, keepPhoto } from './files.ts';
import { loadShipped, type OpenedProject, openProject, projectPlace, readBytes, readCaptureFile } from './host.ts';
import { liveTerminal } from './live-terminal.ts';
import { describeTemplates, fillFolder, newProject } from './new-project.ts';
import { bookPdf, makePdf } from './pdf-paper.ts';
import { progressBar } from './progress-bar.ts';

interface Common {
  readonly json?: boolean;
  readonly stage?: string;
  readonly build?: string;
  readonly project?: string;
}

interface MarginsWords {
  readonly clock?: number;
  readonly wanted?: number;
  readonly measured?: string[];
  readonly drawing?: string;
  readonly with?: string;
  readonly out?: string;
}

/** The version of the installed package. */
function versionOf(root: string): string {
  return (JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as { version: string }).version;
}

/** The build whose exchanged pins the netlist shows, where it is clear which one. */
function givenBuild(project: Project, name: string | undefined): { readonly build?: Build } {
  const build = chooseBuild(project, name);
  return build === undefined ? {} : { build };
}

interface Output {
  out(text: string): void;
  err(text: string): void;
}

const STANDARD: Output = {
  out: (text) => void process.stdout.write(text),
  err: (text) => void process.stderr.write(text),
};

const FILE_HELP: Readonly<Record<string, string>> = {
  EACCES: 'You may not read or write there: look at the owner and the permissions.',
  EPERM: 'You may not read or write there: look at the owner and the permissions.',
  EROFS: 'What is there can only be read.',
  ENOSPC: 'The disk is full.',
  ENOTDIR: 'A file stands where a folder is wanted.',
  EEXIST: 'A file stands where a folder is wanted.',
  EISDIR: 'A folder stands where a file is wanted.',
};

/** Whether the file system said no, which is no mistake of the program. */
function isFileError(error: unknown): error is NodeJS.ErrnoException & { readonly code: string } {
  return error instanceof Error && Object.hasOwn(FILE_HELP, (error as NodeJS.ErrnoException).code ?? '');
}

/** Runs the program with `args` (without the program's name); `root` is where it is installed. */
export async function main(args: readonly string[], root: string, output: Output = STANDARD): Promise<number> {
  let code = 0;
  const shipped = loadShipped(root);
  const wantsJson = args.includes('--json');
  const finish = (
    verb: string,
    result: VerbResult,
    project: Project | undefined,
    json: boolean,
    texts?: ReadonlyMap<string, string>,
  ): void => {
    const places = new Places((file) => texts?.get(file) ?? project?.text(file));
    if (json) {
      output.out(
        `${JSON.stringify({ format: `proofboard/${verb}/1`, value: result.value, findings: result.findings.map((finding) => findingToJson(finding, places)) }, null, 2)}\n`,
      );
    } else {
      if (result.text !== '') output.out(`${result.text}\n`);
      if (result.findings.length > 0) {
        const text = result.findings.map((finding) => findingToText(finding, places)).join('\n');
        if (result.refused === true) output.err(`${text}\n`);
        else output.out(`${result.text === '' ? '' : '\n'}${text}\n\n${countFindings(result.findings)}\n`);
      }
    }
    code = result.refused === true ? 2 : hasErrors(result.findings) ? 1 : 0;
  };

  const program = new Command('proofboard');
  program
    .description('From one description of a machine to boards that are wired, checked, planned and proved.')
    .version(versionOf(root), '--version')
    .exitOverride()
    .configureOutput({ writeOut: output.out, writeErr: (text) => (wantsJson ? undefined : output.err(text)) });

  const common = (command: Command): Command =>
    command
      .option('--project <dir>', 'the project, where the argument is something else')
      .option('--stage <stage>', "a stage's name or number, 0 for the empty bench; the last unless said")
      .option('--build <name>', 'which build of the machine')
      .option('--json', 'one JSON document on standard output');

  /** Opens the project and stage, runs `verb` on them, or refuses with the reason. */
  const onProject = async (
    name: string,
    path: string | undefined,
    options: Common,
    verb: (opened: OpenedProject, stage: number) => VerbResult | Promise<VerbResult>,
  ): Promise<void> => {
    const json = options.json === true;
    const opened = openProject(options.project ?? path ?? '.', shipped);
    if (typeof opened === 'string') {
      finish(
        name,
        refuse(
          'cli/no-project',
          opened,
          'Name a folder that holds a machine.yaml, or make one with `proofboard new DIR`.',
        ),
        undefined,
        json,
      );
      return;
    }
    const stage = opened.project.stageNamed(options.stage);
    if (stage === undefined) {
      const stages = opened.project.design().value.stages.map((info) => `${info.number} ${info.name}`);
      finish(
        name,
        refuse('cli/no-stage', `There is no stage ${options.stage}.`, `Stages: ${stages.join(', ')}.`),
        opened.project,
        json,
      );
      return;
    }
    finish(name, await verb(opened, stage), opened.project, json);
  };

  common(program.command('parts [type]').description('the part library, or one type in full')).action(
    (type: string | undefined, options: Common) => {
      const opened = options.project === undefined ? undefined : openProject(options.project, shipped);
      if (typeof opened === 'string')
        return finish('parts', refuse('cli/no-project', opened), undefined, options.json === true);
      const project = opened?.project ?? new Project(shipped, new Map());
      finish('parts', partsVerb(project, type), project, options.json === true);
    },
  );
  common(program.command('check [project]').description('electrical and design rules')).action(
    (path: string | undefined, options: Common) =>
      onProject('check', path, options, ({ project }, stage) => checkVerb(project, { stage })),
  );
  common(
    program
      .command('netlist [project]')
      .description('every net, or one explained')
      .option('--explain <net>', 'which line made each connection of a net'),
  ).action((path: string | undefined, options: Common & { explain?: string }) =>
    onProject('netlist', path, options, ({ project }, stage) =>
      netlistVerb(project, {
        stage,
        ...(options.explain === undefined ? {} : { explain: options.explain }),
        ...givenBuild(project, options.build),
      }),
    ),
  );

  /** Opens a build of the project, or refuses with the names there are. */
  /** Long work with a bar on a terminal; `show` takes the share done and answers that the work goes on. */
  const withBar = (options: Common, work: (show: (share: number) => true) => VerbResult): VerbResult => {
    const bar = progressBar(output, options.json !== true && process.stderr.isTTY === true);
    const result = work((share) => {
      bar.show(share);
      return true;
    });
    bar.done();
    return result;
  };
  const onBuild = (
    name: string,
    path: string | undefined,
    options: Common,
    verb: (build: Build, stage: number, opened: OpenedProject) => VerbResult | Promise<VerbResult>,
  ): Promise<void> =>
    onProject(name, path, options, async (opened, stage) => {
      const build = chooseBuild(opened.project, options.build);
      if (build === undefined) {
        const names = buildNames(opened.project);
        return refuse(
          'cli/which-build',
          options.build === undefined
            ? 'There are several builds; say which.'
            : `${options.build} is no name for a build.`,
          `Builds: ${names.join(', ')}. Name one with --build.`,
        );
      }
      // Nothing is planned, written or noted for a machine of which nothing could be read.
      const findings = opened.project.findings();
      if (opened.project.design().value.netlists.at(-1)!.parts.length === 0 && hasErrors(findings))
        return { value: null, findings, text: '', refused: true };
      const result = await verb(build, stage, opened);
      if (result.effects === undefined || result.refused === true) return result;
      carryOut(opened.project, opened.folder, result.effects);
      return result;
    });

  const number = (text: string): number => {
    const value = /^0x[0-9a-f]+$/i.test(text) ? Number.parseInt(text.slice(2), 16) : Number(text);
    if (!Number.isSafeInteger(value) || value < 0) throw new InvalidArgumentError('A whole number is wanted.');
    return value;
  };

  const volts = (text: string): number => {
    const value = text.trim() === '' ? Number.NaN : Number(text);
    if (!Number.isFinite(value)) throw new InvalidArgumentError('A number of volts is wanted.');
    return value;
  };

  const seconds = (text: string): number => {
    const value = text.trim() === '' ? Number.NaN : Number(text);
    if (!Number.isFinite(value) || value <= 0) throw new InvalidArgumentError('A number of seconds is wanted.');
    return value;
  };

  common(
    program
      .command('new <dir>')
      .description('a project from a template')
      .option('--from <template>', 'which template; first-machine unless said'),
  ).action((dir: string, options: Common & { from?: string }) =>
    finish('new', newProject(root, dir, options.from), undefined, options.json === true),
  );
  common(
    program
      .command('lay [project]')
      .description('place and wire')
      .option('--seed <n>', 'another seed, another layout', number)
      .option('--moves <n>', 'how many moves the placer tries', number)
      .option('--seconds <s>', 'stop after this time and keep the best so far', seconds),
  ).action((path: string | undefined, options: Common & { seed?: number; moves?: number; seconds?: number }) =>
    onBuild('lay', path, options, (build, stage) => {
      const started = Date.now();
      return withBar(options, (show) =>
        layVerb(build, {
          stage,
          ...(options.seed === undefined ? {} : { seed: options.seed }),
          ...(options.moves === undefined ? {} : { moves: options.moves }),
          ...(options.seconds === undefined
            ? {}
            : { shouldStop: () => Date.now() - started > options.seconds! * 1000 }),
          onProgress: ({ share }) => show(share),
        }),
      );
    }),
  );
  common(
    program
      .command('run [project]')
      .description('simulate the machine as it is wired, with its proofs')
      .option('--clocks <n>', 'processor clocks after reset; 200,000 unless said', number)
      .option('--vcd <file>', 'a value change dump of every net (IEEE 1364)')
      .option('--verilog <file>', 'the machine as structural Verilog (IEEE 1364)')
      .option('--terminal', 'only what the terminal shows')
      .option('--talk', 'standard input and output are its terminal; Control-] ends')
      .option('--port <n>', 'its terminal on a TCP port of this computer; 0 for any', number)
      .option('--speed <n>', 'with --talk or --port: clocks a second; its own unless said', number)
      .option('--step <what>', 'a line for each clock, cycle or instruction, or press of what is named')
      .option('--count <n>', 'with --step: how many; 16 unless said', number)
      .option('--send <text>', 'sent at the terminal after reset')
      .option('--seed <n>', 'another seed for what RAM holds at power-up', number)
      .option('--intended', 'the netlist as meant, not as the boards have it'),
  ).action(
    (
      path: string | undefined,
      options: Common & {
        clocks?: number;
        vcd?: string;
        verilog?: string;
        terminal?: boolean;
        talk?: boolean;
        port?: number;
        speed?: number;
        step?: string;
        count?: number;
        send?: string;
        seed?: number;
        intended?: boolean;
      },
    ) =>
      onBuild('run', path, options, async (build, stage) => {
        const machineOptions = {
          ...(options.seed === undefined ? {} : { seed: options.seed }),
          ...(options.intended === true ? { from: 'netlist' as const } : {}),
        };
        if (options.step !== undefined)
          return walkVerb(build, {
            stage,
            by: options.step,
            ...(options.count === undefined ? {} : { count: options.count }),
            ...machineOptions,
          });
        if (options.talk === true || options.port !== undefined) {
          const machine = new MachineRun(build, stage, machineOptions);
          if (!machine.hasTerminal)
            return refuse('run/no-terminal', `No serial line leads out of the machine at stage ${stage}.`);
          machine.toReset();
          const problem = await liveTerminal(
            machine,
            {
              isHere: options.talk === true && options.json !== true,
              ...(options.port === undefined ? {} : { port: options.port }),
              ...(options.speed === undefined ? {} : { speed: options.speed }),
              ...(options.clocks === undefined ? {} : { clocks: options.clocks }),
            },
            output,
          );
          if (problem !== undefined) return refuse('run/port', `The port cannot be opened: ${problem}.`);
          return {
            value: {
              stage,
              from: machine.from,
              clocks: machine.view().clocks,
              terminal: machine.session.terminalText(),
            },
            findings: [...machine.findings, ...machine.session.findings],
            text: '',
          };
        }
        const { vcd, verilog, ...result } = runVerb(build, {
          stage,
          vcd: options.vcd !== undefined,
          verilog: options.verilog !== undefined,
          ...(options.clocks === undefined ? {} : { clocks: options.clocks }),
          ...(options.seed === undefined ? {} : { seed: options.seed }),
          ...(options.send === undefined ? {} : { send: options.send }),
          ...(options.intended === true ? { from: 'netlist' as const } : {}),
        });
        for (const [file, text] of [
          [options.vcd, vcd],
          [options.verilog, verilog],
        ]) {
          if (file === undefined || text === undefined) continue;
          try {
            writeFileSync(resolve(file), text);
          } catch (error) {
            return refuse('cli/not-written', `${file} cannot be written: ${(error as Error).message}.`);
          }
        }
        if (options.terminal !== true || options.json === true) return result;
        return { ...result, text: (result.value as { terminal: string }).terminal };
      }),
  );
  common(
    program
      .command('expect [project]')
      .description('what instruments should show at each net')
      .option('--clocks <n>', 'clocks to measure over', number)
      .option('--at <name>', 'one net, part or pin only, with its first microseconds after reset')
      .option('--first <us>', 'microseconds of that; 10 unless said', number)
      .option('--intended', 'the netlist as meant, not as the boards have it'),
  ).action(
    (
      path: string | undefined,
      options: Common & { clocks?: number; at?: string; first?: number; intended?: boolean },
    ) =>
      onBuild('expect', path, options, (build, stage) =>
        expectVerb(build, {
          stage,
          ...(options.at === undefined ? {} : { at: options.at }),
          ...(options.first === undefined ? {} : { firstUs: options.first }),
          ...(options.clocks === undefined ? {} : { clocks: options.clocks }),
          ...(options.intended === true ? { from: 'netlist' as const } : {}),
        }),
      ),
  );
  common(
    program
      .command('probes [project]')
      .description('which nets to hook up, what that proves, and what to measure next')
      .option('--channels <n>', 'how many channels there are; 16 unless said', number)
      .option('--have <net...>', 'nets that are hooked up: what a capture of them covers')
      .option('--answer <words...>', '"A7 stuck low", "/RD 230 kHz", "CPU.A7 ROM.A7 open": what was measured'),
  ).action((path: string | undefined, options: Common & { channels?: number; have?: string[]; answer?: string[] }) =>
    onBuild('probes', path, options, (build, stage) =>
      withBar(options, (show) =>
        probesVerb(build, {
          stage,
          ...(options.channels === undefined ? {} : { channels: options.channels }),
          ...(options.have === undefined ? {} : { have: options.have }),
          ...(options.answer === undefined ? {} : { answers: options.answer }),
          progress: show,
        }),
      ),
    ),
  );
  common(
    program
      .command('diagnose [project]')
      .description('find the wrong wire from captures')
      .requiredOption('--capture <file...>', 'captures of the stage (VCD or CSV); several tell more')
      .option(
        '--channel <told...>',
        'CH3=/RD tells a channel its net, CH3=~/RD one that shows the opposite, CH3= none; kept',
      )
      .option('--low <volts>', 'an analogue channel is low below this; 0.8 unless said', volts)
      .option('--high <volts>', 'an analogue channel is high above this; 2.0 unless said', volts)
      .option('--period <seconds>', 'time between samples, for a table that does not tell', seconds)
      .option('--unit <seconds>', 'one unit of the time column in seconds, for a table that does not tell', seconds),
  ).action(
    (
      path: string | undefined,
      options: Common & {
        capture: string[];
        channel?: string[];
        low?: number;
        high?: number;
        period?: number;
        unit?: number;
      },
    ) =>
      onBuild('diagnose', path, options, (build, stage) => {
        const files = options.capture.map((file) =>
          readCaptureFile(file, {
            ...(options.low === undefined ? {} : { lowVolts: options.low }),
            ...(options.high === undefined ? {} : { highVolts: options.high }),
            ...(options.period === undefined ? {} : { samplePeriod: options.period }),
            ...(options.unit === undefined ? {} : { timeUnit: options.unit }),
          }),
        );
        const missing = files.find((file): file is { problem: string } => 'problem' in file);
        if (missing !== undefined) return refuse('cli/no-capture', missing.problem, 'Name the file of a capture.');
        return withBar(options, (show) =>
          diagnoseVerb(build, {
            stage,
            files: files.flatMap((file) => ('problem' in file ? [] : [file])),
            ...(options.channel === undefined ? {} : { channels: options.channel }),
            progress: show,
          }),
        );
      }),
  );
  common(
    program
      .command('steps [project]')
      .description('what to do next')
      .addOption(
        new Option(
          '--fit <pass>',
          'jumpers: a first pass with loose jumpers; fitted: these are then exchanged for cut wires',
        ).choices(['as-laid', 'jumpers', 'fitted']),
      ),
  ).action((path: string | undefined, options: Common & { fit?: 'as-laid' | 'jumpers' | 'fitted' }) =>
    onBuild('steps', path, options, (build, stage) =>
      stepsVerb(build, { stage, ...(options.fit === undefined ? {} : { fit: options.fit }) }),
    ),
  );
  common(
    program
      .command('over [project]')
      .description('what should be seen hole by hole in what a stage put in, for a second look')
      .option('--group <group>', 'one group of steps only, such as address'),
  ).action((path: string | undefined, options: Common & { group?: string }) =>
    onBuild('over', path, options, (build, stage) =>
      overVerb(build, { stage, ...(options.group === undefined ? {} : { group: options.group }) }),
    ),
  );
  common(
    program
      .command('journal [project]')
      .description('every record of the journal')
      .option('--csv <file>', 'writes it as CSV as well'),
  ).action((path: string | undefined, options: Common & { csv?: string }) =>
    onBuild('journal', path, options, (build) => {
      const { csv, ...result } = journalVerb(build);
      if (options.csv !== undefined) writeWhole(resolve(options.csv), csv);
      return result;
    }),
  );
  common(
    program
      .command('photo <file>')
      .description('a photo of the boards, kept in the build and noted in the journal')
      .option('--text <words>', 'what it shows'),
  ).action((file: string, options: Common & { text?: string }) =>
    onBuild('photo', undefined, options, (build, _stage, opened) => {
      const kept = keepPhoto(file, opened.folder, build.folder);
      if ('problem' in kept) return refuse('cli/no-photo', kept.problem);
      return wordVerb(build, 'photo', options.text ?? '', {
        time: new Date().toISOString(),
        file: kept.path,
        ...(options.stage === undefined ? {} : { stage: options.stage }),
      });
    }),
  );
  common(
    program
      .command('decode [project]')
      .description('the memory map to fuse files, proved')
      .option('--out <dir>', 'where the fuse files go; fuses/ in the build unless said'),
  ).action((path: string | undefined, options: Common & { out?: string }) =>
    onBuild('decode', path, options, (build, stage, opened) => {
      const inProject = `${build.folder}/fuses`;
      const result = decodeVerb(build, { stage, out: inProject });
      if (options.out === undefined) return result;
      carryOut(opened.project, opened.folder, result.effects ?? [], { from: inProject, to: resolve(options.out) });
      return decodeVerb(build, { stage, out: options.out, written: true });
    }),
  );
  common(
    program
      .command('margins [project]')
      .description('timing, loading, levels, supply')
      .option('--clock <hz>', "another clock than the machine's, such as 8e6", Number)
      .option('--wanted <volts>', 'proposes feeds that restore so many volts at the lowest chip', Number)
      .option('--drawing <cycle>', 'writes the drawing of a cycle, such as "memory read", with its slack')
      .option('--with <part>', 'the drawing with this part only')
      .option('--out <dir>', 'where the drawing goes; margins/ in the build unless said')
      .option('--measured <reading...>', 'PART=VOLTS or PART.PIN=VOLTS, as the meter shows: which contact is bad'),
  ).action((path: string | undefined, options: Common & MarginsWords) =>
    onBuild('margins', path, options, (build, stage, opened) => {
      const { clock, wanted, measured } = options;
      if (measured !== undefined) return measuredVerb(build, { stage, measured });
      if (wanted !== undefined && !(wanted > 0 && wanted < 1000))
        return refuse('cli/usage', 'Volts are wanted, such as 4.85.');
      if (clock !== undefined && !(clock > 0 && clock < 1e10))
        return refuse('cli/usage', 'A frequency in Hz is wanted, such as 4000000 or 8e6.');
      if (options.drawing !== undefined) {
        const folder = `${build.folder}/margins`;
        const result = cycleVerb(build, {
          stage,
          cycle: options.drawing,
          ...(options.with === undefined ? {} : { target: options.with }),
          ...(clock === undefined ? {} : { clockHz: clock }),
        });
        if (result.refused === true) return result;
        const to = options.out === undefined ? undefined : { from: folder, to: resolve(options.out) };
        carryOut(opened.project, opened.folder, result.effects ?? [], to);
        const value = result.value as { files: string[] };
        const files = value.files.map((file) => `${options.out ?? folder}${file.slice(folder.length)}`);
        return { ...result, value: { ...value, files }, text: `Wrote ${files.join(', ')}.`, effects: [] };
      }
      return marginsVerb(build, {
        stage,
        ...(clock === undefined ? {} : { clockHz: clock }),
        ...(wanted === undefined ? {} : { wantedVolts: wanted }),
      });
    }),
  );
  common(
    program
      .command('explain <file>')
      .description('a fuse file to equations')
      .requiredOption('--device <device>', '16V8, 20V8 or 22V10'),
  ).action((file: string, options: Common & { device: string }) => {
    const bytes = readBytes(file);
    const json = options.json === true;
    if ('problem' in bytes) finish('explain', refuse('cli/no-file', bytes.problem), undefined, json);
    else
      finish(
        'explain',
        explainVerb(file, bytes, options.device),
        undefined,
        json,
        new Map([[file, Buffer.from(bytes).toString('latin1')]]),
      );
  });
  common(
    program.command('shopping [project]').description('what the machine takes, what is in stock, what to buy'),
  ).action((path: string | undefined, options: Common) =>
    onBuild('shopping', path, options, (build, stage) => shoppingVerb(build, { stage })),
  );
  common(
    program
      .command('touch [project]')
      .description('the meter plan of a stage, before its first power')
      .option('--reading <id=ohms>', 'what a touch read, in ohms or the word open: what a wrong one points at'),
  ).action((path: string | undefined, options: Common & { reading?: string }) =>
    onBuild('touch', path, options, (build, stage) => {
      if (options.reading === undefined) return touchVerb(build, { stage });
      const match = /^([^=]+)=(open|[\d.]+(?:e\d+)?)$/i.exec(options.reading);
      if (match === null)
        return refuse('cli/usage', `${options.reading} is no reading: ID=OHMS is wanted, or ID=open.`);
      const ohms = match[2]!.toLowerCase() === 'open' ? Number.POSITIVE_INFINITY : Number(match[2]);
      return readingVerb(build, { stage, id: match[1]!.trim(), ohms, time: new Date().toISOString() });
    }),
  );
  common(program.command('card [project]').description('the power-on card of a stage')).action(
    (path: string | undefined, options: Common) =>
      onBuild('card', path, options, (build, stage) => cardVerb(build, { stage })),
  );
  common(program.command('proofs [project]').description('which proofs stand, and the order to prove again')).action(
    (path: string | undefined, options: Common) =>
      onBuild('proofs', path, options, (build, stage) => proofsVerb(build, { stage })),
  );
  common(program.command('where [project]').description('where was I: what is in, what is next, what is open')).action(
    (path: string | undefined, options: Common) =>
      onBuild('where', path, options, (build, stage) => whereVerb(build, { stage, now: new Date().toISOString() })),
  );
  for (const act of ['note', 'fault'] as const) {
    common(
      program
        .command(`${act} <text>`)
        .description(act === 'note' ? 'a note for the journal' : 'a fault that was found, for the journal')
        .option('--about <names...>', 'parts, wires or holes it is about'),
    ).action((text: string, options: Common & { about?: string[] }) =>
      onBuild(act, undefined, options, (build) =>
        wordVerb(build, act, text, {
          time: new Date().toISOString(),
          ...(options.stage === undefined ? {} : { stage: options.stage }),
          ...(options.about === undefined ? {} : { about: options.about }),
        }),
      ),
    );
  }
  common(
    program
      .command('mended [text]')
      .description('a fault is mended: the last one still open, or the one named')
      .option('--fault <id>', 'the fault’s record in the journal'),
  ).action((text: string | undefined, options: Common & { fault?: string }) =>
    onBuild('mended', undefined, options, (build) =>
      mendedVerb(build, text ?? '', {
        time: new Date().toISOString(),
        ...(options.fault === undefined ? {} : { fault: options.fault }),
      }),
    ),
  );
  common(
    program
      .command('failed <id>')
      .description('a proof was not as expected (`done` records one that was)')
      .option('--found <words>', 'what it showed instead'),
  ).action((id: string, options: Common & { found?: string }) =>
    onBuild('failed', undefined, options, (build, stage) =>
      failedVerb(build, id, { stage, found: options.found ?? '', time: new Date().toISOString() }),
    ),
  );
  common(
    program
      .command('renamed [project]')
      .description('the machine or the build bears another name now: its journal goes on')
      .option('--machine <name>', 'the machine’s name before')
      .option('--was-build <name>', 'the build’s name before'),
  ).action((path: string | undefined, options: Common & { machine?: string; wasBuild?: string }) =>
    onBuild('renamed', path, options, (build) =>
      renamedVerb(build, {
        time: new Date().toISOString(),
        ...(options.machine === undefined ? {} : { machine: options.machine }),
        ...(options.wasBuild === undefined ? {} : { wasBuild: options.wasBuild }),
      }),
    ),
  );
  const withProgress = (result: VerbResult, build: Build, stage: number, opened: OpenedProject): VerbResult => {
    if (result.refused === true) return result;
    carryOut(opened.project, opened.folder, result.effects ?? []);
    const progress = progressValue(build, stage);
    return {
      value: progress.value,
      findings: result.findings,
      text: [result.text, progress.text].filter((text) => text !== '').join('\n'),
    };
  };
  common(program.command('done <ids...>').description('mark steps as done')).action((ids: string[], options: Common) =>
    onBuild('done', undefined, options, (build, stage, opened) =>
      withProgress(doneVerb(build, ids, { stage, time: new Date().toISOString() }), build, stage, opened),
    ),
  );
  common(
    program
      .command('wrong <id> [text]')
      .description('a step marked done turned out wrong: a fault, and the step again'),
  ).action((id: string, text: string | undefined, options: Common) =>
    onBuild('wrong', undefined, options, (build, stage, opened) =>
      withProgress(wrongVerb(build, id, { text: text ?? '', time: new Date().toISOString() }), build, stage, opened),
    ),
  );
  common(program.command('undo [project]').description('take back the last act')).action(
    (path: string | undefined, options: Common) =>
      onBuild('undo', path, options, (build, stage, opened) =>
        withProgress(undoVerb(build, { time: new Date().toISOString() }), build, stage, opened),
      ),
  );
  common(
    program
      .command('image [project]')
      .description('what each memory is to hold as of a stage, with the sums a device programmer shows')
      .option('--out <dir>', 'a folder for the bytes of each memory'),
  ).action((path: string | undefined, options: Common & { out?: string }) =>
    onBuild('image', path, options, (build, stage) => {
      const result = imageVerb(build, { stage, ...(options.out === undefined ? {} : { out: options.out }) });
      for (const file of result.bytes ?? []) writeWhole(resolve(file.path), file.bytes);
      return result;
    }),
  );
  common(
    program
      .command('book [project]')
      .description('the record as files')
      .option('--out <dir>', 'where it goes; book/ in the build unless said'),
  ).action((path: string | undefined, options: Common & { out?: string }) =>
    onBuild('book', path, options, async (build, _stage, opened) => {
      const inProject = `${build.folder}/book`;
      const result = bookVerb(build, { out: inProject });
      const to = options.out === undefined ? undefined : resolve(options.out);
      carryOut(
        opened.project,
        opened.folder,
        result.effects ?? [],
        to === undefined ? undefined : { from: inProject, to },
      );
      const shown = options.out ?? inProject;
      const pdf = `${inProject}/book.pdf`;
      writeWhole(
        to === undefined ? join(opened.folder, pdf) : join(to, 'book.pdf'),
        await makePdf(bookInputOf(build), root, join(opened.folder, build.folder)),
      );
      const files = [...(result.value as { files: string[] }).files, pdf].map(
        (file) => `${shown}${file.slice(inProject.length)}`,
      );
      return {
        value: { files },
        findings: result.findings,
        text: `Wrote ${files.length} ${files.length === 1 ? 'file' : 'files'}: ${files[0]} is the page.`,
      };
    }),
  );
  common(
    program
      .command('open [project]')
      .description('the machine in a browser')
      .option('--port <n>', 'a port of your choice', number),
  ).action(async (path: string | undefined, options: Common & { port?: number }) => {
    const json = options.json === true;
    const place = projectPlace(path ?? '.');
    if (typeof place === 'string')
      return finish(
        'open',
        refuse('cli/no-project', place, 'Name a folder; an empty one is begun from a template.'),
        undefined,
        json,
      );
    const { folder, main: file } = place;
    const served = await serveWorkbench({
      root,
      folder,
      main: file,
      templates: describeTemplates(root),
      pdf: (name) => bookPdf(join(place.folder, place.main), name, shipped, root),
      begin: (template) => fillFolder(root, folder, template),
      ...(options.port === undefined ? {} : { port: options.port }),
      ...(options.build === undefined ? {} : { build: options.build }),
    });
    for (const signal of ['SIGINT', 'SIGTERM'] as const) process.once(signal, () => void served.close());
    finish(
      'open',
      { value: { url: served.url }, findings: [], text: `Open ${served.url}\nStop with Ctrl-C.` },
      undefined,
      json,
    );
  });

  try {
    await program.parseAsync([...args], { from: 'user' });
  } catch (error) {
    const verb = args.find((word) => !word.startsWith('-')) ?? 'help';
    if (isFileError(error)) {
      const about = error.path === undefined ? '' : ` ${relative(process.cwd(), error.path) || '.'}`;
      const result = refuse('cli/file-error', `The file system refuses${about}: ${error.code}.`, FILE_HELP[error.code]);
      finish(verb, result, undefined, wantsJson);
      return 2;
    }
    if (!(error instanceof CommanderError)) throw error;
    if (error.exitCode === 0) return 0;
    if (wantsJson) finish(verb, refuse('cli/usage', error.message.replace(/^error: /, '')), undefined, true);
    return 2;
  }
  return code;
}
