/** The part of JSON Schema (2020-12) that the input schemas of this folder use. */
export interface InputSchema {
  readonly $schema?: string;
  readonly $id?: string;
  readonly title?: string;
  readonly description?: string;
  readonly type?: "object" | "number" | "string";
  readonly properties?: Readonly<Record<string, InputSchema>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: boolean;
  readonly enum?: readonly string[];
  readonly minLength?: number;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
  readonly exclusiveMaximum?: number;
  readonly anyOf?: readonly InputSchema[];
  readonly dependentRequired?: Readonly<Record<string, readonly string[]>>;
}

interface Bounds {
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
  readonly exclusiveMaximum?: number;
}

/** A number, or { lowest, likely, highest }. */
export function estimateSchema(description: string, bounds: Bounds): InputSchema {
  const one: InputSchema = { type: "number", ...bounds };
  return {
    description,
    anyOf: [
      one,
      {
        type: "object",
        properties: { lowest: one, likely: one, highest: one },
        required: ["lowest", "likely", "highest"],
        additionalProperties: false,
      },
    ],
  };
}
