// An independent reader for drawings: saxes checks that a text is well-formed XML (it throws where not) and lists its elements.

import { SaxesParser } from 'saxes';

export interface XmlElement {
  readonly name: string;
  readonly attributes: Readonly<Record<string, string>>;
  /** Character data directly inside. */
  text: string;
  readonly path: readonly string[];
}

/** The elements of a document in order; throws where it isn't well-formed. */
export function readXml(text: string): XmlElement[] {
  const parser = new SaxesParser();
  const elements: XmlElement[] = [];
  const open: XmlElement[] = [];
  parser.on('error', (error) => {
    throw error;
  });
  parser.on('opentag', (tag) => {
    const element = {
      name: tag.name,
      attributes: tag.attributes as Record<string, string>,
      text: '',
      path: open.map((parent) => parent.name),
    };
    elements.push(element);
    open.push(element);
  });
  parser.on('text', (data) => {
    const top = open.at(-1);
    if (top !== undefined) top.text += data;
  });
  parser.on('closetag', () => {
    open.pop();
  });
  parser.write(text).close();
  return elements;
}
