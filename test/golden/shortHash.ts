import { createHash } from "node:crypto";

/** First 12 hexadecimal digits of the SHA-256 of a text. */
export const shortHash = (text: string): string => createHash("sha256").update(text).digest("hex").slice(0, 12);
