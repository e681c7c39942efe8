"""Writes fits_scipy.json: nonlinear least squares with priors, by scipy.optimize.least_squares.

    python -m pip install scipy==1.17.1 numpy==2.4.6
    python make_fits_scipy.py > fits_scipy.json

Each problem names the kind of its model, written out below and again in Rust, and carries its
data, made here from a fixed seed and rounded. Unknowns are searched as u = theta or ln theta;
residuals are (f - y) / s of the readings, then (u - u0) / sigma of the priors. The derivatives come
by complex steps. `loss` is that of the readings alone; priors are squares throughout. The
covariance is (J' W J)^-1 by singular values, in the unit of the unknowns, W the weights of the
robust losses at the estimate. SciPy's answer is taken on by Gauss and Newton's steps, with a robust
loss by its weights, as far as numbers go; the last step must be below 1e-8 standard uncertainties.
"""

import json
import platform

import numpy as np
import scipy
from scipy.optimize import least_squares

HUBER = 1.345
BIWEIGHT = 4.685


def duct(t, x):
    """Fan f p0 (1 - (q/q0)^2), main r0, branches in parallel; reads flow of a branch, the suction
    where they meet, or the total flow."""
    p0, q0 = 1500.0, 0.8
    f, r0, branches = t[0], t[1], t[2:]
    conductance = sum(bit * b**-0.5 for bit, b in zip(x, branches))
    q = (f * p0 / (r0 + conductance**-2 + f * p0 / q0**2)) ** 0.5
    what = int(x[-1])
    if what == -1:
        return q
    if what == -2:
        return (q / conductance) ** 2
    return q * branches[what] ** -0.5 / conductance


MODELS = {
    "decay": lambda t, x: t[0] * np.exp(-t[1] * x[0]) + t[2],
    "two_decays": lambda t, x: t[0] * np.exp(-t[1] * x[0]) + t[2] * np.exp(-t[3] * x[0]),
    "power": lambda t, x: t[0] * x[0] ** t[1] + t[2],
    "saturation": lambda t, x: t[0] * (1 - np.exp(-t[1] * x[0])),
    "logistic": lambda t, x: t[0] / (1 + np.exp(t[1] - t[2] * x[0])),
    "linear": lambda t, x: sum(a * b for a, b in zip(t, x)),
    "product": lambda t, x: t[0] * t[1] * x[0] + t[2],
    "duct": duct,
}


def solve(problem):
    x, y, s = problem["x"], np.array(problem["y"]), np.array(problem["s"])
    start, sigma = np.array(problem["start"]), np.array(problem["sigma"])
    scaled = np.array(problem["scaled"])
    model = MODELS[problem["kind"]]
    u0 = np.where(scaled, np.log(np.where(scaled, start, 1.0)), start)

    def theta(u):
        return np.where(scaled, np.exp(u), u)

    def residuals(z):
        t = theta(u0 + sigma * z)
        return np.concatenate([(np.array([model(t, row) for row in x]) - y) / s, z])

    def loss(squares):
        rho = np.array([squares, np.ones_like(squares), np.zeros_like(squares)])
        m = len(y)
        z = squares[:m]
        if problem["loss"] == "huber":
            # In units of f_scale = 1.
            out = z > HUBER**2
            root = np.sqrt(np.where(out, z, 1.0))
            rho[0, :m] = np.where(out, 2 * HUBER * root - HUBER**2, z)
            rho[1, :m] = np.where(out, HUBER / root, 1)
            rho[2, :m] = np.where(out, -HUBER / (2 * root**3), 0)
        elif problem["loss"] == "biweight":
            v = np.minimum(z / BIWEIGHT**2, 1)
            rho[0, :m] = BIWEIGHT**2 * (1 - (1 - v) ** 3) / 3
            rho[1, :m] = (1 - v) ** 2
            rho[2, :m] = -2 * (1 - v) / BIWEIGHT**2
        return rho

    how = dict(jac="cs", method="trf", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=20000)
    first = np.zeros(len(start))
    if problem["loss"] == "biweight":
        first = solve({**problem, "loss": "huber"})["z"]
    squared = problem["loss"] == "squares"
    found = least_squares(residuals, first, loss="linear" if squared else loss, **how)
    z = found.x

    def at(z):
        # Not found.jac, which is scaled where the loss is robust.
        steps = np.eye(len(z)) * 1e-30j
        jac = np.array([residuals(z + step).imag / 1e-30 for step in steps]).T
        r = residuals(z.astype(complex)).real
        w = loss(r**2)[1]
        return r, w, jac

    # What trf leaves of the way: steps by weights to the end, as far as numbers go.
    best = (np.inf,)
    for _ in range(400):
        r, w, jac = at(z)
        root = np.sqrt(w)
        _, sing, vt = np.linalg.svd(root[:, None] * jac, full_matrices=False)
        cov = vt.T @ np.diag(sing**-2) @ vt
        step = -cov @ jac.T @ (w * r)
        offset = np.linalg.norm(root[:, None] * jac @ step)
        if offset < best[0]:
            best = (offset, z, r, w, cov, sing)
        if offset < 1e-12 or offset > 10 * best[0]:
            break
        z = z + step
    offset, z, r, w, cov, sing = best
    assert offset < 1e-8, (problem["name"], offset)
    t = theta(u0 + sigma * z)
    slope = np.where(scaled, t, 1.0) * sigma
    return {
        "z": z,
        "estimate": t.tolist(),
        "covariance": (slope[:, None] * cov * slope).tolist(),
        "misfit": float(np.sum(loss(r**2)[0])),
        "condition": float(sing[0] / sing[-1]),
        "offset": float(offset),
    }


