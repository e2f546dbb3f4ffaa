"""Growth of viscosity fitted by scipy: first order, first order after a wait, logarithm of time, each on the logarithm of the viscosity.

Writes tests/cross/hydration.toml. Time constants by a search over many starts; limits of the time constant by the profile at 95 % of F(1, n - p).

python3 tests/cross/hydration.py > tests/cross/hydration.toml
"""
import sys

import numpy as np
import scipy
from scipy.optimize import brentq, least_squares
from scipy.stats import t as student

TIMES = np.array([2, 5, 10, 20, 40, 60, 120, 240, 1440], float)


def fit(model, starts, bounds, t, y):
    best = None
    for s in starts:
        r = least_squares(lambda p: np.log(model(p, t)) - np.log(y), s, bounds=bounds, xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale="jac")
        if best is None or r.cost < best.cost:
            best = r
    return best.x, 2 * best.cost


def aicc(n, p, s):
    k = p + 1
    return n * np.log(s / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1)


def first(p, t):
    return np.exp(p[0]) * -np.expm1(-t / np.exp(p[1]))


def wait(p, t):
    return np.exp(p[0]) * -np.expm1(-(t - p[2]) / np.exp(p[1]))


def logarithm(p, t):
    return np.exp(p[0]) * (1 + p[1] * np.log(t))


def main():
    rng = np.random.default_rng(9)
    print(f"# Written by tests/cross/hydration.py with Python {sys.version.split()[0]}, numpy {np.__version__}, scipy {scipy.__version__}.")
    for kind in ("first", "first", "wait", "logarithm", "first", "wait"):
        tau, delay = rng.uniform(4, 60), rng.uniform(0.5, 1.8)
        if kind == "first":
            y = 5000 * -np.expm1(-TIMES / tau)
        elif kind == "wait":
            y = 3000 * -np.expm1(-(TIMES - delay) / tau)
        else:
            y = 800 * (1 + rng.uniform(0.1, 0.6) * np.log(TIMES))
        y = np.array([float("%.6g" % v) for v in y * np.exp(rng.normal(0, 0.01, len(TIMES)))])
        n = len(TIMES)
        starts = [[np.log(y[-1]), np.log(s)] for s in (2, 10, 50, 300)]
        p1, s1 = fit(first, starts, ([-20, -5], [40, 15]), TIMES, y)
        p2, s2 = fit(wait, [[*s, d] for s in starts for d in (0.1, 1.0, 1.9)], ([-20, -5, 0], [40, 15, 1.998]), TIMES, y)
        p3, s3 = fit(logarithm, [[np.log(y[0]), b] for b in (0.01, 0.1, 0.5, 2)], ([-20, 0], [40, 50]), TIMES, y)
        most = s1 * (1 + student.ppf(0.975, n - 2) ** 2 / (n - 2))

        def profile(lt):
            e = np.log(y) - np.log(-np.expm1(-TIMES / np.exp(lt)))
            return np.sum((e - e.mean()) ** 2) - most

        low = np.exp(brentq(profile, p1[1] - 3, p1[1]))
        high = np.exp(brentq(profile, p1[1], p1[1] + 3))
        print("\n[[growth]]")
        print("readings = [" + ", ".join(f"[{a:g}, {b:.6g}]" for a, b in zip(TIMES, y)) + "]")
        print(f"tau = {np.exp(p1[1]):.9e}\nend = {np.exp(p1[0]):.9e}\ntau_limits = [{low:.9e}, {high:.9e}]\nfirst_aicc = {aicc(n, 2, s1):.6f}")
        print(f"wait_aicc = {aicc(n, 3, s2):.6f}\nwait = {p2[2]:.9e}\nwait_tau = {np.exp(p2[1]):.9e}")
        print(f"slope = {p3[1]:.9e}\nlogarithm_aicc = {aicc(n, 2, s3):.6f}")


main()
