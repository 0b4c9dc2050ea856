export { countFindings, findingToJson, findingToText, type JsonFinding, type JsonPlace, Places } from './findings.ts';
export { Project, type Shipped } from './project.ts';
export { refuse, type VerbResult } from './verb.ts';
export { checkVerb } from './verbs/check.ts';
export { netlistVerb } from './verbs/netlist.ts';
export { partsVerb } from './verbs/parts.ts';
