export declare const tables: readonly string[];
export declare const tableFiles: readonly { readonly name: string; readonly bytes: Uint8Array }[];
export declare const zoneTables: readonly string[];
export declare const jsonTexts: { readonly field: string; readonly zones: string };
