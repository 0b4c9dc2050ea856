// The index of the pages of findings: docs/findings/README.md, made from the pages themselves by `npm run gen`.

/** What a page says in its first sentence, and how bad it is. */
function headOf(page: string): { readonly severity: string; readonly what: string } {
  const severity = /^Severity: (\w+)\./m.exec(page)?.[1] ?? '';
  const after = /^Severity: \w+\. (\S.*)$/m.exec(page)?.[1];
  const why = /^## Why\n+(\S.*)$/m.exec(page)?.[1];
  const text = after ?? why ?? '';
  return { severity, what: /^.*?[.:](?=\s|$)/.exec(text)?.[0].replace(/:$/, '.') ?? text };
}

const ENGINES: readonly (readonly [string, string])[] = [
  ['yaml', 'The text of a file'],
  ['machine', 'The machine file'],
  ['parts', 'Part records'],
  ['netlist', 'Connections derived and made'],
  ['check', 'Rules'],
  ['waiver', 'Waivers'],
];

/** The index as Markdown; `pages` by file name. */
export function findingIndex(pages: ReadonlyMap<string, string>): string {
  const groups = new Map<string, string[]>();
  for (const [name, text] of [...pages].sort((a, b) => (a[0] < b[0] ? -1 : 1))) {
    const code = /^# (\S+)$/m.exec(text)?.[1];
    if (code === undefined) continue;
    const { severity, what } = headOf(text);
    const engine = code.split('/')[0]!;
    const line = `| [${code}](${name}) | ${severity} | ${what.replaceAll('|', '\\|')} |`;
    const group = groups.get(engine);
    if (group === undefined) groups.set(engine, [line]);
    else group.push(line);
  }
  const named = new Set(ENGINES.map(([engine]) => engine));
  const order = [
    ...ENGINES,
    ...[...groups.keys()].filter((engine) => !named.has(engine)).map((engine) => [engine, engine] as const),
  ];
  const sections = order.flatMap(([engine, title]) => {
    const lines = groups.get(engine);
    return lines === undefined ? [] : [`## ${title}\n\n| code | severity | |\n|---|---|---|\n${lines.join('\n')}\n`];
  });
  return `# Findings

Every finding names its place, says why, and what to do. Its code leads to a page here. An error can harm a part, or cannot
work; it cannot be waived. A warning or a note can be, by code and place, with a reason that the book prints. This page is made
by \`npm run gen\`.

${sections.join('\n')}`;
}
