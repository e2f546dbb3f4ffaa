"""Where a drifting pH reading ends, by another program: scipy's curve_fit, with Huber's weights laid on from outside.

Printed to settling.toml. Versions used: scipy 1.17.1, numpy 2.4.6, Python 3.11.
Run: python settling_reference.py > settling.toml
"""

import numpy as np
import scipy
from scipy.optimize import brentq, curve_fit

DIGIT, TOLERANCE = 0.01, 0.01
ROUNDING = DIGIT / np.sqrt(12)


def one(t, end, a, tau):
    return end + a * np.exp(-t / tau)


def two(t, end, a, tau, b, fast):
    return end + a * np.exp(-t / tau) + b * np.exp(-t / fast)


def fit(law, t, y, start):
    """Weighted rounds; the weights are Huber's of the residual in units of the scatter by the middle of the absolute residuals."""
    weights, p = np.ones_like(t), np.array(start, float)
    for _ in range(6):
        p, cov = curve_fit(law, t, y, p, sigma=1 / np.sqrt(weights), maxfev=100000, xtol=1e-14, ftol=1e-14, gtol=1e-14)
        r = y - law(t, *p)
        scatter = max(1.4826 * np.median(np.abs(r)), ROUNDING)
        new = np.minimum(1.0, 1.5 * scatter / np.maximum(np.abs(r), 1e-300))
        done = bool(np.all(new >= 1.0))
        previous, weights = weights, new
        if done:
            break
    # curve_fit scales the covariance by the weighted residuals of the last fit.
    variance = np.sum(previous * r**2) / (len(t) - len(p))
    end_variance = cov[0, 0] / variance * max(variance, ROUNDING**2)
    return p, np.sqrt(end_variance + ROUNDING**2)


def wait(law, t, p):
    away = lambda x: abs(law(x, *p) - p[0]) - TOLERANCE
    last = t[-1]
    if away(last) <= 0:
        return 0.0
    far = last
    while away(far) > 0:
        far += p[2]
    return brentq(away, last, far, xtol=1e-10) - last


def write(name, law, t, y, start):
    p, u = fit(law, t, y, start)
    print("[[case]]")
    print(f'name = "{name}"')
    print(f"terms = {1 if law is one else 2}")
    print("points = [" + ", ".join(f"[{a:g}, {b:.6f}]" for a, b in zip(t, y)) + "]")
    print(f"end = {p[0]:.10f}\nuncertainty = {u:.10f}\ntime_constant_s = {p[2]:.8f}\nwait_s = {wait(law, t, p):.6f}\n")


print(f"# Made by settling_reference.py: scipy {scipy.__version__}, numpy {np.__version__}.\n")
chance = np.random.default_rng(20261127)
for name, end, a, tau, step, count in [
    ("fast, from above", 3.62, 0.35, 12.0, 5, 10),
    ("slow, from below, not finished", 5.81, -0.52, 55.0, 10, 10),
    ("slow, half way", 4.4, 0.2, 40.0, 5, 12),
    ("just bent", 6.2, -0.3, 45.0, 8, 8),
]:
    t = np.round(np.arange(count) * step, 3).astype(float)
    y = np.round(one(t, end, a, tau) + chance.normal(0, 0.001, count), 6)
    write(name, one, t, y, (end, a, tau))
t = np.arange(0, 200, 5.0)
y = np.round(two(t, 5.2, 0.25, 60.0, 0.4, 8.0) + chance.normal(0, 0.0005, len(t)), 6)
write("two terms", two, t, y, (5.2, 0.25, 60.0, 0.4, 8.0))
t = np.arange(0, 100, 5.0)
y = one(t, 3.9, 0.3, 20.0) + chance.normal(0, 0.001, len(t))
y[7] += 0.4
write("one reading far off", one, t, np.round(y, 6), (3.9, 0.3, 20.0))
