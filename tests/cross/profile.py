"""Profile intervals of a saturation curve by scipy: writes tests/cross/profile.toml.

python3 profile.py > profile.toml
"""

import numpy as np
import scipy
from scipy.optimize import brentq, least_squares
from scipy.stats import t

x = np.array([0.5, 1, 2, 4, 8, 16])
y = np.array([1.9, 3.3, 5.6, 7.8, 9.6, 9.9])


def miss(p):
    return p[0] * x / (p[1] + x) - y


tight = dict(xtol=1e-15, ftol=1e-15, gtol=1e-15)
best = least_squares(miss, [10, 1], **tight)
least = np.sum(best.fun**2)
rise = t.ppf(0.975, 4) ** 2 * least / 4


def spare(at, value):
    held = lambda q: miss([value, q[0]] if at == 0 else [q[0], value])
    return rise - (np.sum(least_squares(held, [best.x[1 - at]], **tight).fun ** 2) - least)


ends = [
    [brentq(lambda v: spare(at, v), best.x[at], best.x[at] * factor, xtol=1e-14) for factor in (0.2, 5)] for at in (0, 1)
]
print(f"# Written by profile.py: scipy {scipy.__version__}. y = a x/(b + x).")
print(f"parameters = {[float(v) for v in best.x]}\nlow = {[e[0] for e in ends]}\nhigh = {[e[1] for e in ends]}")
