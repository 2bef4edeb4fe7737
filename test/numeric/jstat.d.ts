// jstat ships no types; these are the members that the cross-check uses.
interface Continuous2 {
  cdf(x: number, a: number, b: number): number;
  inv(p: number, a: number, b: number): number;
  pdf(x: number, a: number, b: number): number;
}
interface Continuous1 {
  cdf(x: number, a: number): number;
  inv(p: number, a: number): number;
  pdf(x: number, a: number): number;
}
interface JStat {
  readonly normal: Continuous2;
  readonly studentt: Continuous1;
  readonly centralF: Continuous2;
  readonly chisquare: Continuous1;
  readonly beta: Continuous2;
  readonly gamma: Continuous2;
  readonly tukey: Continuous2;
  gammaln(x: number): number;
  erfc(x: number): number;
}
declare const jstat: JStat;
export default jstat;
