export declare function fuzzLibrary(load: (path: string) => Promise<object>): Promise<object>;
export declare function savedAnalyses(library: object, texts: readonly string[]): string[];
