"""High-precision values (mpmath, 40 digits; studentised range by Gauss-Legendre panels, spot-checked
with mpmath) for the points listed by 70_distributions.R.  usage: in.json share.json other.json"""
import json, sys, time
import mpmath as mp, numpy as np
mp.mp.dps = 40
J = json.load(open(sys.argv[1])); one = mp.mpf(1)
M = lambda v: mp.mpf(repr(float(v)))


def ibeta(a, b, x, y, swapped=False):                     # regularised incomplete beta, x + y = 1 both given exactly
    if x <= 0: return mp.mpf(0)
    if y <= 0: return one
    if not swapped and x > (a + 1) / (a + b + 2): return one - ibeta(b, a, y, x, True)
    front = mp.exp(a * mp.log(x) + b * mp.log(y) - mp.log(a) - (mp.loggamma(a) + mp.loggamma(b) - mp.loggamma(a + b)))
    tiny, eps = mp.mpf(10) ** (-4 * mp.mp.dps), mp.mpf(10) ** (-mp.mp.dps); c, d = one, one - (a + b) * x / (a + 1); d = one / (d if d else tiny); h = d
    for m in range(1, 200000):               # Lentz evaluation of the continued fraction
        for n in (m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)), -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))):
            d = one + n * d; d = one / (d if d else tiny); c = one + n / c; c = c if c else tiny; h *= c * d
        if abs(c * d - 1) < eps: break
    return front * h


def cdfs(dist, A, x):                        # (lower, upper, density)
    if dist == "normal": return mp.erfc(-x / mp.sqrt(2)) / 2, mp.erfc(x / mp.sqrt(2)) / 2, mp.npdf(x)
    if dist == "t":
        v = M(A["df"]); u = v / (v + x * x); w = x * x / (v + x * x); tail = tailbeta(v / 2, mp.mpf(1) / 2, u, w) / 2
        d = mp.exp(mp.loggamma((v + 1) / 2) - mp.loggamma(v / 2)) / mp.sqrt(v * mp.pi) * (1 + x * x / v) ** (-(v + 1) / 2)
        return (tail, 1 - tail, d) if x < 0 else (1 - tail, tail, d)
    if dist == "f":
        a, b = M(A["df1"]), M(A["df2"]); y = a * x / (a * x + b); z = b / (a * x + b); lo = tailbeta(a / 2, b / 2, y, z); up = tailbeta(b / 2, a / 2, z, y)
        return lo, up, mp.exp(a / 2 * mp.log(a) + b / 2 * mp.log(b) + (a / 2 - 1) * mp.log(x) - (a + b) / 2 * mp.log(b + a * x) - mp.log(mp.beta(a / 2, b / 2)))
    if dist in ("chi2", "gamma"):
        s, z, sc = (M(A["df"]) / 2, x / 2, mp.mpf(1) / 2) if dist == "chi2" else (M(A["shape"]), x, one)
        return mp.gammainc(s, 0, z, regularized=True), mp.gammainc(s, z, mp.inf, regularized=True), sc * mp.exp((s - 1) * mp.log(z) - z - mp.loggamma(s))
    if dist == "beta":
        a, b = M(A["a"]), M(A["b"]); return tailbeta(a, b, x, 1 - x), tailbeta(b, a, 1 - x, x), mp.exp((a - 1) * mp.log(x) + (b - 1) * mp.log(1 - x) - mp.log(mp.beta(a, b)))


def tailbeta(a, b, x, y):                    # accurate also when tiny: raise precision until stable
    old = mp.mp.dps
    for d in (40, 80, 160, 400):
        mp.mp.dps = d; v = ibeta(a, b, x, y); mp.mp.dps = old
        if abs(v) > mp.mpf(10) ** (-(d - 25)): break
    return +v


