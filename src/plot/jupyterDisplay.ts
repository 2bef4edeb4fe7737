/** Symbol under which notebook kernels look for a value's own way to be shown. */
export const jupyterDisplay: unique symbol = Symbol.for("Jupyter.display") as never;

/** What a value looks like, by media type: the richest that the viewer knows is shown. */
export type MimeBundle = Readonly<Record<string, unknown>>;

/** A value that shows itself in a notebook. */
export type SelfDisplaying<T> = T & { readonly [jupyterDisplay]: () => Promise<MimeBundle> };
