// Findings of captures in one form: code, message, remedy, and what they are about.

import type { Finding } from '../../base/index.ts';
import { BRINGUP_CAPTURE_CODES, type BringupCaptureCode } from './codes.ts';

/** A finding of this folder; its severity is the code's. */
export function finding(
  code: BringupCaptureCode,
  message: string,
  help: string,
  more: { readonly about?: readonly string[]; readonly why?: string } = {},
): Finding {
  return {
    code,
    severity: BRINGUP_CAPTURE_CODES[code].severity,
    message,
    where: [],
    notes: more.why === undefined ? [] : [{ text: more.why }],
    help,
    ...(more.about === undefined ? {} : { about: more.about }),
  };
}
