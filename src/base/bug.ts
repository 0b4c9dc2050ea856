/** Throws for a mistake of ours, never for bad input: hosts catch it once and report it as such. */
export function bug(message: string, context: Readonly<Record<string, unknown>> = {}): never {
  const detail = Object.keys(context).length > 0 ? ` ${JSON.stringify(context)}` : '';
  throw new Error(`Internal error: ${message}${detail}`);
}
