import { checkShape } from "../core/checkShape.ts";
/**
 * A drawing as the address of an image, fit for an attribute in quotes: an image runs no script and loads nothing, whatever it contains.
 * "&" is encoded too, or HTML would read the entities of the drawing before the drawing does.
 *
 * @example
 * svgAddress("<svg/>"); // => "data:image/svg+xml;charset=utf-8,%3Csvg/%3E"
 */
export function svgAddress(svg: string): string {
  checkShape(svg, "svg", "text", "invalid-option");
  const data = svg.replace(/(?:[^ -~]|[%#&<>"'])+/gu, (letters) => encodeURIComponent(letters).replaceAll("'", "%27"));
  return `data:image/svg+xml;charset=utf-8,${data}`;
}
