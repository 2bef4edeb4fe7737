/** True when both types are the same in every respect; `any` is the same as nothing but itself. */
export type Same<A, B> = (<T>() => T extends A ? 1 : 2) extends <T>() => T extends B ? 1 : 2 ? true : false;

/** Does not compile unless the claim holds. */
export function holds<Claim extends true>(): Claim | undefined {
  return undefined;
}