problems = []


def add(name, kind, rng, x, truth, start, sigma, scaled, s, loss="squares", wrong=()):
    truth = np.array(truth, float)
    y = np.array([MODELS[kind](truth, row) for row in x])
    s = np.full(len(y), 1.0) * s
    y = y + s * rng.standard_normal(len(y))
    for i, by in wrong:
        y[i] += by * s[i]
    problem = {
        "name": name,
        "kind": kind,
        "x": [[float(f"{v:.6g}") for v in row] for row in x],
        "y": [float(f"{v:.8g}") for v in y],
        "s": [float(f"{v:.6g}") for v in s],
        "start": start,
        "sigma": sigma,
        "scaled": scaled,
        "loss": loss,
    }
    answer = solve(problem)
    del answer["z"]
    problems.append({**problem, **answer})


def column(low, high, n):
    return [[v] for v in np.linspace(low, high, n)]


DUCT = [
    [1, 0, 0, 0], [0, 1, 0, 1], [0, 0, 1, 2], [1, 1, 0, 0], [1, 1, 0, 1], [1, 0, 1, 2],
    [1, 1, 1, 0], [1, 1, 1, 1], [1, 1, 1, 2], [1, 0, 0, -2], [1, 1, 1, -2], [1, 1, 1, -1],
]
DUCT_TRUTH = [0.93, 6.0e3, 2.1e4, 3.0e4, 1.6e4]
DUCT_START = [1.0, 5.0e3, 1.8e4, 3.5e4, 1.5e4]
DUCT_SIGMA = [0.05, 0.3, 0.3, 0.3, 0.3]


def duct_errors(x):
    t = np.array(DUCT_TRUTH)
    return np.array([0.03 * duct(t, row) for row in x])


rng = np.random.default_rng(20240817)
for k, n in enumerate([7, 12, 21]):
    x = column(0, 5, n)
    add(f"decay, weak priors, {n}", "decay", rng, x, [3, 0.8, 0.5], [2, 0.5, 0.0], [5, 2, 5], [False] * 3, 0.05)
    add(f"decay, scaled, {n}", "decay", rng, x, [3, 0.8, 0.5], [2, 0.5, 1.0], [1, 1, 1], [True] * 3, 0.05)
    add(f"decay, strong priors, {n}", "decay", rng, x, [3, 0.8, 0.5], [2.8, 0.9, 0.4], [0.1, 0.05, 0.05], [False] * 3, 0.2)
for n in [10, 20]:
    x = column(0, 8, n)
    add(f"two decays, {n}", "two_decays", rng, x, [4, 2.0, 2, 0.3], [3, 1.5, 1.5, 0.2], [2, 1, 1, 0.2], [False] * 4, 0.02)
    add(f"two decays, near rates, {n}", "two_decays", rng, x, [4, 0.6, 2, 0.4], [3, 0.8, 3, 0.3], [1, 0.5, 1, 0.5], [True] * 4, 0.02)
for n in [7, 14]:
    x = column(0.2, 2, n)
    add(f"power, {n}", "power", rng, x, [120, 1.9, 10], [100, 2, 0], [50, 0.3, 50], [False] * 3, 3.0)
    add(f"power, scaled, {n}", "power", rng, x, [120, 1.9, 10], [60, 2, 0], [1, 0.1, 20], [True, True, False], 3.0)
    add(f"power, no priors to speak of, {n}", "power", rng, x, [120, 1.9, 10], [100, 2, 0], [1e5, 1e2, 1e5], [False] * 3, 1.0)
