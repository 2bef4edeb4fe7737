const LEAST = -1074;

function powersOfTwo(): Float64Array {
  const powers = new Float64Array(1023 - LEAST + 1);
  powers[-LEAST] = 1;
  for (let n = 1; n <= 1023; n++) powers[n - LEAST] = powers[n - 1 - LEAST] * 2;
  for (let n = -1; n >= LEAST; n--) powers[n - LEAST] = powers[n + 1 - LEAST] / 2;
  return powers;
}

const POWERS = /* @__PURE__ */ powersOfTwo();

/** 2^n for a whole n from -1074 to 1023. */
export function powerOfTwo(n: number): number {
  return POWERS[n - LEAST];
}

/** value 2^n, rounded once, for 0.5 <= |value| < 4 and a whole n from -1100 to 1024. */
export function scaled(value: number, n: number): number {
  if (n > 1022) return value * powerOfTwo(n - 2) * 4;
  return n < -1020 ? value * powerOfTwo(n + 100) * powerOfTwo(-100) : value * powerOfTwo(n);
}

const view = /* @__PURE__ */ new Float64Array(1);
const words = /* @__PURE__ */ new Int32Array(view.buffer);
/** Which of the two words holds sign and exponent depends on the processor's byte order. */
const HIGH = /* @__PURE__ */ new Uint8Array(/* @__PURE__ */ new Uint32Array([1]).buffer)[0] === 1 ? 1 : 0;

/** Upper 32 bits of a double: sign, eleven bits of exponent, twenty of the fraction. */
export function highWord(x: number): number {
  view[0] = x;
  return words[HIGH];
}
