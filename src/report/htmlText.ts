/** Text that is HTML already. Everything else put into a page is escaped. */
export interface Html {
  readonly html: string;
}

type Part = string | number | Html | null | readonly Part[];

/**
 * HTML from a template: values put in are escaped, unless they are `Html` themselves; lists are joined, null is nothing.
 *
 * @example
 * html`<p>${"<b>"}</p>`.html; // => "<p>&lt;b&gt;</p>"
 */
export function html(strings: TemplateStringsArray, ...parts: readonly Part[]): Html {
  return { html: strings.reduce((text, string, i) => text + string + (i < parts.length ? put(parts[i]) : ""), "") };
}

function put(part: Part): string {
  if (part === null) return "";
  if (typeof part === "object") return "html" in part ? part.html : part.map(put).join("");
  return escapeHtml(String(part));
}

/** The five letters that could end a text or an attribute, as entities. */
export function escapeHtml(text: string): string {
  return text
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replaceAll('"', "&quot;")
    .replaceAll("'", "&#39;");
}
