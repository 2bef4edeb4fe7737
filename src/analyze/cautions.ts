import type { Trial } from "../trial/trial.ts";

/** What every reader of a result must bear in mind. */
export function cautionsFor(
  trial: Trial,
  hasPrices: boolean,
  establishmentKnown: boolean,
  lodgingCounted: boolean,
): string[] {
  const cautions = [
    "These results hold for the hybrids, the range of densities and the environments of this trial; a few site-years do not stand for the next season.",
    "Densities outside the tested range are never recommended here.",
    lodgingCounted
      ? "Yield and lodging do not set a rate alone: check what the field can feed."
      : "Yield alone does not set a rate: check stalk strength and lodging at the higher densities, and what the field can feed.",
    "Follow the seed label, local rules and a licensed adviser where they say otherwise.",
  ];
  if (lodgingCounted) {
    cautions.push(
      "Lodging is as counted on that day in that weather: wind, stalk rot and a later harvest can make far more lodge, so treat the limit as the most, not as safe.",
      "How much grain of lodged plants is lost depends on the kind of lodging and the harvester; the loss share is an assumption of whoever states it.",
    );
  }
  if (hasPrices && !establishmentKnown && trial.densityAxis !== "seeding-rate") {
    cautions.push(
      "No seeding rates were given beside the stands: seed is costed as if every seed made a plant, so the economic optimum is somewhat high.",
    );
  }
  if (trial.densityAxis === "seeding-rate") {
    cautions.push(
      "Densities are seeding rates, not counted stands: where emergence failed, the curve belongs to fewer plants than it says.",
    );
  }
  return cautions;
}
