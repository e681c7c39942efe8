"""Writes reconcile_numpy.json: readings on random duct trees, reconciled by NumPy; tails by SciPy.

    python -m pip install numpy==2.4.6 scipy==1.17.1
    python make_reconcile_numpy.py > reconcile_numpy.json

Another way than the crate's: the unknowns here are the flows of all open hoods of the whole tree,
solved by whitened least squares (SVD); whether a section's flow is determined is judged by whether
its row lies in the row space. A leak or a wrong reading is one more unknown of its own, so that its
size, its uncertainty and the drop of the chi-square come from solving again with it.

The covariance is diag(u^2) + s^2 f f' for readings by one instrument, f the flows fitted without s.
"""

import json
import platform

import numpy as np
import scipy
from scipy.stats import chi2, norm

TREES = 50


def tree(rng):
    """Sections as (outlet, is a hood, is open); the first drains into the collector."""
    n = int(rng.integers(3, 40))
    into = [None] + [int(rng.integers(max(0, i - 6), i)) for i in range(1, n)]
    ends = [i for i in range(n) if i not in into]
    share = rng.choice([1.0, 0.7, 0.4])
    is_open = [bool(i in ends and rng.random() < share) for i in range(n)]
    if not any(is_open):
        is_open[ends[0]] = True
    return into, ends, is_open


def upstream(into, i):
    """Sections whose air passes section i, itself among them."""
    found = []
    for j in range(len(into)):
        at = j
        while at is not None and at != i:
            at = into[at]
        if at == i:
            found.append(j)
    return found


def covariance(u, instrument, shared, level):
    v = np.diag(u**2)
    for k, s in enumerate(shared):
        f = np.where(instrument == k, level, 0.0)
        v += s**2 * np.outer(f, f)
    return v


def fit(x, y, v):
    root = np.linalg.cholesky(v)
    xw, yw = np.linalg.solve(root, x), np.linalg.solve(root, y)
    solution, _, rank, _ = np.linalg.lstsq(xw, yw, rcond=1e-9)
    chi_square = float(np.sum((yw - xw @ solution) ** 2))
    return solution, np.linalg.pinv(xw.T @ xw, rcond=1e-11, hermitian=True), chi_square, int(rank)


def two_steps(x, y, u, instrument, shared):
    level = np.maximum(x @ fit(x, y, np.diag(u**2))[0], 0.0)
    v = covariance(u, instrument, shared, level)
    return v, level, fit(x, y, v)


def case(rng):
    into, ends, is_open = tree(rng)
    n = len(into)
    hoods = [i for i in range(n) if is_open[i]]
    passes = np.array([[float(h in upstream(into, i)) for h in hoods] for i in range(n)])
    true = passes @ rng.uniform(0.05, 0.5, len(hoods))
    # No reading stands in the section of a shut hood.
    allowed = [i for i in range(n) if is_open[i] or i not in ends]
    count = int(rng.integers(2, 2 * len(allowed) + 2))
    at = np.array([allowed[int(rng.integers(len(allowed)))] for _ in range(count)])
    instrument = rng.integers(-1, 2, count)
    shared = [round(float(rng.uniform(0.01, 0.05)), 4), 0.0 if rng.random() < 0.3 else 0.03]
    u = np.round(np.maximum(true[at], 0.05) * rng.choice([0.01, 0.02, 0.05], count), 6)
    noise = rng.normal(0, 1, count)
    noise[int(rng.integers(count))] += rng.choice([0.0, 4.0, 8.0])
    noise *= u
    y = np.round(np.maximum(true[at] + noise, 0.0), 6)

    x = passes[at]
    v, level, (solution, inverse, chi_square, rank) = two_steps(x, y, u, instrument, shared)
    flows = []
    for row in passes:
        residue = row - np.linalg.lstsq(x.T, row, rcond=1e-9)[0] @ x
        if np.max(np.abs(residue)) > 1e-8:
            flows.append(None)
        else:
            flows.append([float(row @ solution), float(np.sqrt(max(row @ inverse @ row, 0.0)))])

    def with_fault(column):
        wide = np.column_stack([x, column])
        if np.linalg.matrix_rank(wide, tol=1e-8) == np.linalg.matrix_rank(x, tol=1e-8):
            return None
        answer, spread, left, _ = fit(wide, y, v)
        return [float(answer[-1]), float(np.sqrt(spread[-1, -1])), left, (x @ answer[:-1]).tolist()]

    def without_flows(fault):
        return fault and fault[:3]

    readings = [without_flows(with_fault(np.eye(count)[j])) for j in range(count)]
    # Stretches in which nothing enters: read sections whose open hoods all pass a read one upstream.
    read = sorted(set(at.tolist()))
    tight = []
    for m in read:
        above = [i for i in upstream(into, m) if i != m]
        counted = set()
        for i in above:
            if i in read:
                counted |= set(np.flatnonzero(passes[i]))
        if not set(np.flatnonzero(passes[m])) - counted:
            tight.append(m)
    enters = {m: np.array([float(m in upstream(into, i)) for i in at]) for m in tight}
    leaks = {}
    if tight:
        wide = np.column_stack([x] + [enters[m] for m in tight])
        _, _, (free, spread, _, _) = two_steps(wide, y, u, instrument, shared)
        for k, m in enumerate(tight):
            j = x.shape[1] + k
            leaks[m] = [float(free[j]), float(np.sqrt(spread[j, j]))]
    factors = []
    for k in range(len(shared)):
        mine = instrument == k
        # A factor acts on the flows that are fitted with it.
        found, flow = None, x @ solution
        for _ in range(12 if mine.sum() > 1 else 0):
            found = with_fault(np.where(mine, flow, 0.0))
            if found is None:
                break
            flow = np.array(found[3])
        factors.append(found)
    return {
        "into": into,
        "open": is_open,
        "at": at.tolist(),
        "read": y.tolist(),
        "standard": u.tolist(),
        "instrument": instrument.tolist(),
        "shared": shared,
        "flows": flows,
        "chi_square": chi_square,
        "degrees": count - rank,
        "chance": float(chi2.sf(chi_square, count - rank)) if count > rank else 1.0,
        "off_by": readings,
        "tight": [
            {"section": m, "alone": leaks[m], "chance": float(norm.sf(leaks[m][0] / leaks[m][1])),
             "single": without_flows(with_fault(enters[m]))}
            for m in tight
        ],
        "factor": [without_flows(factor) for factor in factors],
    }


rng = np.random.default_rng(828)
made_by = f"make_reconcile_numpy.py: NumPy {np.__version__}, SciPy {scipy.__version__}, Python {platform.python_version()}"
tails = [
    [x, k, float(chi2.sf(x, k))]
    for k in [1, 2, 3, 4, 5, 7, 10, 31, 100, 499]
    for x in [0.01, 0.5, 1.0, 3.84, 9.49, 40.0, 120.0, 600.0]
    if chi2.sf(x, k) > 0
]
normal = [[z, float(norm.sf(z))] for z in [-6, -2.5, -0.1, 0, 0.3, 1, 1.96, 2.8, 2.83, 4, 8, 20, 37]]
cases = [case(rng) for _ in range(TREES)]
print("{")
print(f'"source": {json.dumps(made_by)},')
print('"units": "m3/s; off_by, single, factor: size, standard uncertainty, chi-square left",')
print(f'"chi_square_above": {json.dumps(tails)},')
print(f'"normal_above": {json.dumps(normal)},')
print('"cases": [')
print(",\n".join(json.dumps(case) for case in cases))
print("]}")
