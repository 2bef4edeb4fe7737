import { describe, expect, test } from "vitest";
import { fitMixedResponse } from "../../src/mixed/fitMixedResponse.ts";
import type { MixedData } from "../../src/mixed/mixedResponse.ts";
import { varianceTable } from "../../src/mixed/varianceTable.ts";
import { factorCholesky, solveLower } from "../../src/numeric/cholesky.ts";
import { dot } from "../../src/numeric/matrix.ts";
import type { Plot, Trial } from "../../src/trial/trial.ts";
import { assertDigits } from "../assertDigits.ts";
import { hasShared, oracleJson, oracleRows, sharedJson, sharedRows } from "./sharedData.ts";

const rows = oracleRows("mixedInvented.csv");
const data = {
  density: rows.map((row) => Number(row["density"])),
  yield: rows.map((row) => Number(row["yield"])),
  environment: rows.map((row) => row["environment"]),
  block: rows.map((row) => row["block"]),
  hybrid: rows.map((row) => row["hybrid"]),
};
const pooled: MixedData = {
  density: data.density,
  yield: data.yield,
  environment: data.environment,
  block: data.block,
};

interface Dense {
  readonly loglik: number;
  readonly components: { value: number }[];
  readonly coefficients: number[];
  readonly standard_errors: number[];
  readonly satterthwaite_df: number[];
}
const dense = oracleJson<Record<string, Dense>>("mixedDense.json");

