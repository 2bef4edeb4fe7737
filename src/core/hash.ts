import { sha256 } from "@noble/hashes/sha2.js";
import { bytesToHex, utf8ToBytes } from "@noble/hashes/utils.js";

/** SHA-256 of a text as 64 hexadecimal digits: names the input of a result. The one door to the hashing package. */
export function hashText(text: string): string {
  return bytesToHex(sha256(utf8ToBytes(text)));
}