for n in [7, 15]:
    x = column(0.5, 10, n)
    add(f"saturation, {n}", "saturation", rng, x, [210, 0.5], [150, 0.3], [100, 0.5], [False] * 2, 5.0)
    add(f"saturation, only its rise, {n}", "saturation", rng, column(0.01, 0.2, n), [210, 0.5], [150, 0.7], [1, 1], [True] * 2, 0.2)
    add(f"logistic, {n}", "logistic", rng, x, [60, 3, 0.7], [50, 2, 0.5], [30, 2, 0.5], [False, False, True], 1.5)
for unknowns, n in [(2, 5), (4, 9), (6, 3)]:
    x = rng.uniform(-1, 1, (n, unknowns)).round(3).tolist()
    truth = rng.uniform(-2, 2, unknowns)
    add(f"linear, {unknowns} unknowns, {n} readings", "linear", rng, x, truth, [0.0] * unknowns, [1.5] * unknowns, [False] * unknowns, 0.1)
x = [[1, 1 + 1e-5 * i, 1 - 2e-5 * i] for i in range(8)]
add("linear, columns alike", "linear", rng, x, [1, 2, 3], [0, 0, 0], [1, 1, 1], [False] * 3, 1e-4)
add("linear, columns alike, wide priors", "linear", rng, x, [1, 2, 3], [0, 0, 0], [1e2, 1e2, 1e2], [False] * 3, 1e-5)
x = column(1, 4, 9)
add("product of two unknowns", "product", rng, x, [2, 3, 1], [1.5, 2.5, 0], [1, 1, 2], [False] * 3, 0.1)
add("product of two scaled unknowns", "product", rng, x, [2, 3, 1], [1.5, 2.5, 0.5], [0.5, 0.1, 1], [True] * 3, 0.1)
for name, rows in [
    ("all readings", DUCT), ("alone readings", DUCT[:3]), ("together readings", DUCT[6:9]),
    ("flows and suction", DUCT[6:]), ("one reading", DUCT[:1]), ("two rounds", DUCT + DUCT),
]:
    add(f"duct, {name}", "duct", rng, rows, DUCT_TRUTH, DUCT_START, DUCT_SIGMA, [True] * 5, duct_errors(rows))
add("duct, even unknowns", "duct", rng, DUCT, DUCT_TRUTH, DUCT_START, [0.05, 2e3, 6e3, 1e4, 5e3], [False] * 5, duct_errors(DUCT))
add("duct, priors wide", "duct", rng, DUCT, DUCT_TRUTH, DUCT_START, [1, 2, 2, 2, 2], [True] * 5, duct_errors(DUCT))
add("duct, start far off", "duct", rng, DUCT, DUCT_TRUTH, [1.0, 1e3, 1e5, 5e3, 8e4], [0.1, 2, 2, 2, 2], [True] * 5, duct_errors(DUCT))
for loss in ["huber", "biweight"]:
    add(f"decay, one wrong, {loss}", "decay", rng, column(0, 5, 12), [3, 0.8, 0.5], [2, 0.5, 0.0], [5, 2, 5], [False] * 3, 0.05, loss, [(4, 12)])
    add(f"power, two wrong, {loss}", "power", rng, column(0.2, 2, 14), [120, 1.9, 10], [100, 2, 0], [50, 0.3, 50], [False] * 3, 3.0, loss, [(3, 15), (9, -10)])
    add(f"duct, one wrong, {loss}", "duct", rng, DUCT, DUCT_TRUTH, DUCT_START, DUCT_SIGMA, [True] * 5, duct_errors(DUCT), loss, [(5, 10)])
    add(f"saturation, none wrong, {loss}", "saturation", rng, column(0.5, 10, 15), [210, 0.5], [150, 0.3], [100, 0.5], [False] * 2, 5.0, loss)
    add(f"linear, one wrong, {loss}", "linear", rng, rng.uniform(-1, 1, (10, 3)).round(3).tolist(), [1, -2, 0.5], [0] * 3, [2] * 3, [False] * 3, 0.1, loss, [(7, -20)])

print(
    json.dumps(
        {
            "made_by": f"make_fits_scipy.py: SciPy {scipy.__version__}, NumPy {np.__version__}, Python {platform.python_version()}",
            "problems": problems,
        }
    ).replace('{"name"', '\n{"name"')
)
