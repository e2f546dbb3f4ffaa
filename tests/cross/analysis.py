"""Analysis of designed experiments by statsmodels and scipy: writes tests/cross/analysis.toml.

Run from the folder of this file: python3 analysis.py > analysis.toml
"""

import itertools
import tomllib

import numpy as np
import scipy
import scipy.stats as stats
import statsmodels
import statsmodels.api as sm
from statsmodels.stats.outliers_influence import OLSInfluence

SETS = tomllib.load(open("../published/mixtures.toml", "rb"))


def scheffe(x, order):
    q = x.shape[1]
    pairs = list(itertools.combinations(range(q), 2))
    columns = [x[:, i] for i in range(q)]
    if order > 1:
        columns += [x[:, i] * x[:, j] for i, j in pairs]
    if order == 4:
        columns += [x[:, i] * x[:, j] * (x[:, i] - x[:, j]) for i, j in pairs]
    if order > 2:
        columns += [x[:, i] * x[:, j] * x[:, k] for i, j, k in itertools.combinations(range(q), 3)]
    return np.column_stack(columns)


def written(name, values):
    print(f"{name} = [{', '.join(repr(float(v)) for v in values)}]")


def case(name, settings, rows, y, asked_rows=None, order=None):
    fit = sm.OLS(y, rows).fit()
    influence = OLSInfluence(fit)
    n, p = rows.shape
    k = p + 1
    press = np.sum((fit.resid / (1 - influence.hat_matrix_diag)) ** 2)
    total = np.sum((y - y.mean()) ** 2)
    groups = {}
    for setting, value in zip(np.round(settings, 9), y):
        groups.setdefault(tuple(setting), []).append(value)
    pure = sum(np.sum((np.array(g) - np.mean(g)) ** 2) for g in groups.values())
    d = n - len(groups)
    print(f'[[case]]\nname = "{name}"')
    if order:
        print(f"order = {order}")
    print("runs = [")
    for setting, value in zip(settings, y):
        print(f"  [{', '.join(repr(float(v)) for v in [*setting, value])}],")
    print("]")
    written("coefficients", fit.params)
    written("errors", fit.bse)
    low, high = fit.conf_int(0.05).T
    written("low", low)
    written("high", high)
    written("chances", fit.pvalues)
    written("leverages", influence.hat_matrix_diag)
    written("apart", influence.resid_studentized_external)
    print(f"residual_sum = {float(fit.ssr)!r}\ntotal = {float(total)!r}\npress = {float(press)!r}")
    print(f"aicc = {float(n * np.log(fit.ssr / n) + 2 * k + 2 * k * (k + 1) / (n - k - 1))!r}")
    if d > 0 and n - p - d > 0:
        ratio = ((fit.ssr - pure) / (n - p - d)) / (pure / d)
        print(f"pure = {float(pure)!r}\npure_degrees = {d}\nlack_ratio = {float(ratio)!r}")
        print(f"lack_beyond = {float(stats.f.sf(ratio, n - p - d, d))!r}")
    if asked_rows is not None:
        at, asked = asked_rows
        predicted = fit.get_prediction(asked).summary_frame(alpha=0.05)
        print("asked = [")
        for setting in at:
            print(f"  [{', '.join(repr(float(v)) for v in setting)}],")
        print("]")
        written("asked_mean", predicted["mean"])
        written("asked_low", predicted["mean_ci_lower"])
        written("asked_high", predicted["mean_ci_upper"])
        written("asked_next_low", predicted["obs_ci_lower"])
        written("asked_next_high", predicted["obs_ci_upper"])
    print()


print(f"# Written by analysis.py: statsmodels {statsmodels.__version__}, scipy {scipy.__version__}, numpy {np.__version__}.\n")
for name, order in [("yarn", 1), ("yarn", 2), ("etch", 2), ("etch", 3), ("screening", 1)]:
    data = np.array(SETS[name]["runs"], dtype=float)
    x, y = data[:, :-1], data[:, -1]
    x = x / x.sum(axis=1, keepdims=True)
    q = x.shape[1]
    at = np.array([np.full(q, 1 / q), np.array([0.6, 0.4] + [0.0] * (q - 2))])
    case(f"{name}-{order}", x, scheffe(x, order), y, (at, scheffe(at, order)), order)

# Three parts at two temperatures: invented readings, the settings crossed with a quadratic model.
random = np.random.default_rng(20261127)
blends = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.5, 0.5, 0], [0.5, 0, 0.5], [0, 0.5, 0.5], [1 / 3] * 3])
runs = np.array([[*b, z] for z in (-1.0, 1.0) for b in blends] + [[1 / 3, 1 / 3, 1 / 3, z] for z in (-1.0, 1.0)])
f = scheffe(runs[:, :3], 2)
crossed = np.column_stack([f, f * runs[:, 3:]])
truth = np.array([12, 5, 8, 6, -3, 2, 1.5, -0.5, 0.8, 2, 0, -1])
y = np.round(crossed @ truth + random.normal(0, 0.3, len(runs)), 2)
case("crossed", runs, crossed, y)
case("added", runs, np.column_stack([f, runs[:, 3:]]), y)
