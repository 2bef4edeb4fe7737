import type { Fault } from "./tryCase.mjs";
export declare function tryField(library: object, text: string): Fault | null;
export declare function tryZones(library: object, text: string): Fault | null;
export declare function tryAnalysis(library: object, text: string): Fault | null;
