import { expect, test } from "vitest";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { lodgingCounts, lodgingDates } from "../../src/standability/lodgingCounts.ts";
import type { LodgingCount, Plot } from "../../src/trial/trial.ts";

function plot(density: number | null, lodging: readonly Partial<LodgingCount>[], more: Partial<Plot> = {}): Plot {
  return {
    row: 2,
    rows: [2],
    plot: null,
    environment: "Northfield 2031",
    site: null,
    year: null,
    block: "1",
    hybrid: "A",
    seedingRate: null,
    stand: null,
    density,
    yield: 200,
    moisture: null,
    testWeight: null,
    weight: 1,
    lodging: lodging.map((count) => ({ kind: "stalk", lodged: 0, examined: 100, date: null, ...count })),
    traits: [],
    position: { row: null, column: null, order: null },
    excluded: null,
    ...more,
  };
}

test("kinds are added up to the plants examined, and a count of any kind goes first", () => {
  const plots = [
    plot(30, [{ lodged: 5 }, { kind: "root", lodged: 3 }]),
    plot(34, [{ lodged: 60 }, { kind: "root", lodged: 70 }]),
    plot(38, [{ lodged: 5 }, { kind: "any", lodged: 9 }]),
    plot(42, [
      { lodged: 5, examined: 50 },
      { kind: "root", lodged: 10, examined: 100 },
    ]),
  ];
  expect(lodgingCounts(plots)).toMatchObject({
    lodged: [8, 100, 9, 20],
    examined: [100, 100, 100, 100],
    density: [30, 34, 38, 42],
  });
  expect(lodgingCounts(plots, { kind: "root" })).toMatchObject({ lodged: [3, 70, 10], plot: [0, 1, 3] });
});

test("the last date is taken unless another is named", () => {
  const plots = [
    plot(30, [
      { lodged: 1, date: "2031-09-20" },
      { lodged: 6, date: "2031-10-20" },
    ]),
  ];
  expect(lodgingDates(plots)).toEqual(["2031-09-20", "2031-10-20"]);
  expect(lodgingCounts(plots)).toMatchObject({ lodged: [6], date: "2031-10-20" });
  expect(lodgingCounts(plots, { date: "2031-09-20" }).lodged).toEqual([1]);
});

test("plots counted on other days are not dropped: each brings its own last count", () => {
  const plots = [
    plot(30, [{ lodged: 1, date: "2031-09-20" }]),
    plot(34, [
      { lodged: 2, date: "2031-09-20" },
      { lodged: 6, date: "2031-10-04" },
    ]),
  ];
  const counts = lodgingCounts(plots);
  expect(counts).toMatchObject({ lodged: [1, 6], date: null });
  expect(counts.notes.join()).toContain("several dates");
});

test("excluded plots and plots without density or count are left out; blocks belong to their environment", () => {
  const plots = [
    plot(30, [{ lodged: 1 }]),
    plot(34, [{ lodged: 2 }], { excluded: "hail" }),
    plot(null, [{ lodged: 3 }]),
    plot(38, []),
    plot(42, [{ lodged: 4 }], { environment: "Southfield 2031" }),
  ];
  const counts = lodgingCounts(plots);
  expect(counts.plot).toEqual([0, 4]);
  expect(new Set(counts.block).size).toBe(2);
});

test("shares stay shares; beside counts they are left out with a note; percentages of counts are rounded", () => {
  const share = plot(30, [{ lodged: 0.12, examined: null }]);
  const shares = lodgingCounts([share, plot(34, [{ lodged: 0.2, examined: null }])]);
  expect(shares).toMatchObject({ lodged: [0.12, 0.2], examined: null });
  expect(fitLodging(shares).dispersionModel).toBe("quasi");
  const mixed = lodgingCounts([share, plot(34, [{ lodged: 7.011, examined: 57 }])]);
  expect(mixed).toMatchObject({ lodged: [7], examined: [57] });
  expect(mixed.notes.length).toBe(2);
  expect(lodgingCounts([]).lodged).toEqual([]);
});
