import type { CaseRandom } from "./caseRandom.mjs";
export declare function mutateJson(random: CaseRandom, corpus: readonly string[]): string;
export declare function changeOne(root: unknown, random: CaseRandom): unknown;
