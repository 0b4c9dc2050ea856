// The command line: reads the arguments, runs the verb, prints its text or one JSON document, and gives the exit code: 0
// nothing wrong, 1 findings of severity error, 2 the request could not be carried out.

import { Command, CommanderError } from 'commander';
import {
  checkVerb,
  countFindings,
  findingToJson,
  findingToText,
  netlistVerb,
  partsVerb,
  Places,
  Project,
  refuse,
  type VerbResult,
} from '../app/index.ts';
import { hasErrors } from '../base/index.ts';
import { loadShipped, type OpenedProject, openProject } from './host.ts';

interface Common {
  readonly json?: boolean;
  readonly stage?: string;
  readonly build?: string;
  readonly project?: string;
}

interface Output {
  out(text: string): void;
  err(text: string): void;
}

const STANDARD: Output = {
  out: (text) => void process.stdout.write(text),
  err: (text) => void process.stderr.write(text),
};

/** Runs the program with `args` (without the program's name); `root` is where it is installed. */
export async function main(args: readonly string[], root: string, output: Output = STANDARD): Promise<number> {
  let code = 0;
  const shipped = loadShipped(root);
  const wantsJson = args.includes('--json');
  const finish = (verb: string, result: VerbResult, project: Project | undefined, json: boolean): void => {
    const places = new Places((file) => project?.text(file));
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
      netlistVerb(project, options.explain === undefined ? { stage } : { stage, explain: options.explain }),
    ),
  );

  try {
    await program.parseAsync([...args], { from: 'user' });
  } catch (error) {
    if (!(error instanceof CommanderError)) throw error;
    if (error.exitCode === 0) return 0;
    const verb = args.find((word) => !word.startsWith('-')) ?? 'help';
    if (wantsJson) finish(verb, refuse('cli/usage', error.message.replace(/^error: /, '')), undefined, true);
    return 2;
  }
  return code;
}
