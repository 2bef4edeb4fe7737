"""Least-squares solutions of y = x/(a + b x (+ c x^2)) and y = A - B exp(-k x) to 40 digits: Newton's method on the exact
gradient and second derivatives, started at R's answers in yieldDensity.json.  usage: python3 smoothRefined.py > smoothRefined.json"""
import csv, json, re, os
import mpmath as mp
mp.mp.dps = 40
here = os.path.dirname(os.path.abspath(__file__))


def rows(g):
    out = []
    for r in csv.DictReader(open(f"{here}/csv/{g['csv']}")):
        if any(str(r[k]) != str(v) for k, v in g["group"].items()) or "NA" in (r[g["x"]], r[g["y"]]): continue
        f = g["filter"]
        if f == "day == 40" and r["day"] != "40": continue
        if f and f.startswith("!(block == 'B3'") and r["block"] == "B3" and r["density"] == "95": continue
        out.append(r)
    x = [mp.mpf(r[g["x"]]) for r in out]; y = [mp.mpf(r[g["y"]]) for r in out]
    if g["y_transform"] == "exp": y = [mp.exp(v) for v in y]
    if g["response_used"] != "y": y = [a * b for a, b in zip(x, y)]
    return x, y


def reciprocal(x, t):
    d = sum(v * x ** j for j, v in enumerate(t)); p = len(t)
    return x / d, [-x ** (j + 1) / d ** 2 for j in range(p)], [[2 * x ** (j + k + 1) / d ** 3 for k in range(p)] for j in range(p)]


def mitscherlich(x, t):
    e = mp.exp(-t[2] * x); b = t[1]
    return t[0] - b * e, [1, -e, b * x * e], [[0, 0, 0], [0, 0, x * e], [0, x * e, -b * x * x * e]]


def newton(model, x, y, start):
    t = [mp.mpf(v) for v in start]; p = len(t)
    for _ in range(100):
        g = mp.matrix(p, 1); h = mp.matrix(p, p); jj = mp.matrix(p, p); rss = mp.mpf(0)
        for xi, yi in zip(x, y):
            m, d, dd = model(xi, t); r = yi - m; rss += r * r
            for j in range(p):
                g[j] += r * d[j]
                for k in range(p): h[j, k] += d[j] * d[k] - r * dd[j][k]; jj[j, k] += d[j] * d[k]
        s = mp.lu_solve(h, g)
        t = [a + b for a, b in zip(t, s)]
        if all(abs(b) <= abs(a) * mp.mpf(10) ** -25 for a, b in zip(t, s)): break
    else: raise SystemExit("no convergence")
    df = len(x) - p; v = jj ** -1
    return {"theta": [float(a) for a in t], "se": [float(mp.sqrt(v[j, j] * rss / df)) for j in range(p)] if df else None, "rss": float(rss)}


out = []
for g in json.load(open(f"{here}/yieldDensity.json"))["groups"]:
    x, y = rows(g); assert len(x) == g["n"], g["id"]
    m = g["models"]; o = {"id": g["id"] + (f" [{g['filter']}]" if g["filter"] else "") + (f" ({g['y_transform']})" if g["y_transform"] else "")}
    if m["mitscherlich"].get("coef"): o["mitscherlich"] = newton(mitscherlich, x, y, [m["mitscherlich"]["coef"][k]["est"] for k in "ABk"])
    for name, key in (("reciprocal", "linear_nls_yield"), ("parabolic-reciprocal", "quadratic_nls_yield")):
        c = m.get("reciprocal", {}).get(key, {}).get("coef")
        if c: o[name] = newton(reciprocal, x, y, [c[k]["est"] for k in "abc" if k in c])
    out.append(o)
print('{"groups": [\n' + ",\n".join(json.dumps(o) for o in out) + "\n]}")
