import { checkShape, type Shape } from "../core/checkShape.ts";
import { square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { type BinomialLink, binomialLinks } from "../fit/fitBinomialLinks.ts";
import { fitBinomialMixed } from "../fit/fitBinomialMixed.ts";
import { separation } from "../fit/fitBinomialSeparation.ts";
import { fQuantile, logGamma } from "../numeric/distributions.ts";
import { type NormalQuadrature, normalQuadrature } from "../numeric/gaussHermite.ts";
import { quadraticForm } from "../numeric/glm.ts";
import { acceptedSet, crossing } from "./acceptedSet.ts";
import { numberBlocks } from "./numberBlocks.ts";
import { type LodgingInput, readLodging } from "./readLodging.ts";
import { place } from "./standabilityLimit.ts";

export interface LodgingEnvironmentsInput extends Omit<LodgingInput, "block"> {
  /** Environment (site and year) of each plot; at least three. */
  readonly environment: ArrayLike<string | number>;
}

/** What `LodgingEnvironmentsInput` must look like. */
export const lodgingEnvironmentsInputShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  lodged: "numbers",
  examined: "any|null",
  environment: "labels",
};

export interface LodgingEnvironmentsOptions {
  readonly link?: "logit" | "cloglog";
  /** Share of lodged plants that is still accepted; default 0.10. */
  readonly tolerated?: number;
  /** Default 0.95. */
  readonly level?: number;
  /** Quadrature nodes per environment, 7 to 60; default 25. */
  readonly points?: number;
}

/** What `LodgingEnvironmentsOptions` must look like. */
export const lodgingEnvironmentsOptionsShape: { readonly [property: string]: Shape } = {
  link: "text?",
  tolerated: "number?",
  level: "number?",
  points: "count?",
};

/** Lodging with environments as a random sample: for statements about environments not tested. JSON-safe. */
export interface LodgingEnvironmentsFit {
  readonly schema: "standcurve/lodging-environments/1";
  readonly status:
    | "converged"
    | "no-spread"
    | "separation"
    | "none-lodged"
    | "all-lodged"
    | "singular"
    | "iteration-limit";
  readonly link: "logit" | "cloglog";
  /** Link scale, for the typical (median) environment. */
  readonly coefficients: { readonly intercept: number | null; readonly slope: number | null };
  readonly standardErrors: { readonly intercept: number | null; readonly slope: number | null };
  /** Standard deviation between environments, link scale. */
  readonly sd: number | null;
  readonly logLikelihood: number | null;
  readonly environments: readonly { readonly environment: string; readonly level: number }[];
  /** Pearson chi-square of plots about their environment's curve, per degree of freedom; well above 1: errors are too small. */
  readonly dispersion: number | null;
  /** Share in the typical environment and averaged over environments, per tested density. */
  readonly shares: readonly { readonly density: number; readonly typical: number; readonly average: number }[];
  /** Density at which the share averaged over environments reaches the tolerated one. */
  readonly limit: {
    readonly kind: "interior" | "below-range" | "above-range" | "none";
    readonly density: number | null;
    readonly tolerated: number;
    readonly interval: Interval | null;
  } | null;
  readonly notes: readonly string[];
}

/**
 * Lodged share against density with a normal random level per environment, by adaptive Gauss-Hermite quadrature.
 *
 * Counts are taken as binomial within an environment; if plots spread more, `dispersion` says so and `fitLodging` with
 * environments as blocks is the safer fit. Intervals use F(1, environments - 1): with few environments the typical level is
 * known no better than that.
 *
 * @throws AnalysisError as `fitLodging`; `not-estimable` with fewer than three environments; `not-offered` without counts
 * @example
 * const density = [20, 26, 32, 38];
 * const fit = fitLodgingEnvironments({
 *   density: [...density, ...density, ...density],
 *   lodged: [1, 3, 9, 20, 2, 5, 12, 27, 1, 2, 6, 15],
 *   examined: [60, 60, 60, 60, 60, 60, 60, 60, 60, 60, 60, 60],
 *   environment: ["a", "a", "a", "a", "b", "b", "b", "b", "c", "c", "c", "c"],
 * });
 * fit.status; // => "converged"
 *
 * Source: Pinheiro & Bates (1995), Journal of Computational and Graphical Statistics 4(1), 12-35.
 * Oracle: test/oracle/lodging/extra.json (numerical integration in R).
 */
