export { CAPTURE_CODES, type CaptureCode } from './codes.ts';
export type { Capture, CaptureChannel, CaptureOptions } from './model.ts';
export { CaptureReader, readCapture } from './read.ts';
