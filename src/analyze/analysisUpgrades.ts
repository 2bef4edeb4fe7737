/** An analysis as it was saved, of whatever version: nothing about it is certain yet. */
export type SavedDocument = Readonly<Record<string, unknown>>;

/** Version of the format that `analyzeTrial` writes: the number at the end of its `schema`. */
export const analysisVersion = 1;

/**
 * How a saved analysis of one version becomes one of the next, by the version it comes from.
 *
 * Each step is a pure function that never looks further than one version; reading runs them one after another and checks the result
 * against the schema of today. What an older version did not know becomes null (or false among the settings: it was not looked at), never
 * a guess, and a caution says so. A new version of the format adds one line here and keeps those above.
 */
export const analysisUpgrades: ReadonlyMap<number, (saved: SavedDocument) => SavedDocument> = new Map([
  [0, fromBeforeTheFirstRelease],
]);

/**
 * The version of a saved analysis; null when its `schema` names none.
 *
 * Development versions before 0.1.0 wrote "standcurve/trial-analysis/1" too, while parts were still being added. They are version 0: the model
 * of all hybrids (`together`) came last of the parts that every analysis has, the curves at yield goals (`goalLine`) last of all.
 */
export function versionOf(saved: SavedDocument): number | null {
  const { schema } = saved;
  const [, digits] = (typeof schema === "string" ? /^standcurve\/trial-analysis\/(\d{1,6})$/.exec(schema) : null) ?? [];
  if (digits === undefined) return null;
  const version = Number(digits);
  return version === 1 && isFromBeforeTheFirstRelease(saved) ? 0 : version;
}

function isFromBeforeTheFirstRelease(saved: SavedDocument): boolean {
  const responses = listOf(saved["hybrids"]).map((one) => inside(inside(one, "acrossEnvironments"), "response"));
  return !("together" in saved) || responses.some((one) => one?.["kind"] === "estimated" && !("goalLine" in one));
}

function fromBeforeTheFirstRelease(saved: SavedDocument): SavedDocument {
  return {
    ...lacking(saved, { plantResponse: null, together: null }),
    schema: "standcurve/trial-analysis/1",
    ...changed(saved, "settings", (settings) =>
      lacking(settings, { scrutiny: false, mixedModels: false, yieldGoal: null, extrapolateYieldGoal: false }),
    ),
    ...changedAll(saved, "hybrids", (hybrid) => ({
      ...lacking(hybrid, { acrossEnvironments: null }),
      ...changed(hybrid, "acrossEnvironments", (across) => ({
        ...across,
        ...changed(across, "response", (response) =>
          response["kind"] === "estimated" ? lacking(response, { goalLine: null }) : response,
        ),
      })),
      ...changed(hybrid, "pooled", curveFromBeforeTheFirstRelease),
      ...changedAll(hybrid, "environments", curveFromBeforeTheFirstRelease),
    })),
    ...(Array.isArray(saved["cautions"])
      ? {
          cautions: [
            ...saved["cautions"],
            "This analysis was saved by a version before 0.1.0. Where it lacks what later versions add (the range of a flex score, the counts behind a lodging limit, what a decision hangs on, many environments, plant traits), analyse the trial again.",
          ],
        }
      : {}),
  };
}

function curveFromBeforeTheFirstRelease(curve: SavedDocument): SavedDocument {
  return {
    ...(curve["kind"] === "analysed" ? lacking(curve, { nitrogen: null, scrutiny: null }) : curve),
    ...changed(curve, "flex", (flex) => lacking(flex, { interval: null })),
    ...changed(curve, "standability", (standability) => lacking(standability, { lodgingFit: null })),
  };
}

/** The object with these properties where it has none of the name. */
function lacking(object: SavedDocument, parts: SavedDocument): SavedDocument {
  return { ...parts, ...object };
}

/** The property changed, when it is an object; else nothing, so that the check of the result names what is wrong. */
function changed(object: SavedDocument, name: string, change: (part: SavedDocument) => SavedDocument): SavedDocument {
  const part = inside(object, name);
  return part === null ? {} : { [name]: change(part) };
}

function changedAll(
  object: SavedDocument,
  name: string,
  change: (part: SavedDocument) => SavedDocument,
): SavedDocument {
  const parts = object[name];
  return Array.isArray(parts) ? { [name]: parts.map((part) => (isObject(part) ? change(part) : part)) } : {};
}

function inside(object: SavedDocument | null, name: string): SavedDocument | null {
  const part = object?.[name];
  return isObject(part) ? part : null;
}

const listOf = (value: unknown): SavedDocument[] => (Array.isArray(value) ? value.filter(isObject) : []);

function isObject(value: unknown): value is SavedDocument {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
