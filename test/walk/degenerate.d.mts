export interface Plots {
  readonly density: readonly number[];
  readonly yield: readonly number[];
  readonly block?: readonly number[];
  readonly weight?: readonly number[];
}
export declare const degenerateData: readonly (readonly [name: string, data: Plots])[];
export declare function curveWork(
  library: object,
  data: Plots,
): readonly (readonly [what: string, work: () => unknown])[];
