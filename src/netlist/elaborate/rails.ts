// Supplies and ground as nets.

import { foldName } from '../../base/index.ts';
import { type Context, type Instance, netName } from './context.ts';

/** Whether a net is ground or a supply. */
export function isRail(context: Context, net: string): boolean {
  const key = foldName(net);
  return key === 'gnd' || context.machine.supplies.some((supply) => foldName(supply.name) === key);
}

/** The supply net that feeds a part. */
export function supplyOf(context: Context, instance: Instance): string {
  const named =
    instance.decl.supply?.name ?? context.machine.defaults.supply?.name ?? context.machine.supplies[0]?.name ?? 'main';
  return netName(context, named);
}