describe("fitMixedResponse", () => {
  test("in density units gives the oracle's fit in its own scaling (test/oracle/mixed/mixedDense.R, z = (density - 32) / 10)", () => {
    const fit = fitMixedResponse(pooled, { random: ["intercept", "slope"], scaling: { centre: 32, scale: 10 } });
    const want = dense["invented_slope"];
    const [b0, b1, b2] = want.coefficients;
    assertDigits(fit.coefficients["intercept"], b0 - b1 * 3.2 + b2 * 3.2 ** 2, 9);
    assertDigits(fit.coefficients["linear"], (b1 - 2 * b2 * 3.2) / 10, 9);
    assertDigits(fit.coefficients["quadratic"], b2 / 100, 9);
    assertDigits(fit.standardErrors["quadratic"], want.standard_errors[2] / 100, 9);
    assertDigits(fit.dof["quadratic"], want.satterthwaite_df[2], 8);
    // |X'V^-1 X| of 1, x, x^2 against 1, z, z^2: the change of basis has determinant 10^-3.
    assertDigits(fit.logLikelihood, want.loglik - 3 * Math.log(10), 11);
    // lme4 lists the term with most levels first.
    const order = [1, 2, 3, 0, 4];
    order.forEach((from, i) => {
      assertDigits(fit.varianceComponents[i].value, want.components[from].value, 8);
    });
    fit.curves[0].coefficients.forEach((b, j) => {
      assertDigits(b, want.coefficients[j], 9);
      assertDigits(Math.sqrt(fit.curves[0].vcov[j][j]), want.standard_errors[j], 9);
    });
  });

  test("does not depend on the scaling of density: same fit with another centre and scale, and with densities in thousands", () => {
    const a = fitMixedResponse(pooled, { random: ["intercept", "slope"] });
    const b = fitMixedResponse(pooled, { random: ["intercept", "slope"], scaling: { centre: 30, scale: 3 } });
    const c = fitMixedResponse(
      { ...pooled, density: data.density.map((x) => 1000 * x) },
      { random: ["intercept", "slope"] },
    );
    assertDigits(b.logLikelihood, a.logLikelihood, 11);
    assertDigits(c.logLikelihood, a.logLikelihood - 3 * Math.log(1000), 11);
    for (const name of ["intercept", "linear", "quadratic"]) {
      assertDigits(b.coefficients[name], a.coefficients[name], 8);
      assertDigits(b.standardErrors[name], a.standardErrors[name], 8);
    }
    assertDigits(c.coefficients["quadratic"], a.coefficients["quadratic"] * 1e-6, 8);
  });

  test("one level factor per hybrid and a curve per hybrid agree with lme4", () => {
    // lmer(yield ~ 0 + hybrid + hybrid:density + hybrid:I(density^2) + (1 + z | environment) + (1 | environment:block) +
    //   (1 | environment:hybrid)), lme4 1.1-31, logLik -369.323591028 (lme4's own stopping leaves about 9 digits).
    const fit = fitMixedResponse(data, { random: ["intercept", "slope"] });
    expect(fit.hybrids).toBe("curves");
    assertDigits(fit.logLikelihood, -369.323591028, 9);
    expect(Object.keys(fit.coefficients)).toHaveLength(18);
    expect(fit.curves.map(({ hybrid }) => hybrid).sort()).toEqual(["H1", "H2", "H3", "H4", "H5", "H6"]);
  });

  test("plateau curves with random levels agree with Gauss-Newton on lme4 fits (test/oracle/mixed/mixedPlateau.R)", () => {
    const barley = oracleRows("barley_nitrogen_met_theobald.csv").filter(
      (row) => row["yield_t_ha"] !== "" && row["yield_t_ha"] !== "NA",
    );
    const oracle = oracleJson<Record<string, Record<string, number>>>("mixedPlateau.json");
    for (const [curve, rise] of [
      ["linear-plateau", "slope"],
      ["quadratic-plateau", "curvature"],
    ] as const) {
      const fit = fitMixedResponse(
        {
          density: barley.map((row) => Number(row["nitrogen_kg_ha"])),
          yield: barley.map((row) => Number(row["yield_t_ha"])),
          environment: barley.map((row) => `${row["year"]} ${row["location"]}`),
        },
        { curve },
      );
      const want = oracle[curve];
      assertDigits(fit.join, want["join"], 8);
      assertDigits(fit.coefficients["plateau"], want["plateau"], 9);
      assertDigits(fit.coefficients[rise], want["rise"], 8);
      assertDigits(fit.standardErrors["plateau"], want["se_plateau"], 7);
      assertDigits(fit.standardErrors[rise], want["se_rise"], 7);
      assertDigits(fit.standardErrors["join"], want["se_join"], 7);
      assertDigits(fit.varianceComponents[0].value, want["environment"], 7);
      assertDigits(fit.sigma ** 2, want["residual"], 7);
    }
  });

  test("the plateau profile is global: at the fitted variances no join of a fine grid has a smaller generalised sum of squares", () => {
    for (const [curve, power] of [
      ["linear-plateau", 1],
      ["quadratic-plateau", 2],
    ] as const) {
      const fit = fitMixedResponse(pooled, { curve });
      const [environment, block] = fit.varianceComponents;
      const n = fit.nobs;
      const v = new Float64Array(n * n);
      for (let i = 0; i < n; i++) {
        for (let j = 0; j < n; j++) {
          const together = data.environment[i] === data.environment[j];
          const same = together && data.block[i] === data.block[j];
          v[i * n + j] = (together ? environment.value : 0) + (same ? block.value : 0) + (i === j ? fit.sigma ** 2 : 0);
        }
      }
      expect(factorCholesky(v, n)).toBe(true);
      const whiten = (values: readonly number[]): Float64Array => {
        const column = Float64Array.from(values);
        solveLower(v, n, column, 1);
        return column;
      };
      const one = whiten(data.density.map(() => 1));
      const y = whiten(data.yield);
      const residual = (column: Float64Array): Float64Array => {
        const along = dot(column, one) / dot(one, one);
        return column.map((value, i) => value - along * one[i]);
      };
      const y0 = residual(y);
      const sumOfSquares = (join: number): number => {
        const h = residual(whiten(data.density.map((x) => -(Math.max(join - x, 0) ** power))));
        const k = dot(h, y0) / dot(h, h);
        return dot(y0, y0) - (k > 0 ? k * dot(h, y0) : 0);
      };
      const best = sumOfSquares(fit.join as number);
      for (let join = 20.05; join <= 60; join += 0.05)
        expect(sumOfSquares(join)).toBeGreaterThanOrEqual(best * (1 - 1e-10));
      // The stored profile is that sum of squares (already in units of V), so its inversion is a generalised F set.
      const { density, excess } = fit.joinProfile ?? { density: [], excess: [] };
      for (const at of [40, 200, 360]) {
        expect(Math.abs(sumOfSquares(density[at]) - best - excess[at])).toBeLessThan(1e-7 * best);
      }
    }
  });

  test("singular fits go down the stated path and say so", () => {
    const fit = fitMixedResponse(pooled);
    expect(fit.status).toBe("reduced");
    expect(fit.path.length).toBeGreaterThan(1);
    expect(fit.path[0].random).toContain("curvature");
    expect(fit.path[fit.path.length - 1].outcome).toContain("kept");
    const kept = fitMixedResponse(pooled, { onSingular: "keep" });
    expect(kept.status).toBe("singular");
    // A richer model can only have the higher likelihood.
    expect(kept.logLikelihood).toBeGreaterThanOrEqual(fit.logLikelihood - 1e-9);
    assertDigits(kept.logLikelihood, fit.path[0].logLikelihood, 11);
  });

  test("few environments: only the level is random, and the notes say so", () => {
    const few = rows.map((row, i) => ({ row, i })).filter(({ row }) => ["E1", "E2", "E3"].includes(row["environment"]));
    const pick = <T>(values: readonly T[]): T[] => few.map(({ i }) => values[i]);
    const fit = fitMixedResponse({
      density: pick(data.density),
      yield: pick(data.yield),
      environment: pick(data.environment),
      block: pick(data.block),
    });
    expect(fit.path[0].random).not.toContain("slope");
    expect(fit.notes.join(" ")).toContain("too few");
  });

  test("a trial gives the same fit as its arrays, without excluded plots", () => {
    const plots: Plot[] = rows.map((row, i) => ({
      row: i + 2,
      rows: [i + 2],
      plot: null,
      environment: row["environment"],
      site: null,
      year: null,
      block: row["block"],
      hybrid: row["hybrid"],
      seedingRate: Number(row["density"]),
      stand: null,
      density: Number(row["density"]),
      yield: Number(row["yield"]),
      moisture: null,
      testWeight: null,
      weight: 1,
      lodging: [],
      traits: [],
      position: { row: null, column: null, order: null },
      excluded: null,
    }));
    const trial: Trial = {
      schema: "standcurve/trial/1",
      crop: { name: "maize", poundsPerBushel: 56, standardMoisture: 15.5 },
      densityUnit: "1000 plants/ac",
      yieldUnit: "t/ha",
      densityAxis: "seeding-rate",
      establishment: null,
      environmentEstablishment: [],
      environments: [],
      hybrids: [],
      plots: [...plots, { ...plots[0], yield: 1000, excluded: "weeds" }],
      standTraits: [],
      ratings: [],
      inputHash: null,
    };
    const options = { random: ["intercept"] } as const;
    expect(fitMixedResponse(trial, options)).toEqual(fitMixedResponse(data, options));
    expect(varianceTable(trial).tests).toEqual(varianceTable({ ...data }).tests);
  });

  test("the result is JSON-safe", () => {
    const fit = fitMixedResponse(data, { hybrids: "random" });
    expect(JSON.parse(JSON.stringify(fit))).toEqual(fit);
  });

  test("mistakes of the caller throw a code", () => {
    const code = (run: () => unknown): string => {
      try {
        run();
      } catch (error) {
        return (error as { code: string }).code;
      }
      return "none";
    };
    expect(code(() => fitMixedResponse({ ...pooled, yield: [1, 2] }))).toBe("length-mismatch");
    expect(code(() => fitMixedResponse(pooled, { curve: "cubic" as never }))).toBe("invalid-option");
    expect(code(() => fitMixedResponse(pooled, { curve: "linear", random: ["curvature"] }))).toBe("invalid-option");
    expect(code(() => fitMixedResponse(data, { curve: "linear-plateau", hybrids: "random" }))).toBe("not-offered");
    expect(code(() => fitMixedResponse({ density: [1, 1, 1], yield: [1, 2, 3], environment: ["a", "b", "c"] }))).toBe(
      "not-estimable",
    );
  });
});

