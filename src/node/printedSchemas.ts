import { trialAnalysisSchema } from "../analyze/schema.ts";
import { fieldSchema } from "../recommend/fieldSchema.ts";
import { zoneFileSchema, zoneSchema } from "../recommend/zoneSchema.ts";

/** What `standcurve schema NAME` prints: the result of the analysis, and what is read besides the trial. */
export const printedSchemas: Readonly<Record<string, { readonly what: string; readonly schema: unknown }>> = {
  analysis: { what: "the result of analyze --json; the default", schema: trialAnalysisSchema },
  field: { what: "a field, as recommend and zones read it from --field", schema: fieldSchema },
  zones: {
    what: "a zone file in GeoJSON, as zones reads it from --zones; a CSV has the same names as columns",
    schema: zoneFileSchema,
  },
  zone: { what: "one zone, as planZones of the library takes it", schema: zoneSchema },
};
