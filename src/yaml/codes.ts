// The codes of findings about YAML files of any kind, each with its meaning in a line; docs/findings has a page for each.

/** Codes of this folder and what each means. All are errors. */
export const YAML_CODES: Readonly<Record<string, string>> = {
  'yaml/duplicate-key': 'A key stands twice.',
  'yaml/empty': 'The file has nothing in it.',
  'yaml/misread-value': 'YAML reads this as a number, a truth value or nothing, but here a name or text is wanted.',
  'yaml/missing-key': 'A key that must be there is missing.',
  'yaml/no-value': 'A value is missing: a key with nothing after its colon, or an empty entry of a list.',
  'yaml/out-of-range': 'A number is too small or too large, or a list too short or too long.',
  'yaml/syntax': 'The file is not YAML here.',
  'yaml/too-deep': 'The file is nested deeper than any description.',
  'yaml/too-large': 'The file is longer than 4 million characters.',
  'yaml/too-many-aliases': 'More than 200 aliases (`*name`) are used.',
  'yaml/unknown-alias': 'An alias (`*name`) stands before its anchor (`&name`), or there is none.',
  'yaml/unknown-key': 'There is no such key here.',
  'yaml/unknown-word': 'The word is none of those that may stand here.',
  'yaml/wrong-form': 'A text has not the form that is wanted here.',
  'yaml/wrong-kind': 'A value of another kind is wanted here: a text, a number, a list, or a group of `key: value`.',
};
