import { exp, expm1, log, log1p } from "../core/elementary.ts";

/**
 * A link between a probability p and its linear predictor eta.
 *
 * Probabilities near 0 and 1 keep their digits: `complement` is 1 - p without the subtraction.
 */
export interface BinomialLink {
  readonly name: "logit" | "cloglog";
  /** eta at probability p, 0 < p < 1. */
  link(p: number): number;
  /** p at eta. */
  inverse(eta: number): number;
  /** 1 - p at eta. */
  complement(eta: number): number;
  /** dp / deta. */
  slope(eta: number): number;
  /** The same from p and 1 - p already at hand: no second exponential. */
  slopeAt(eta: number, share: number, rest: number): number;
  /** d2p / deta2. */
  curvature(eta: number): number;
  /** slope / (p (1 - p)): turns (events - trials p) into the score. */
  scoreFactor(eta: number): number;
  /** d ln(w) / deta with w = slope^2 / (p (1 - p)), the weight of one plant; used by the Jeffreys penalty. */
  logWeightSlope(eta: number): number;
}

const logistic = (eta: number): number => (eta >= 0 ? 1 / (1 + exp(-eta)) : exp(eta) / (1 + exp(eta)));

/** Log odds, eta = ln(p / (1 - p)): symmetric, the usual choice. */
export const logit: BinomialLink = Object.freeze<BinomialLink>({
  name: "logit",
  link: (p) => log(p) - log1p(-p),
  inverse: logistic,
  complement: (eta) => logistic(-eta),
  slope: (eta) => logistic(eta) * logistic(-eta),
  slopeAt: (_eta, share, rest) => share * rest,
  curvature: (eta) => logistic(eta) * logistic(-eta) * (logistic(-eta) - logistic(eta)),
  scoreFactor: () => 1,
  logWeightSlope: (eta) => logistic(-eta) - logistic(eta),
});

/** Beyond these the double range ends: exp(-exp(6.6)) is 1e-319. */
const bounded = (eta: number): number => Math.min(Math.max(eta, -700), 6.5);

/** Complementary log-log, eta = ln(-ln(1 - p)): slow to leave 0, quick to reach 1. */
export const cloglog: BinomialLink = Object.freeze<BinomialLink>({
  name: "cloglog",
  link: (p) => log(-log1p(-p)),
  inverse: (eta) => -expm1(-exp(bounded(eta))),
  complement: (eta) => exp(-exp(bounded(eta))),
  slope(eta) {
    const t = exp(bounded(eta));
    return t * exp(-t);
  },
  slopeAt: (eta, _share, rest) => exp(bounded(eta)) * rest,
  curvature(eta) {
    const t = exp(bounded(eta));
    return t * (1 - t) * exp(-t);
  },
  scoreFactor(eta) {
    const t = exp(bounded(eta));
    return t / -expm1(-t);
  },
  logWeightSlope(eta) {
    const t = exp(bounded(eta));
    return 2 - t - (t * exp(-t)) / -expm1(-t);
  },
});

export const binomialLinks: Readonly<Record<"logit" | "cloglog", BinomialLink>> = Object.freeze({ logit, cloglog });
