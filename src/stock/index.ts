export { StockSchema } from './schema.ts';
export type { Need, StockItem } from './stock.ts';
export { needs, readStock, serves } from './stock.ts';