export function fitLodgingEnvironments(
  input: LodgingEnvironmentsInput,
  options: LodgingEnvironmentsOptions = {},
): LodgingEnvironmentsFit {
  checkShape(input, "input", lodgingEnvironmentsInputShape);
  checkShape(options, "options", lodgingEnvironmentsOptionsShape, "invalid-option");
  const { link: linkName = "logit", tolerated = 0.1, level = 0.95, points = 25 } = options;
  const data = readLodging({ ...input, block: input.environment });
  check(
    data.examined !== null,
    "not-offered",
    "random environments need counts; shares without counts are fitted by fitLodging",
  );
  check(tolerated > 0 && tolerated < 1, "invalid-option", `tolerated must be between 0 and 1, got ${tolerated}`);
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(
    Number.isInteger(points) && points >= 7 && points <= 60,
    "invalid-option",
    `points must be a whole number from 7 to 60, got ${points}`,
  );
  const n = data.density.length;
  const { index, labels } = numberBlocks(data.block, n);
  check(
    labels.length >= 3,
    "not-estimable",
    `random environments need at least three, got ${labels.length}; use them as blocks in fitLodging`,
  );
  const notes: string[] = [];
  const frame = { ...emptyFit, link: linkName, notes };
  const [low, high] = [Math.min(...data.density), Math.max(...data.density)];
  if (low === high) return { ...frame, status: "singular", notes: ["All plots have one density."] };

  // The marginal likelihood has a finite maximum unless the pooled counts are separated (environments cannot separate alone).
  const apart = separation(data.density, data.lodged, data.examined, new Int32Array(n), 1);
  if (apart) {
    const status =
      apart.kind === "no-events" ? "none-lodged" : apart.kind === "all-events" ? "all-lodged" : "separation";
    return {
      ...frame,
      status,
      notes: ["The counts are separated by density; see fitLodging for the bias-reduced fit."],
    };
  }
  const [centre, spread] = [(low + high) / 2, (high - low) / 2];
  const design = Float64Array.from({ length: 2 * n }, (_, k) =>
    k % 2 === 0 ? 1 : (data.density[k >> 1] - centre) / spread,
  );
  const events = Float64Array.from(data.lodged);
  const trials = Float64Array.from(data.examined);
  const link = binomialLinks[linkName];
  const fit = fitBinomialMixed({ design, columns: 2, events, trials, link }, index, labels.length, points);
  if (fit.status !== "converged" || fit.vcov === null)
    return { ...frame, status: fit.status === "converged" ? "singular" : fit.status };
  const q = fit.sd > 0 ? 3 : 2;
  const [a, b] = fit.coef;
  const v = (i: number, j: number) => (fit.vcov as Float64Array)[i * q + j];
  const shift = centre / spread;
  let coefficientSum = 0;
  let pearson = 0;
  for (let i = 0; i < n; i++) {
    coefficientSum += logGamma(trials[i] + 1) - logGamma(events[i] + 1) - logGamma(trials[i] - events[i] + 1);
    const eta = a + b * design[2 * i + 1] + fit.levels[index[i]];
    const mean = trials[i] * link.inverse(eta);
    pearson += square(events[i] - mean) / (mean * link.complement(eta));
  }
  // Environments cost about one degree of freedom each, as if fitted.
  const dof = n - labels.length - 1;
  const dispersion = dof > 0 ? pearson / dof : null;
  if (dispersion !== null && dispersion > 1.5) {
    notes.push(
      "Plots of one environment spread more than independent plants would: the errors given are too small; prefer fitLodging with environments as blocks.",
    );
  }
  if (fit.sd === 0) notes.push("Environments differ no more than chance; the plain fit is given.");
  const rule = normalQuadrature(41);
  const average = (z: number) => marginalShare(a + b * z, fit.sd, link, rule, null);
  return {
    ...frame,
    status: fit.sd > 0 ? "converged" : "no-spread",
    coefficients: { intercept: a - b * shift, slope: b / spread },
    standardErrors: {
      intercept: Math.sqrt(v(0, 0) - 2 * shift * v(0, 1) + shift * shift * v(1, 1)),
      slope: Math.sqrt(v(1, 1)) / spread,
    },
    sd: fit.sd,
    logLikelihood: fit.value + coefficientSum,
    environments: labels.map((environment, g) => ({ environment, level: fit.levels[g] })),
    dispersion,
    shares: [...new Set(data.density)]
      .sort((s, t) => s - t)
      .map((density) => {
        const z = (density - centre) / spread;
        return { density, typical: link.inverse(a + b * z), average: average(z) };
      }),
    limit: limitOf(),
  };

  function limitOf(): LodgingEnvironmentsFit["limit"] {
    const kind = place(average(-1), average(1), tolerated);
    const target = link.link(tolerated);
    const z = kind === "interior" ? crossing((t) => average(t) - tolerated, -1, 1) : null;
    const gradient = new Float64Array(q);
    const statistic = (t: number) => {
      const share = marginalShare(a + b * t, fit.sd, link, rule, gradient);
      const eta = link.link(share);
      // From d share to d link(share): by level, slope and ln sd.
      const [byLevel, bySd] = [gradient[0] / link.slope(eta), q === 3 ? gradient[2] / link.slope(eta) : 0];
      gradient[0] = byLevel;
      gradient[1] = byLevel * t;
      if (q === 3) gradient[2] = bySd;
      return square(eta - target) / quadraticForm(fit.vcov as Float64Array, q, gradient);
    };
    const grid = Array.from({ length: 41 }, (_, i) => -1 + i / 20);
    if (z !== null && z > -1 && z < 1) grid.push(z);
    grid.sort((s, t) => s - t);
    const pieces = acceptedSet(statistic, fQuantile(level, 1, labels.length - 1), grid).map(({ lower, upper }) => ({
      lower: lower === null ? null : centre + spread * lower,
      upper: upper === null ? null : centre + spread * upper,
    }));
    if (kind === "above-range" && pieces.at(-1)?.upper !== null) pieces.push({ lower: high, upper: null });
    if (kind === "below-range" && pieces[0]?.lower !== null) pieces.unshift({ lower: null, upper: low });
    const lower = pieces[0]?.lower ?? null;
    const upper = pieces.at(-1)?.upper ?? null;
    const several = pieces.length > 1 ? { pieces } : {};
    const interval = {
      lower,
      upper,
      lowerOpen: lower === null,
      upperOpen: upper === null,
      level,
      method: "fieller",
      ...several,
    };
    return { kind, density: z === null ? null : centre + spread * z, tolerated, interval };
  }
}

const emptyFit = {
  schema: "standcurve/lodging-environments/1",
  coefficients: { intercept: null, slope: null },
  standardErrors: { intercept: null, slope: null },
  sd: null,
  logLikelihood: null,
  environments: [],
  dispersion: null,
  shares: [],
  limit: null,
} as const;

/** Mean of p(eta + sd u) over the standard normal u; fills `gradient` [0] by eta and [2] by ln sd when given. */
function marginalShare(
  eta: number,
  sd: number,
  link: BinomialLink,
  { nodes, weights }: NormalQuadrature,
  gradient: Float64Array | null,
): number {
  let share = 0;
  gradient?.fill(0);
  for (let k = 0; k < nodes.length; k++) {
    const at = eta + sd * nodes[k];
    share += weights[k] * link.inverse(at);
    if (!gradient) continue;
    const slope = weights[k] * link.slope(at);
    gradient[0] += slope;
    if (gradient.length > 2) gradient[2] += slope * sd * nodes[k];
  }
  return share;
}
