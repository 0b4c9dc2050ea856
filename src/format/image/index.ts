export type { ImageCode } from './codes.ts';
export { IMAGE_CODES } from './codes.ts';
export type { ImageBlock, ImageRecord, ImageReport, ImageTarget, MemoryImage } from './model.ts';
export { createImageReport, fitImage, LARGEST_IMAGE_FILE, layRecords, readBinaryImage, tooLarge } from './model.ts';
export type { ImageFormat } from './read.ts';
export { imageFormatOf, readImage } from './read.ts';
export type { TextLine } from './lines.ts';
export { hexBytes, textLines } from './lines.ts';
