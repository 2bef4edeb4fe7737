import { economicOptimum } from "../../src/derive/optimum.ts";
import type { CurveFit } from "../../src/fit/curveFit.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { fitSmoothCurve } from "../../src/fit/fitSmoothCurve.ts";
import { fiellerSet } from "../../src/interval/fieller.ts";
import { joinInterval } from "../../src/interval/joinInterval.ts";
import { tQuantile } from "../../src/numeric/distributions.ts";
import refined from "../oracle/smoothRefined.json" with { type: "json" };
import { type YieldDensityGroup, yieldDensityGroups } from "../oracle/yieldDensity.ts";
import { type Collector, collect, type Score } from "./score.ts";

interface Answer {
  readonly coef?: Readonly<Record<string, { readonly est: number; readonly se: number | null }>>;
  readonly rss: number;
  readonly df: number;
  readonly loglik?: number;
  readonly aicc?: number | null;
  readonly status?: string;
  readonly join_ci95_f?: { readonly intervals: readonly Readonly<Record<string, number | boolean>>[] };
  readonly vertex?: { readonly fieller95?: { kind: string; lower: number; upper: number } };
}

/** Our coefficient, R's name for it, and whether R's has the other sign. */
type Names = readonly (readonly [ours: string, theirs: string, sign?: -1])[];
const families: readonly (readonly [CurveFit["family"], string, Names])[] = [
  ["flat", "mean", [["intercept", "mean"]]],
  [
    "linear",
    "linear",
    [
      ["intercept", "a"],
      ["linear", "b"],
    ],
  ],
  [
    "quadratic",
    "quadratic",
    [
      ["intercept", "a"],
      ["linear", "b"],
      ["quadratic", "c"],
    ],
  ],
  [
    "linear-plateau",
    "linear_plateau",
    [
      ["join", "x0"],
      ["slope", "b"],
    ],
  ],
  [
    "quadratic-plateau",
    "quadratic_plateau",
    [
      ["join", "x0"],
      ["curvature", "c", -1],
    ],
  ],
];

/** Residuals below this share of the yields' own sum of squares are rounding, in R as here. */
const perfect = ({ rss, df }: Answer, y: ArrayLike<number>): boolean =>
  df <= 0 || rss < 1e-18 * Array.from(y).reduce((sum, v) => sum + v * v, 0);

/**
 * Curves, their intervals and economic optima on public and invented trials against R (lm, and an exact or dense profile search),
 * and the smooth families against 40-digit arithmetic.
 */
export function yieldDensityScores(): Score[] {
  const own = new Set(
    yieldDensityGroups()
      .slice(0, 85)
      .map(({ id }) => id),
  );
  const here = collect("Response curves");
  const there = collect("Response curves", () => true);
  for (const group of yieldDensityGroups()) {
    const isOwn = own.has(group.id);
    const { add } = isOwn ? here : there;
    const named: Collector["add"] = (set, ...rest) => add(isOwn ? set : `${set}, shared`, ...rest);
    for (const family of families) scoreFamily(named, group, ...family);
    scoreFieller(named, group);
    scoreEconomic(named, group);
    scoreSmooth(named, group);
  }
  return [...here.scores(), ...there.scores()];
}

function scoreFamily(
  add: Collector["add"],
  { x, y, reference }: YieldDensityGroup,
  family: CurveFit["family"],
  key: string,
  names: Names,
): void {
  const answer = reference[key] as unknown as Answer | undefined;
  if (answer?.rss === undefined || perfect(answer, y)) return;
  const plateau = family.endsWith("plateau");
  const fit = fitCurve(family, { density: x, yield: y }, plateau ? { direction: "any" } : {});
  add(family, "residual sum of squares", fit.rss, answer.rss);
  if (answer.loglik !== undefined) add(family, "log-likelihood", fit.logLikelihood, answer.loglik);
  if (answer.aicc != null) add(family, "AICc", fit.aicc, answer.aicc);
  if (answer.coef && (answer.status ?? "ok") === "ok") {
    for (const [ours, theirs, sign] of names) {
      const { est, se } = answer.coef[theirs];
      add(family, "coefficients", fit.coefficients[ours], sign ? -est : est);
      // Errors of a curve's slope and curvature are those of R's own coordinates; the join's are the same in both.
      if (se !== null && (!plateau || ours === "join")) add(family, "standard errors", fit.standardErrors[ours], se);
    }
  }
  if (!answer.join_ci95_f || (family !== "linear-plateau" && family !== "quadratic-plateau")) return;
  const { pieces } = joinInterval({ density: x, yield: y }, { family, direction: "any" });
  answer.join_ci95_f.intervals.forEach((piece, i) => {
    for (const end of ["lower", "upper"] as const) {
      if (piece[`${end}_is_domain_end`]) continue;
      add(family, "95 % set of the join", pieces[i]?.[end], piece[end] as number);
    }
  });
}

function scoreFieller(add: Collector["add"], { x, y, reference }: YieldDensityGroup): void {
  const answer = reference["quadratic"] as unknown as Answer | undefined;
  const expected = answer?.vertex?.fieller95;
  if (!answer || !expected || expected.kind === "whole_line" || perfect(answer, y)) return;
  const fit = fitCurve("quadratic", { density: x, yield: y });
  const v = fit.vcov as number[][];
  const set = fiellerSet(
    {
      linear: fit.coefficients["linear"] as number,
      quadratic: fit.coefficients["quadratic"] as number,
      varLinear: v[1][1],
      covariance: v[1][2],
      varQuadratic: v[2][2],
    },
    0,
    tQuantile(0.975, fit.dofResidual),
  );
  const ends = set.kind === "whole-line" ? null : set;
  add("quadratic", "Fieller set of the vertex", ends?.lower, expected.lower);
  add("quadratic", "Fieller set of the vertex", ends?.upper, expected.upper);
}

function scoreEconomic(add: Collector["add"], { x, y, economicOptimum: rows }: YieldDensityGroup): void {
  for (const row of rows as readonly Readonly<Record<string, unknown>>[]) {
    const r = row["price_ratio"] as number;
    for (const family of ["quadratic", "quadratic-plateau", "exponential", "mitscherlich"] as const) {
      const expected = row[family.replace("-", "_")] as { clamped?: number } | undefined;
      if (expected?.clamped === undefined || (r === 0 && family === "mitscherlich")) continue;
      const fit = fitCurve(family, { density: x, yield: y }, { direction: "any" });
      if (fit.status !== "converged" || fit.limit === "straight-line") continue;
      const { density } = economicOptimum(fit, { grainPrice: 1, seedCost: r });
      add(family, "economic optimum", density, expected.clamped);
    }
  }
}

function scoreSmooth(add: Collector["add"], { id, x, y }: YieldDensityGroup): void {
  const group = refined.groups.find((entry) => entry.id === id) as unknown as
    | Readonly<Record<string, { theta: number[]; se: number[] | null } | undefined>>
    | undefined;
  for (const family of ["mitscherlich", "reciprocal", "parabolic-reciprocal"] as const) {
    const answer = group?.[family];
    if (!answer) continue;
    const fit = fitSmoothCurve(family, x, y);
    answer.theta.forEach((t, j) => void add(family, "coefficients", fit.theta?.[j], t));
    answer.se?.forEach((s, j) => void add(family, "standard errors", Math.sqrt(fit.vcov?.[j][j] ?? Number.NaN), s));
  }
}
