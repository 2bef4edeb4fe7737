export declare function goodCalls(library: object, plot: object): Readonly<Record<string, readonly unknown[] | null>>;
