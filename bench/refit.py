"""Peer for the fit benchmark: the quadratic-plateau with block effects by SciPy's curve_fit, with its Jacobian, well started.

Usage: python3 scipy.py data.json repeats. Prints one line of JSON.
"""
import json
import sys
import time

import numpy
import scipy
from scipy.optimize import curve_fit

with open(sys.argv[1]) as file:
    data = json.load(file)
repeats = int(sys.argv[2])
x = numpy.array(data["density"], float)
y = numpy.array(data["yield"], float)
block = numpy.array(data["block"])
indicator = (block[:, None] == numpy.unique(block)[None, :]).astype(float)


def curve(_, *theta):
    below = numpy.maximum(theta[-1] - x, 0)
    return indicator @ numpy.array(theta[:-2]) - theta[-2] * below**2


def jacobian(_, *theta):
    below = numpy.maximum(theta[-1] - x, 0)
    return numpy.column_stack([indicator, -(below**2), -2 * theta[-2] * below])


def fit():
    return curve_fit(curve, x, y, p0=data["start"], jac=jacobian, method="lm", xtol=1e-12, ftol=1e-12)[0]


theta = fit()
start = time.process_time()
for _ in range(repeats):
    fit()
spent = (time.process_time() - start) / repeats
print(json.dumps({"rss": float(((y - curve(x, *theta)) ** 2).sum()), "join": float(theta[-1]), "us": 1e6 * spent, "version": scipy.__version__}))
