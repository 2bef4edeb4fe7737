/** Work that several fields of one call have in common (curves, lodging fits), done once. */
export interface SharedWork {
  /** The value kept under the key, made on the first call. */
  once<T>(key: readonly unknown[], make: () => T): T;
}

export function sharedWork(): SharedWork {
  const kept = new Map<string, unknown>();
  return {
    once<T>(key: readonly unknown[], make: () => T): T {
      const name = JSON.stringify(key);
      if (!kept.has(name)) kept.set(name, make());
      return kept.get(name) as T;
    },
  };
}
