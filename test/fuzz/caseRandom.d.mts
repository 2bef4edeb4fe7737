export interface CaseRandom {
  next(): number;
  below(below: number): number;
  pick<T>(list: readonly T[]): T;
}
export declare function caseRandom(seed: number, index: number): CaseRandom;
