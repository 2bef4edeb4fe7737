/** A JSON Schema, or a map of them. */
export type Schema = Readonly<Record<string, unknown>>;

export const text = (description: string): Schema => ({ type: "string", description });
export const number = (description: string, more: Schema = {}): Schema => ({ type: "number", description, ...more });
export const count = (description: string): Schema => ({ type: "integer", minimum: 0, description });
export const flag = (description: string): Schema => ({ type: "boolean", description });
export const choice = (description: string, values: readonly unknown[]): Schema => ({ enum: values, description });
export const list = (description: string, items: Schema): Schema => ({ type: "array", items, description });
export const pair = (description: string): Schema => ({
  type: "array",
  items: { type: "number" },
  minItems: 2,
  maxItems: 2,
  description,
});
export const ref = (name: string): Schema => ({ $ref: `#/$defs/${name}` });
/** The same, or null. */
export const orNull = (schema: Schema): Schema => {
  const { description, ...rest } = schema;
  return { anyOf: [rest, { type: "null" }], ...(description === undefined ? {} : { description }) };
};
/** All properties required, no others allowed; names in `optional` may be absent. */
export const object = (description: string, properties: Schema, optional: readonly string[] = []): Schema => ({
  type: "object",
  description,
  properties,
  required: Object.keys(properties).filter((name) => !optional.includes(name)),
  additionalProperties: false,
});
export const byName = (description: string, values: Schema): Schema => ({
  type: "object",
  description,
  additionalProperties: values,
});
