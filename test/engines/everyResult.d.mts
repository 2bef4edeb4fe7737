export declare const demoFiles: readonly string[];
export declare function everyResult(library: object, demo: Readonly<Record<string, string>>): [string, string][];
