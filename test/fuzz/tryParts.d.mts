import type { Fault } from "./tryCase.mjs";
export declare function tryParts(library: object, text: string, seed: number): Fault | null;
