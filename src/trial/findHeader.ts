/** Index of a header: as written, else whatever its capitals and outer blanks; -1 when there is none. */
export function findHeader(header: readonly string[], name: string): number {
  const exact = header.indexOf(name);
  if (exact !== -1) return exact;
  const wanted = name.trim().toLowerCase();
  return header.findIndex((text) => text.trim().toLowerCase() === wanted);
}
