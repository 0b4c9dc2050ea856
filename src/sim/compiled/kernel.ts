import { PlainKernel } from '../plain/kernel.ts';
/** Placeholder until the compiled kernel lands: the plain one. */
export { PlainKernel as CompiledKernel };
