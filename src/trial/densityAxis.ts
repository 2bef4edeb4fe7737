import type { Draft } from "./draft.ts";
import type { IssueLog } from "./issueLog.ts";
import type { Settings } from "./schema.ts";
import type { EnvironmentEstablishment, Trial } from "./trial.ts";

/** Densities of the plots on the axis used for fitting, and how much of the seed grew. */
export interface DensityAxis {
  readonly axis: Trial["densityAxis"];
  /** Density of each plot; null when it has none; shape [plots]. */
  readonly density: readonly (number | null)[];
  readonly establishment: number | null;
  readonly byEnvironment: readonly EnvironmentEstablishment[];
}

/**
 * Puts every plot on one density axis.
 *
 * Default: the mean counted stand of its rate in its environment. The rate is what was randomised; a plot's own count
 * carries counting error and tells of the spot as well. Plots marked excluded do not enter the means. A rate without any
 * count takes rate x establishment of its environment (or of the trial), with a warning.
 */
export function densityAxis(plots: readonly Draft[], settings: Settings, log: IssueLog): DensityAxis {
  const used = plots.filter((plot) => plot.excluded === null);
  const rates = used.some((plot) => plot.seedingRate !== null);
  const stands = used.some((plot) => plot.stand !== null);
  const axis = chooseAxis(rates, stands, settings, log);
  const environments = [...new Set(used.map((plot) => plot.environment))];
  const byEnvironment = environments.map((environment) => ({
    environment,
    ...ratio(used.filter((plot) => plot.environment === environment)),
  }));
  const counted = ratio(used).establishment;
  const establishment = settings.establishment ?? counted;
  const shares = new Map(byEnvironment.map((entry) => [entry.environment, entry.establishment]));
  if (axis === "seeding-rate")
    return { axis, density: plots.map((plot) => plot.seedingRate), establishment, byEnvironment };
  if (axis === "plot-stand") return { axis, density: plots.map((plot) => plot.stand), establishment, byEnvironment };
  const means = standMeans(used);
  reportSingleRates(used, log);
  let filled = 0;
  const density = plots.map((plot) => {
    if (plot.seedingRate === null) return plot.stand;
    const mean = means.get(levelKey(plot));
    if (mean !== undefined) return mean;
    const share = shares.get(plot.environment) ?? establishment;
    if (share === null) return null;
    if (plot.excluded === null) filled += 1;
    return plot.seedingRate * share;
  });
  if (filled > 0) {
    log.add({
      severity: "warning",
      code: "stand-not-counted",
      count: filled,
      rule: `${filled} plots have a rate whose stand was not counted anywhere in their environment; their density is the rate times the establishment of the other plots`,
      remedy: 'count stands at every rate, or analyse on the seeding rate (schema.densityAxis "seeding-rate")',
    });
  }
  return { axis, density, establishment, byEnvironment };
}

/** With every plot at a rate of its own (rates as applied), a mean over plots of one rate is no mean. */
function reportSingleRates(used: readonly Draft[], log: IssueLog): void {
  const levels = new Set(used.map(levelKey)).size;
  if (used.length < 6 || levels < 0.8 * used.length) return;
  log.add({
    severity: "warning",
    code: "rates-not-repeated",
    rule: `${levels} different rates on ${used.length} plots: hardly any rate is repeated, so each density rests on one plot's count`,
    remedy: "if these are rates as applied, give the target rates instead",
  });
}

function chooseAxis(rates: boolean, stands: boolean, settings: Settings, log: IssueLog): Trial["densityAxis"] {
  const wanted = settings.densityAxis;
  const possible = { "mean-stand": rates && stands, "plot-stand": stands, "seeding-rate": rates };
  if (wanted !== undefined && possible[wanted]) return wanted;
  const axis = possible["mean-stand"] ? "mean-stand" : stands ? "plot-stand" : "seeding-rate";
  if (wanted !== undefined) {
    log.add({
      severity: "warning",
      code: "axis-not-possible",
      received: wanted,
      rule: `schema.densityAxis "${wanted}" needs ${wanted === "mean-stand" ? "both seeding rates and counted stands" : wanted === "plot-stand" ? "counted stands" : "seeding rates"}, which this file does not have`,
      remedy: `"${axis}" was used`,
    });
  } else if (axis !== "mean-stand") {
    log.add({
      severity: "note",
      code: "one-density-axis",
      rule:
        axis === "seeding-rate"
          ? "no stand was counted, so density is the seeding rate"
          : "no seeding rate is given, so density is each plot's own stand",
      remedy:
        axis === "seeding-rate"
          ? "optima are seeds per area; declare schema.establishment to see plants as well"
          : "optima are plants per area; declare schema.establishment to see seeds as well",
    });
  }
  return axis;
}

const levelKey = (plot: Draft): string => `${plot.environment}\u0000${plot.seedingRate}`;

function standMeans(plots: readonly Draft[]): Map<string, number> {
  const sums = new Map<string, { sum: number; count: number }>();
  for (const plot of plots) {
    if (plot.seedingRate === null || plot.stand === null) continue;
    const key = levelKey(plot);
    const known = sums.get(key) ?? { sum: 0, count: 0 };
    sums.set(key, known);
    known.sum += plot.stand;
    known.count += 1;
  }
  return new Map([...sums].map(([key, { sum, count }]) => [key, sum / count]));
}

function ratio(plots: readonly Draft[]): { establishment: number | null; plots: number } {
  let stand = 0;
  let rate = 0;
  let count = 0;
  for (const plot of plots) {
    if (plot.seedingRate === null || plot.stand === null) continue;
    stand += plot.stand;
    rate += plot.seedingRate;
    count += 1;
  }
  return { establishment: rate > 0 ? stand / rate : null, plots: count };
}
