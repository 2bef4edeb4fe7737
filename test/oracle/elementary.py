"""Elementary functions to 1,500 bits (mpmath 1.3.0) at random, special and threshold arguments.
A row: argument(s), the nearest double, and what it misses of the exact value, in units of its last place.
usage: python3 elementary.py > elementary.json"""
import json, math, random, struct
import mpmath as mp

mp.mp.prec = 1500
rng = random.Random(20261125)
uniform = rng.uniform
spread = lambda low, high: math.exp(uniform(math.log(low), math.log(high)))
sign = lambda: rng.choice((-1, 1))
near = lambda x, k=2: [v for n in range(-k, k + 1) for v in [steps(x, n)]]


def steps(x, n):
    for _ in range(abs(n)): x = math.nextafter(x, math.inf if n > 0 else -math.inf)
    return x


def nearest(value):
    """Nearest double of an mpf, ties to even, subnormals included."""
    if value == 0: return 0.0
    exponent = max(int(mp.floor(mp.log(abs(value), 2))), -1022)
    for e in (exponent - 1, exponent, exponent + 1):  # the floor of a logarithm may be one off
        e = max(e, -1022)
        whole = int(mp.nint(value * mp.mpf(2) ** (52 - e)))
        if abs(whole) < 2 ** 53 or e == exponent + 1: break
    return math.inf if abs(value) >= mp.mpf(2) ** 1024 - mp.mpf(2) ** 970 else math.ldexp(whole, e - 52)


def table(functions, args):
    rows = []
    for a in args:
        exact = functions(*[mp.mpf(v) for v in a])
        value = nearest(exact)
        if math.isinf(value): continue
        rows.append([*a, value, round(float((exact - mp.mpf(value)) / mp.mpf(math.ulp(value))), 4)])
    return rows


N = 40
one = lambda *lists: [[v] for part in lists for v in part]
many = lambda f, n=N: [f() for _ in range(n)]
tiny = [5e-324, 1e-310, 2.2250738585072009e-308, 2.2250738585072014e-308, 1e-300, 1e-20, 1e-9]
both = lambda list: [s * v for v in list for s in (1, -1)]
out = {}
steps128 = [math.log(2) / 128 * (k + 0.5) for k in (-300, -129, -65, -2, -1, 0, 1, 64, 127, 1000, 60000)]
out["exp"] = table(mp.exp, one(many(lambda: uniform(-745, 709)), many(lambda: uniform(-2, 2)), both(tiny), near(709.78, 1), near(-745.13, 1), near(-708.4), near(700.0), near(-700.0), [v for s in steps128 for v in near(s, 1)]))
out["expm1"] = table(mp.expm1, one(many(lambda: uniform(-45, 709)), many(lambda: uniform(-1, 1)), many(lambda: sign() * spread(1e-12, 1)), both(tiny), near(0.25), near(-0.25), near(-40.0), near(700.0), near(math.log(2)), near(-math.log(2))))
nodes = [(j + 0.5) / 128 for j in range(90, 182, 13)] + [127.5 / 128, 128.5 / 128]
logs = one(many(lambda: spread(5e-324, 1.7e308)), many(lambda: uniform(0.5, 2)), many(lambda: uniform(0.99, 1.01)), tiny, near(1.0), near(math.sqrt(0.5)), near(math.sqrt(2)), [v for n in nodes for v in near(n, 1)], [2.0 ** k for k in range(-1074, 1024, 97)], [10.0 ** k for k in range(-22, 23, 3)], [1.7976931348623157e308])
out["log"] = table(mp.log, logs)
out["log2"] = table(lambda x: mp.log(x) / mp.log(2), logs)
out["log10"] = table(lambda x: mp.log(x) / mp.log(10), logs)
out["log1p"] = table(mp.log1p, one(many(lambda: uniform(-1, 2)), many(lambda: sign() * spread(1e-12, 0.9)), many(lambda: spread(1e-3, 1e300)), both(tiny), near(0.0039), near(-0.0039), near(-0.9999999), [9007199254740992.0, 1.7976931348623157e308, math.nextafter(-1, 0)]))
powers = [[spread(1e-5, 1e5), uniform(-60, 60)] for _ in range(N)] + [[uniform(0.5, 2), uniform(-700, 700)] for _ in range(N)] + [[uniform(0.99, 1.01), uniform(-6e4, 6e4)] for _ in range(N)] + [[uniform(0, 100), float(rng.randint(-6, 6))] for _ in range(N)]
powers += [[-uniform(0, 10), float(rng.randint(-9, 9))] for _ in range(10)] + [[x, 0.5] for x in (0.3, 2.0, 1e300, 5e-324)] + [[x, 1 / 3] for x in (8.0, 27.0, 0.1)]
powers += [[2.0, float(k)] for k in range(-1074, 1024, 61)] + [[10.0, float(k)] for k in range(-30, 31, 4)] + [[3.0, float(k)] for k in range(0, 34, 3)] + [[1 + 2.0 ** -52, 1e15], [1 - 2.0 ** -53, -1e15], [5e-324, 0.01], [1.7976931348623157e308, -0.99], [1.5, 1e-300]]
out["pow"] = table(lambda x, y: x ** y, powers)
turns = [math.pi * k / 4 for k in range(1, 12)] + [math.pi * 1000, math.pi / 2 * 636619, 6381956970095103 * 2.0 ** 797, 1e6, 1e22, 2.0 ** 1000, 1.7976931348623157e308]
angles = one(many(lambda: uniform(-7, 7)), many(lambda: uniform(-0.8, 0.8)), many(lambda: uniform(-1e6, 1e6)), many(lambda: sign() * spread(1e-10, 1e20)), both(tiny), [v for t in turns for v in near(t, 1) if not math.isinf(v)])
out["sin"] = table(mp.sin, angles)
out["cos"] = table(mp.cos, angles)
sixteenths = [v for j in range(1, 16, 2) for v in near((j + 0.5) / 16, 1)]
out["atan"] = table(mp.atan, one(many(lambda: uniform(-2, 2)), many(lambda: sign() * spread(1e-12, 1e20)), both(tiny), sixteenths, near(1.0), [1e300]))
arcs = one(many(lambda: uniform(-1, 1)), many(lambda: sign() * spread(1e-12, 1)), many(lambda: sign() * (1 - spread(1e-15, 0.1))), both(tiny), both(near(math.sqrt(0.5))), [math.nextafter(1, 0), math.nextafter(-1, 0)])
out["asin"] = table(mp.asin, arcs)
out["acos"] = table(mp.acos, arcs)
planes = [[sign() * spread(1e-12, 1e12), sign() * spread(1e-12, 1e12)] for _ in range(N)] + [[uniform(-2, 2), uniform(-2, 2)] for _ in range(N)] + [[sign() * spread(1e-300, 1e300), sign() * spread(1e-300, 1e300)] for _ in range(N)]
planes += [[5e-324, 1e-323], [1e-310, -3e-310], [1.7e308, 1.6e308], [1.7e308, -1e300], [1.0, 1e-30], [1e-30, -1.0]]
out["atan2"] = table(mp.atan2, planes)
out["hypot"] = table(lambda x, y: mp.sqrt(x * x + y * y), planes)
print(json.dumps(out, separators=(",", ":")).replace('],"', '],\n"').replace("],[", "],\n["))
