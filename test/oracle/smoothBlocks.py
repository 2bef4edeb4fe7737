"""Carries the answers of smoothBlocks.R on to 40 digits by Newton's method (weights, sum-to-zero block deviations)."""
import json, sys
import mpmath as mp
mp.mp.dps = 40


def exponential(x, t): m = x * mp.exp(t[0] + t[1] * x); return m, [m, x * m], [[m, x * m], [x * m, x * x * m]]
def reciprocal(x, t):
    d = sum(v * x ** j for j, v in enumerate(t)); p = len(t)
    return x / d, [-x ** (j + 1) / d ** 2 for j in range(p)], [[2 * x ** (j + k + 1) / d ** 3 for k in range(p)] for j in range(p)]
def mitscherlich(x, t):
    e = mp.exp(-t[2] * x); b = t[1]
    return t[0] - b * e, [1, -e, b * x * e], [[0, 0, 0], [0, 0, x * e], [0, x * e, -b * x * x * e]]


models = {"exponential": exponential, "reciprocal": reciprocal, "parabolic-reciprocal": reciprocal, "mitscherlich": mitscherlich}
sets = json.load(open(sys.argv[1]))
for s in sets:
    f = models[s["family"]]; p = len(s["theta"]); B = s["blocks"]; q = p + B - 1
    x = [mp.mpf(repr(v)) for v in s["x"]]; y = [mp.mpf(repr(v)) for v in s["y"]]; w = [mp.mpf(repr(v)) for v in s["weight"]]
    t = [mp.mpf(v) for v in s["theta"]] + [mp.mpf(v) for v in s["deviation"][:-1]]
    con = [[1 if b == j else -1 if b == B - 1 else 0 for j in range(B - 1)] for b in s["block"]]
    for _ in range(100):
        g = mp.matrix(q, 1); h = mp.matrix(q, q); jj = mp.matrix(q, q); rss = mp.mpf(0)
        for xi, yi, wi, c in zip(x, y, w, con):
            m, d, dd = f(xi, t[:p]); m += sum(a * b for a, b in zip(t[p:], c)); d = d + c; r = yi - m; rss += wi * r * r
            for j in range(q):
                g[j] += wi * r * d[j]
                for k in range(q): jj[j, k] += wi * d[j] * d[k]; h[j, k] += wi * (d[j] * d[k] - (r * dd[j][k] if j < p and k < p else 0))
        step = mp.lu_solve(h, g); t = [a + b for a, b in zip(t, step)]
        if all(abs(b) <= mp.mpf(10) ** -28 for b in step): break
    else: raise SystemExit("no convergence")
    worst = max(abs(a - b) / abs(b) for a, b in zip(t[:p], s["theta"])); assert worst < 1e-3, (s["family"], worst)  # still R's minimum
    v = jj ** -1 * rss / s["df"]
    dev = t[p:] + [-sum(t[p:])]; vl = sum(v[j, k] for j in range(p, q) for k in range(p, q))
    s.update(theta=[float(a) for a in t[:p]], se=[float(mp.sqrt(v[j, j])) for j in range(p)], deviation=[float(a) for a in dev], rss=float(rss),
             deviation_se=[float(mp.sqrt(v[j, j])) for j in range(p, q)] + [float(mp.sqrt(vl))])
print("[\n" + ",\n".join(json.dumps(s) for s in sets) + "\n]")
