"""Writes smoothing_scipy.json: smoothing splines by SciPy, cross-validated weights by mpmath.

    python -m pip install scipy==1.17.1 numpy==2.4.6 mpmath==1.3.0
    python make_smoothing.py > smoothing_scipy.json

The tables are made here from a fixed seed: fan-like curves, falling or with a stall dip, with
noise, at even or uneven flows, printed to 0.1 Pa. SciPy's own search for the weight is bounded
from below and depends on the unit of the abscissa, and its score has too few digits where the
minimum is flat; so the score is written out here on an abscissa from 0 to n - 1: SciPy scans
ln weight, and mpmath finds the minimum there in 40 digits from the eigenvalues of Q R^-1 Q'. The
rows of the matrix S are SciPy's splines through the unit vectors.
"""

import json
import platform
from math import exp, log

import mpmath
import numpy
import scipy
from mpmath import mpf
from scipy.interpolate import make_smoothing_spline

mpmath.mp.dps = 40

WEIGHTS = [1e-3, 10.0]


def falling(share):
    return 2500 * (1 - share**2.2)


def dipped(share):
    return falling(share) - 350 * numpy.exp(-(((share - 0.3) / 0.12) ** 2))


def table(rng, shape, n, uneven, noise_pa, largest_m3s):
    place = numpy.arange(n) + uneven * rng.uniform(-0.5, 0.5, n)
    share = (place - place[0]) / (place[-1] - place[0])
    q = numpy.round(share * largest_m3s, 5)
    p = shape(q / largest_m3s) + rng.normal(0, noise_pa, n)
    return q, numpy.round(numpy.maximum(p, 0), 1)


def smoothed(u, p, weight):
    spline = make_smoothing_spline(u, p, lam=weight)
    n = len(u)
    s = numpy.column_stack([make_smoothing_spline(u, unit, lam=weight)(u) for unit in numpy.eye(n)])
    fitted = spline(u)
    spare = n - numpy.trace(s)
    square = numpy.sum((p - fitted) ** 2)
    return spline, fitted, numpy.diag(s), square, n * square / spare**2


def digits(numbers):
    return [float(f"{number:.13g}") for number in numbers]


def row(q, p, u, weight):
    spline, fitted, leverage, square, score = smoothed(u, p, weight)
    per_flow = (len(u) - 1) / (q[-1] - q[0])
    evaluated = numpy.linspace(q[0], q[-1], 14)
    at = (evaluated - q[0]) * per_flow
    return {
        "weight": weight,
        "degrees_of_freedom": sum(leverage),
        "gcv": score,
        "scatter": (square / (len(u) - sum(leverage))) ** 0.5,
        "fitted": digits(fitted),
        "standard_error": digits((square / (len(u) - sum(leverage)) * leverage) ** 0.5),
        "x_eval": digits(evaluated),
        "y": digits(spline(at)),
        "dy_dx": digits(spline.derivative()(at) * per_flow),
    }


def best(q, p, u):
    scan = numpy.arange(log(1e-6), log(1e7), 0.5)
    start = min(scan, key=lambda ln_weight: smoothed(u, p, exp(ln_weight))[-1])

    n = len(q)
    h = [(mpf(b) - mpf(a)) / (mpf(q[-1]) - mpf(q[0])) * (n - 1) for a, b in zip(q, q[1:])]
    second, products = mpmath.zeros(n, n - 2), mpmath.zeros(n - 2, n - 2)
    for j in range(n - 2):
        second[j, j], second[j + 2, j] = 1 / h[j], 1 / h[j + 1]
        second[j + 1, j] = -1 / h[j] - 1 / h[j + 1]
        products[j, j] = (h[j] + h[j + 1]) / 3
        if j + 1 < n - 2:
            products[j, j + 1] = products[j + 1, j] = h[j + 1] / 6
    values, vectors = mpmath.eigsy(second * products**-1 * second.T)
    part = vectors.T * mpmath.matrix([mpf(float(pressure)) for pressure in p])

    def ln_score(ln_weight):
        kept = [mpmath.exp(ln_weight) * d / (1 + mpmath.exp(ln_weight) * d) for d in values]
        square = sum((k * z) ** 2 for k, z in zip(kept, part))
        return mpmath.log(square / sum(kept) ** 2)

    def slope(ln_weight):
        return mpmath.diff(ln_score, ln_weight)

    return float(mpmath.exp(mpmath.findroot(slope, (start - 0.5, start + 0.5), solver="anderson")))


rng = numpy.random.default_rng(20)
cases = []
for name, shape in [("falling", falling), ("dipped", dipped)]:
    for n, uneven, noise_pa in [(20, 0.0, 12.0), (25, 0.8, 12.0), (32, 0.9, 8.0), (40, 0.5, 20.0)]:
        q, p = table(rng, shape, n, uneven, noise_pa, 0.5)
        u = (q - q[0]) / (q[-1] - q[0]) * (n - 1)
        cases.append(
            {
                "id": f"{name}.{n}",
                "q": list(q),
                "p": list(p),
                "cross_validated": row(q, p, u, best(q, p, u)),
                "fixed": [row(q, p, u, weight) for weight in WEIGHTS],
            }
        )

print("{")
made_by = f"make_smoothing.py: SciPy {scipy.__version__} make_smoothing_spline, mpmath {mpmath.__version__}, NumPy {numpy.__version__}, Python {platform.python_version()}"
print(f'"source": {json.dumps(made_by)},')
print('"units": "m3/s and Pa; weight on an abscissa from 0 to n - 1; gcv in Pa2",')
print('"cases": [')
print(",\n".join(json.dumps(case) for case in cases))
print("]}")
