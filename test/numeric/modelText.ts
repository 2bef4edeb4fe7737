/**
 * Reads a model such as "b1*(1-exp(-b2*x))" and returns its value and exact derivatives with respect to b1 ... bp, by
 * forward-mode differentiation. For tests on published models.
 */
export interface TextModel {
  readonly value: (x: number, b: ArrayLike<number>) => number;
  readonly gradient: (x: number, b: ArrayLike<number>, out: Float64Array) => void;
}

interface Dual {
  readonly v: number;
  readonly d: Float64Array;
}
type Node = (x: number, b: ArrayLike<number>) => Dual;

export function textModel(text: string, p: number): TextModel {
  const plain = parse(text, 0);
  const differentiated = parse(text, p);
  return { value: (x, b) => plain(x, b).v, gradient: (x, b, out) => out.set(differentiated(x, b).d) };
}

/** The model as a function that carries its derivatives with respect to the first p parameters. */
function parse(text: string, p: number): Node {
  const tokens = text.match(/\*\*|[-+*/()]|[a-z]\w*|\d+\.?\d*/g) ?? [];
  let at = 0;
  const take = (token: string): boolean => tokens[at] === token && ++at > 0;
  const dual = (v: number, d: (j: number) => number): Dual => {
    const out = new Float64Array(p);
    for (let j = 0; j < p; j++) out[j] = d(j);
    return { v, d: out };
  };
  const constant = (v: number): Dual => ({ v, d: new Float64Array(p) });

  function sum(): Node {
    let left = product();
    for (;;) {
      const sign = take("+") ? 1 : take("-") ? -1 : 0;
      if (sign === 0) return left;
      const [a, b] = [left, product()];
      left = (x, theta) => {
        const [l, r] = [a(x, theta), b(x, theta)];
        return dual(l.v + sign * r.v, (j) => l.d[j] + sign * r.d[j]);
      };
    }
  }
  function product(): Node {
    let left = signed();
    for (;;) {
      const times = take("*");
      if (!times && !take("/")) return left;
      const [a, b] = [left, signed()];
      left = (x, theta) => {
        const [l, r] = [a(x, theta), b(x, theta)];
        return times
          ? dual(l.v * r.v, (j) => l.d[j] * r.v + l.v * r.d[j])
          : dual(l.v / r.v, (j) => (l.d[j] - (l.v / r.v) * r.d[j]) / r.v);
      };
    }
  }
  function signed(): Node {
    if (!take("-")) return power();
    const inner = signed();
    return (x, theta) => {
      const u = inner(x, theta);
      return dual(-u.v, (j) => -u.d[j]);
    };
  }
  function power(): Node {
    const base = atom();
    if (!take("**")) return base;
    const exponent = signed();
    return (x, theta) => {
      const [u, e] = [base(x, theta), exponent(x, theta)];
      const v = u.v ** e.v;
      const fixed = e.d.every((d) => d === 0);
      return dual(v, (j) => e.v * u.v ** (e.v - 1) * u.d[j] + (fixed ? 0 : v * Math.log(u.v) * e.d[j]));
    };
  }
  function atom(): Node {
    if (take("(")) {
      const inner = sum();
      take(")");
      return inner;
    }
    const token = tokens[at++];
    if (token === "exp") {
      const inner = atom();
      return (x, theta) => {
        const u = inner(x, theta);
        const v = Math.exp(u.v);
        return dual(v, (j) => v * u.d[j]);
      };
    }
    if (token === "x") return (x) => constant(x);
    if (token[0] === "b") {
      const k = Number(token.slice(1)) - 1;
      return (_, theta) => dual(theta[k], (j) => (j === k ? 1 : 0));
    }
    const number = Number(token);
    if (!Number.isFinite(number)) throw new Error(`cannot read ${token} in ${text}`);
    return () => constant(number);
  }
  const root = sum();
  if (at !== tokens.length) throw new Error(`cannot read ${tokens.slice(at).join(" ")} in ${text}`);
  return root;
}
