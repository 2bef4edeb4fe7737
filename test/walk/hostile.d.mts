export declare const hostileValues: readonly (readonly [name: string, value: unknown])[];
export declare function copy<T>(value: T): T;
export declare function firstNotFinite(value: unknown, path?: string): string | null;
export declare function judge(call: () => unknown): Promise<string | null>;
export declare function wholeArguments(args: readonly unknown[]): Generator<readonly [what: string, args: unknown[]]>;
export declare function properties(
  args: readonly unknown[],
  depth: number,
): Generator<readonly [what: string, args: unknown[]]>;