interface Reference {
  readonly id: string;
  readonly reml: { loglik: number };
  readonly variance_components_ai_reml: {
    components: { group: string; value: number }[];
    fixed: { est: number; se: number }[];
  };
}

describe.skipIf(!hasShared)("fitMixedResponse on the wider reference sets", () => {
  const models = hasShared ? sharedJson<{ models: Reference[] }>("reference/mixed_share.json").models : [];
  test.each([
    ["rice_seedrate_quadratic", "rice_seedrate_rcbd_gomez.csv", "seed_rate_kg_ha", 100, "yield_kg_ha", "converged"],
    ["sim01", "sim01_optimum_beyond_range.csv", "density", 10, "yield", "converged"],
    ["sim02_flat", "sim02_flat.csv", "density", 10, "yield", "converged"],
    ["sim05_outlier", "sim05_outlier.csv", "density", 10, "yield", "converged"],
    [
      "barley_monoculture_zero_block_variance",
      "barley_mustard_density_streibig.csv",
      "barley_seeds",
      100,
      "barley_dry_g",
      "reduced",
    ],
  ] as const)("one environment with random blocks: %s", (id, file, density, divide, y, status) => {
    const plots = sharedRows(file, y).filter(
      (row) => row["mustard_seeds"] === undefined || (row["mustard_seeds"] === "0" && Number(row["barley_seeds"]) > 0),
    );
    const fit = fitMixedResponse({
      density: plots.map((row) => Number(row[density]) / divide),
      yield: plots.map((row) => Number(row[y])),
      environment: plots.map(() => "one"),
      block: plots.map((row) => row["block"]),
    });
    const want = models.find((model) => model.id === id) as Reference;
    expect(fit.status).toBe(status);
    assertDigits(fit.logLikelihood, want.reml.loglik, 10);
    want.variance_components_ai_reml.fixed.forEach(({ est, se }, j) => {
      assertDigits(Object.values(fit.coefficients)[j], est, 8);
      assertDigits(Object.values(fit.standardErrors)[j], se, 8);
    });
  });

  test("lupin 1991, correlated random intercept and slope: a perfect correlation is kept and called singular", () => {
    const lupin = sharedRows("lupin_density_met_1991.csv", "yield_t_ha");
    const fit = fitMixedResponse(
      {
        density: lupin.map((row) => Number(row["plants_per_m2"]) / 10),
        yield: lupin.map((row) => Number(row["yield_t_ha"])),
        environment: lupin.map((row) => row["site"]),
        block: lupin.map((row) => row["rep"]),
      },
      { random: "slope" },
    );
    expect(fit.status).toBe("singular");
    expect(fit.message).toContain("perfectly correlated");
    assertDigits(
      fit.logLikelihood,
      (models.find(({ id }) => id === "lupin_1991_random_slope") as Reference).reml.loglik,
      10,
    );
  });

  test("lupin 1991, sites and blocks random: log-likelihood, components, coefficients in density units", () => {
    const lupin = sharedRows("lupin_density_met_1991.csv", "yield_t_ha");
    const reference = sharedJson<{ models: Reference[] }>("reference/mixed_share.json").models.find(
      ({ id }) => id === "lupin_1991_sites_random",
    ) as Reference;
    const fit = fitMixedResponse(
      {
        density: lupin.map((row) => Number(row["plants_per_m2"]) / 10),
        yield: lupin.map((row) => Number(row["yield_t_ha"])),
        environment: lupin.map((row) => row["site"]),
        block: lupin.map((row) => row["rep"]),
      },
      { curve: "quadratic", random: ["intercept"] },
    );
    assertDigits(fit.logLikelihood, reference.reml.loglik, 11);
    const { components, fixed } = reference.variance_components_ai_reml;
    assertDigits(fit.varianceComponents[0].value, components[1].value, 9);
    assertDigits(fit.varianceComponents[1].value, components[0].value, 9);
    assertDigits(fit.sigma ** 2, components[2].value, 9);
    Object.values(fit.coefficients).forEach((b, j) => {
      assertDigits(b, fixed[j].est, 9);
    });
    Object.values(fit.standardErrors).forEach((se, j) => {
      assertDigits(se, fixed[j].se, 9);
    });
  });
});
