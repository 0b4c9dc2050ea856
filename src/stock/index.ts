export { StockSchema } from './schema.ts';
export type { Instead, Need, StockItem } from './stock.ts';
export { needs, readInstead, readStock, serves } from './stock.ts';
