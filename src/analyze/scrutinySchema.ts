import { allFamilies } from "../curves/family.ts";
import { choice, count, flag, list, number, object, orNull, ref, type Schema, text } from "./schemaParts.ts";

const family = choice("Response family.", allFamilies);

const decisionProperties: Schema = {
  family,
  agronomic: ref("decisionPlace"),
  economic: orNull(ref("decisionPlace")),
  flexScore: orNull(number("Flex score; null without reference densities inside the tested range.")),
};

/** Parts of the schema of an analysis that say what a decision hangs on. */
export const scrutinyDefinitions: Schema = {
  decisionPlace: object("An optimum as a grower would be told it.", {
    kind: choice("Where it lies.", ["interior", "lower-edge", "upper-edge", "none"]),
    density: orNull(number("Null without response.")),
  }),
  scrutiny: object("What the decision hangs on.", {
    influence: object("Plots, blocks, densities and environments left out in turn.", {
      leftOut: count("How many were left out."),
      worst: list(
        "Those that move the optimum by more than 5 % of the tested range.",
        object("One left out.", {
          unit: choice("What was left out.", ["plot", "block", "density", "environment"]),
          label: text("Its name, or the density."),
          plots: count("Plots left out."),
          decision: orNull(object("What would be said without it.", decisionProperties)),
          reason: orNull(text("Why nothing could be said.")),
          shift: object("Without less with.", {
            agronomic: orNull(number("Density units.")),
            economic: orNull(number("Density units.")),
            flexScore: orNull(number("Scores.")),
          }),
          familyChanged: flag("Another curve is chosen without it."),
          matters: flag("The optimum moves by more than 5 % of the range, or appears or disappears."),
        }),
      ),
      sentences: list("The worst ones in words.", text("A sentence.")),
    }),
    checks: list(
      "Checks of the chosen curve.",
      object("One check.", {
        name: choice("Which.", [
          "mean-by-density",
          "mean-by-fitted",
          "spread-by-density",
          "spread-by-fitted",
          "normality",
          "outliers",
          "neighbours",
          "position-trend",
        ]),
        verdict: choice("Found, and whether it matters.", ["fine", "harmless", "matters", "not-tested"]),
        statistic: orNull(
          object("The statistic.", {
            name: text("Its name."),
            value: number("Its value."),
            dof: list("Degrees of freedom.", number("One of them.")),
          }),
        ),
        p: orNull(number("P value; null when not tested.")),
        message: text("The finding."),
        effect: orNull(
          object("What acting upon it does to the optimum.", {
            remedy: text("How it was acted upon."),
            decision: orNull(
              object("The decision then.", decisionProperties, ["family", "agronomic", "economic", "flexScore"]),
            ),
            matters: flag("The optimum moves by more than 5 % of the range."),
            sentence: text("In words."),
          }),
        ),
        plots: list("Plots concerned, counted from 1 among those used.", count("Number.")),
      }),
    ),
    alarms: list("Findings that move the optimum or make its range too short, in words.", text("A sentence.")),
  }),
};
