"""Runs made in three blocks, by statsmodels with the blocks coded as indicators (not as ours are): writes blocks_of_runs.toml.

Run from the folder of this file: python3 blocks_of_runs.py > blocks_of_runs.toml
"""

import itertools

import numpy as np
import scipy
import scipy.stats as stats
import statsmodels
import statsmodels.api as sm

random = np.random.default_rng(20261128)
blends = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.5, 0.5, 0], [0.5, 0, 0.5], [0, 0.5, 0.5], [0.2, 0.3, 0.5], [0.2, 0.3, 0.5]])
# Not every blend in every block, so that blocks and blends do not fall apart by themselves.
made = [(block, blend) for block in (1, 2, 3) for at, blend in enumerate(blends) if (at + block) % 4]
x = np.array([blend for _, blend in made])
block = np.array([block for block, _ in made])
pairs = list(itertools.combinations(range(3), 2))


def rows(x, share):
    return np.column_stack([x, *(x[:, i] * x[:, j] for i, j in pairs), share])


shares = np.column_stack([block == 2, block == 3]).astype(float)
y = np.round(x @ [12, 5, 8] + 6 * x[:, 0] * x[:, 1] - 3 * x[:, 1] * x[:, 2] + np.array([0, 1.4, -0.9])[block - 1] + random.normal(0, 0.25, len(x)), 2)
fit = sm.OLS(y, rows(x, shares)).fit()
middle = np.full(2, 1 / 3)
at = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.4, 0.4, 0.2]])
said = fit.get_prediction(rows(at, np.tile(middle, (len(at), 1)))).summary_frame(alpha=0.05)
groups = {}
for key, value in zip([(b, *blend) for b, blend in zip(block, x)], y):
    groups.setdefault(tuple(key), []).append(value)
pure = sum(np.sum((np.array(g) - np.mean(g)) ** 2) for g in groups.values())
pure_degrees = len(y) - len(groups)
lack_degrees = int(fit.df_resid) - pure_degrees
ratio = ((fit.ssr - pure) / lack_degrees) / (pure / pure_degrees)
first, second, third = -np.sum(fit.params[-2:]) / 3, *(fit.params[-2:] - np.sum(fit.params[-2:]) / 3)


def written(name, values):
    print(f"{name} = [{', '.join(repr(float(v)) for v in values)}]")


print(f"# Written by blocks_of_runs.py: statsmodels {statsmodels.__version__}, scipy {scipy.__version__}, numpy {np.__version__}.")
print("runs = [")
for b, blend, value in zip(block, x, y):
    print(f"  [{b}, {', '.join(repr(float(v)) for v in [*blend, value])}],")
print("]")
written("blocks", [first, second, third])
written("cross_terms", fit.params[3:6])
written("cross_errors", fit.bse[3:6])
print("asked = [")
for blend in at:
    print(f"  [{', '.join(repr(float(v)) for v in blend)}],")
print("]")
written("asked_mean", said["mean"])
written("asked_low", said["mean_ci_lower"])
written("asked_high", said["mean_ci_upper"])
print(f"scatter = {float(np.sqrt(fit.mse_resid))!r}")
print(f"pure = {float(np.sqrt(pure / pure_degrees))!r}")
print(f"lack_beyond = {float(stats.f.sf(ratio, lack_degrees, pure_degrees))!r}")
