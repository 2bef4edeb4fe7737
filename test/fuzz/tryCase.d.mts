export interface Fault {
  readonly kind: "crash" | "silent" | "wrong";
  readonly text: string;
}
export declare function kindOf(index: number): "table" | "field" | "zones" | "analysis" | "parts";
export declare function makeCase(
  seed: number,
  index: number,
  saved: readonly string[],
): { readonly kind: string; readonly input: string | Uint8Array };
export declare function tryCase(library: object, seed: number, index: number, saved: readonly string[]): Fault | null;
