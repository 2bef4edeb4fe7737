import { existsSync, readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { checkTrial, type TrialCheck } from "../../src/trial/checkTrial.ts";
import { readTrial } from "../../src/trial/readTrial.ts";

interface Design {
  hybrids?: readonly string[];
  environments?: readonly string[];
  blocks?: number;
  rates?: readonly number[];
  /** Changes or drops a plot. */
  each?: (plot: Record<string, unknown>, i: number) => Record<string, unknown> | null;
}

/** A design laid out in full, with yields that do not matter. */
function design({
  hybrids = ["A"],
  environments = ["E1"],
  blocks = 4,
  rates = [20, 25, 30, 35, 40],
  each = (plot) => plot,
}: Design): TrialCheck {
  const rows: Record<string, unknown>[] = [];
  let count = 0;
  for (const environment of environments)
    for (let block = 1; block <= blocks; block++)
      for (const hybrid of hybrids)
        for (const rate of rates) {
          const plot = each({ environment, block, hybrid, seeding_rate_k_ac: rate, yield_bu_ac: 180 + rate }, count++);
          if (plot !== null) rows.push(plot);
        }
  const { trial } = readTrial(rows, { crop: "maize" });
  if (trial === null) throw new Error("the design did not read");
  return checkTrial(trial);
}
const ability = (check: TrialCheck, family: string, hybrid = 0) =>
  check.hybrids[hybrid].pooled.families.find((one) => one.family === family);
const codes = (check: TrialCheck) => check.warnings.map((warning) => warning.code);

test("six rates in four complete blocks have the 15 error degrees of freedom of the textbook table", () => {
  // Gomez & Gomez (1984), p. 26: rice, 6 seeding rates x 4 blocks, error 15 df; a quadratic leaves 24 - 4 - 2 = 18.
  const check = design({ rates: [25, 30, 35, 40, 45, 50] });
  expect(check.hybrids[0].pooled).toMatchObject({
    plots: 24,
    blocks: 4,
    densities: 6,
    balanced: true,
    terms: 3,
    pureErrorDof: 15,
  });
  expect(ability(check, "quadratic")).toMatchObject({ possible: "yes", dof: 18 });
  expect(ability(check, "flat")?.dof).toBe(20);
  expect(check.hybrids[0].pooled.lackOfFit).toEqual({ possible: "yes", reason: null, dof: 15 });
});

test("pure error counts against blocks and densities as factors, missing plots and parts that never meet included", () => {
  // R: df.residual(lm(y ~ factor(block) + factor(rate))) for the same layouts gives 15, 12, 11 and 2 (R 4.2.2).
  const five = design({});
  expect(five.hybrids[0].pooled.pureErrorDof).toBe(12);
  const lost = design({ each: (plot, i) => (i === 3 ? null : plot) });
  expect(lost.hybrids[0].pooled).toMatchObject({ pureErrorDof: 11, balanced: false });
  // Blocks 1 and 2 hold 20 and 25 only, blocks 3 and 4 hold 35 and 40 only: 8 plots, rank 4 + 4 - 2 = 6.
  const apart = design({
    rates: [20, 25, 35, 40],
    each: (plot) => ((plot["block"] as number) <= 2 === (plot["seeding_rate_k_ac"] as number) < 30 ? plot : null),
  });
  expect(apart.hybrids[0].pooled).toMatchObject({ plots: 8, pureErrorDof: 2, terms: 2 });
});

test("three densities carry bent curves only as a tie, two a line, one nothing", () => {
  const three = design({ rates: [24, 30, 36] });
  expect(ability(three, "quadratic-plateau")).toMatchObject({ possible: "limited", dof: 6 });
  expect(ability(three, "quadratic")?.reason).toBe(
    "with three densities every bent curve fits equally well: the trial cannot tell a plateau from a peak",
  );
  expect(three.hybrids[0].pooled.lackOfFit).toMatchObject({ possible: "no" });
  const two = design({ rates: [28, 33] });
  expect(ability(two, "linear")?.possible).toBe("yes");
  expect(ability(two, "quadratic")).toMatchObject({
    possible: "no",
    reason: "it needs three densities, and there are 2",
    dof: null,
  });
  expect(two.warnings.find((warning) => warning.code === "few-densities")?.message).toContain(
    "not where the optimum lies",
  );
  const one = design({ rates: [30] });
  expect(ability(one, "linear")).toMatchObject({ possible: "no", reason: "it needs two densities, and there is one" });
  expect(ability(one, "flat")?.possible).toBe("limited");
});

test("without replication the curve can be fitted but lack of fit cannot be tested", () => {
  const check = design({ blocks: 1 });
  expect(check.hybrids[0].pooled.lackOfFit).toMatchObject({
    possible: "no",
    reason: "no density is repeated, so there is no pure error to compare with",
  });
  expect(check.hybrids[0].pooled.blockEffect).toMatchObject({ possible: "no", reason: "there is one block" });
  expect(check.hybrids[0].pooled.interval).toMatchObject({ possible: "limited", dof: 2 });
  expect(codes(check)).toContain("few-blocks");
});

test("one density per block is confounded with blocks, for every curve", () => {
  const check = design({
    blocks: 5,
    each: (plot) => (plot["seeding_rate_k_ac"] === 15 + 5 * (plot["block"] as number) ? plot : null),
  });
  expect(check.hybrids[0].pooled).toMatchObject({ plots: 5, terms: 0 });
  expect(ability(check, "linear")?.reason).toBe(
    "densities are confounded with blocks: inside the blocks too few densities can be compared",
  );
  expect(codes(check)).toContain("confounded-with-block");
});

test("24 to 36 thousand is a narrow range, 18 to 43 is not", () => {
  expect(codes(design({ rates: [24, 28, 32, 36] }))).toContain("narrow-range");
  expect(codes(design({ rates: [18, 23, 28, 33, 38, 43] }))).toEqual([]);
  const narrow = design({ rates: [24, 28, 32, 36] }).warnings.find((warning) => warning.code === "narrow-range");
  expect(narrow?.message).toContain("from 24 to 36 thousand plants/ac only (1.5 times)");
});

test("rates in the same order in every block are confounded with position", () => {
  const ordered = design({ each: (plot, i) => ({ ...plot, order: i }) });
  expect(codes(ordered)).toContain("confounded-with-position");
  const mixed = design({ each: (plot, i) => ({ ...plot, order: [3, 1, 5, 2, 4][i % 5] }) });
  expect(codes(mixed)).not.toContain("confounded-with-position");
});

test("hybrids at densities that do not overlap cannot have their flex scores compared", () => {
  const check = design({
    hybrids: ["A", "B"],
    rates: [18, 22, 26, 32, 36, 40],
    each: (plot) => ((plot["seeding_rate_k_ac"] as number) < 30 === (plot["hybrid"] === "A") ? plot : null),
  });
  expect(check.commonRange).toBeNull();
  expect(check.hybridByDensity.possible).toBe("limited");
  expect(codes(check)).toContain("ranges-do-not-overlap");
});

test("every hybrid at a rate of its own tells nothing about hybrids", () => {
  const check = design({
    hybrids: ["A", "B"],
    rates: [28, 34],
    each: (plot) => ((plot["seeding_rate_k_ac"] === 28) === (plot["hybrid"] === "A") ? plot : null),
  });
  expect(codes(check)).toContain("rate-by-hybrid");
  expect(check.hybridByDensity).toMatchObject({ possible: "no" });
});

test("interactions need two hybrids or two environments, each at several densities", () => {
  const one = design({});
  expect(one.hybridByDensity.reason).toBe("there is one hybrid");
  expect(one.environmentByDensity.reason).toBe("every hybrid was grown in one environment only");
  const both = design({ hybrids: ["A", "B"], environments: ["E1", "E2"] });
  expect(both.hybridByDensity).toEqual({ possible: "yes", reason: null, dof: 80 - 2 * (8 + 2) });
  expect(both.environmentByDensity).toEqual({ possible: "yes", reason: null, dof: 80 - 4 * (4 + 2) });
  expect(both.commonRange).toEqual({ lowest: 20, highest: 40 });
  const missing = design({
    hybrids: ["A", "B"],
    environments: ["E1", "E2"],
    each: (plot) => (plot["hybrid"] === "B" && plot["environment"] === "E2" ? null : plot),
  });
  expect(missing.warnings).toEqual([expect.objectContaining({ code: "missing-in-environment", hybrid: "B" })]);
});

test("lodging counts say whether a standability limit can be had", () => {
  const counted = (lodged: (rate: number) => number) =>
    design({
      each: (plot) => ({ ...plot, stalk_lodged: lodged(plot["seeding_rate_k_ac"] as number), plants_examined: 50 }),
    }).hybrids[0].standability[0];
  expect(counted((rate) => rate / 5)).toMatchObject({
    kind: "stalk",
    plots: 20,
    densities: 5,
    lodged: 120,
    examined: 1000,
    limit: { possible: "yes" },
  });
  expect(counted(() => 0).limit).toMatchObject({
    possible: "limited",
    reason: expect.stringContaining("no plant lodged"),
  });
  expect(counted(() => 50).limit.reason).toContain("every plant lodged");
});

test("excluded plots and plots without yield do not count", () => {
  const check = design({
    each: (plot, i) => ({ ...plot, yield_bu_ac: i === 0 ? "" : 190, exclude: i === 1 ? "hail" : "" }),
  });
  expect(check).toMatchObject({ plots: 19, excludedPlots: 1, plotsWithoutYield: 1 });
  expect(check.hybrids[0].pooled.plots).toBe(18);
});

test("the summary of a hybrid is one sentence", () => {
  expect(design({}).hybrids[0].summary).toBe(
    "A: 20 plots in 4 blocks of 1 environment, 5 densities from 20 to 40 thousand plants/ac; all curves can be fitted, lack of fit can be tested.",
  );
});

const soybean = new URL(
  `${process.env["STANDCURVE_SHARED"] ?? "../../../shared"}/data/csv/soybean_density_splitstrip.csv`,
  import.meta.url,
);
test.skipIf(!existsSync(soybean))("a published split-strip trial reads as it is: 160 plots, 6 yields missing", () => {
  // Schabenberger & Pierce (2002), p. 493; set with permission, read from the shared folder only.
  const { trial, issues } = readTrial(readFileSync(soybean, "utf8"), { crop: "soybean" });
  expect(issues.filter((issue) => issue.code === "missing-yield")).toHaveLength(6);
  expect(issues.filter((issue) => issue.severity === "error")).toEqual([]);
  const check = checkTrial(trial as NonNullable<typeof trial>);
  expect(check).toMatchObject({ plots: 160, plotsWithoutYield: 6 });
});
