export declare function readRecords(
  text: string,
  delimiter: string,
  plainFrom: number,
): { readonly line: number; readonly blank: boolean }[];
