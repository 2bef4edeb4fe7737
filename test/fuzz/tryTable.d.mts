import type { Fault } from "./tryCase.mjs";
export declare function tryTable(library: object, bytes: Uint8Array): Fault | null;