def quantile(dist, A, p, start):
    p = M(p); x = M(start)
    for _ in range(60):
        lo, up, d = cdfs(dist, A, x); r = (lo - p) / d if p < 0.5 else ((1 - p) - up) / d
        nx = x - r
        if dist in ("f", "chi2", "gamma") and nx <= 0: nx = x / 2
        if dist == "beta" and not 0 < nx < 1: nx = x / 2 if nx <= 0 else (1 + x) / 2
        if abs(nx - x) <= abs(nx) * mp.mpf(10) ** -30: return nx
        x = nx
    return x


from studentisedRange import tukey, tukey_q
worst = {}; t0 = time.time(); spot = []
for P in J["points"]:
    d, fn, A = P["dist"], P["fn"], P["args"] if isinstance(P["args"], dict) else {}
    if d == "tukey":
        v = tukey(P["at"], int(A["k"]), A["df"])[0 if fn == "cdf" else 1] if fn != "quantile" else tukey_q(P["at"], int(A["k"]), A["df"], P["r_value"] if isinstance(P["r_value"], (int, float)) else 3.0)
        P["value"] = float(v); P["value_digits"] = 12
    elif d == "lgamma": P["value"] = float(mp.loggamma(M(P["at"]))); P["value_digits"] = 16
    else:
        if fn == "quantile": v = quantile(d, A, P["at"], P["r_value"]) if not (P["at"] == 0.5 and d in ("normal", "t")) else mp.mpf(0)
        else: v = cdfs(d, A, M(P["at"]))[0 if fn == "cdf" else 1]
        P["value"] = float(v); P["value_digits"] = 16
    if not isinstance(P["r_value"], (int, float)): P["r_relative_error"] = None; worst.setdefault("R returned NaN", [0, 0, []])[0] += 1; worst["R returned NaN"][2].append([d, fn, A, P["at"], P["value"]]); continue
    e = abs(P["r_value"] - P["value"]) / abs(P["value"]) if P["value"] else abs(P["r_value"]); P["r_relative_error"] = e
    w = worst.setdefault(d + " " + fn, [0, 0, None]); w[0] += 1
    if e > w[1]: w[1] = e; w[2] = [A, P["at"], P["r_value"], P["value"]]
# spot check of the panel rule with nested mpmath quadrature
mp.mp.dps = 20


def tukey_mp(q, k, v):
    R = lambda w: k * mp.quad(lambda z: mp.npdf(z) * (mp.ncdf(z) - mp.ncdf(z - w)) ** (k - 1), [-9, -4, -1, 1, 3, 5, 9 + w / 2], maxdegree=7); v = mp.mpf(v); c = mp.exp(mp.log(2) + v / 2 * mp.log(v / 2) - mp.loggamma(v / 2))
    return mp.quad(lambda s: c * s ** (v - 1) * mp.exp(-v * s * s / 2) * R(q * s), [0, 2 / q, 4 / q, 6 / q, 9 / q, 0.5 + 9 / q, 1 + 9 / q, 1.7 + 9 / q, 3 + 9 / q, 7], maxdegree=6)


for q, k, v in ((3.5, 3, 10), (2.0, 5, 45), (12.0, 8, 2), (37.9, 20, 2)):
    m = tukey_mp(mp.mpf(q), k, v); p = tukey(q, k, v)[0]; spot.append({"q": q, "k": k, "df": v, "mpmath": mp.nstr(m, 17), "panels": p, "difference": float(abs(m - p))})
J["meta"]["reference_field"] = "value (double nearest to the high-precision result); value_digits = digits to trust; r_value is what R printed"
J["meta"]["spot_checks_studentised_range"] = spot
J["meta"]["largest_r_relative_error"] = {k: {"points": v[0], "max": v[1], "where": v[2]} for k, v in worst.items()}
pts = J["points"]
for fn, keep in ((sys.argv[2], lambda i: i % 5 != 4), (sys.argv[3], lambda i: i % 5 == 4)):
    J["points"] = [p for i, p in enumerate(pts) if keep(i)]; json.dump(J, open(fn, "w"), indent=0)
print(json.dumps(J["meta"]["largest_r_relative_error"], indent=0)); print(spot, round(time.time() - t0, 1), "s")
