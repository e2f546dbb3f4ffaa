"""Kendall's score in order and Clopper-Pearson limits by scipy, the reference of tests/tests/order.rs.
Run: python3 tests/cross/order_reference.py > tests/cross/order.toml
"""
import numpy as np
import scipy
from scipy.stats import binomtest, kendalltau

rng = np.random.default_rng(27)
print(f"# By order_reference.py with scipy {scipy.__version__}, numpy {np.__version__}.")
for size in [5, 6, 9, 14, 30, 60]:
    values = np.round(rng.exponential(1.0, size) / (1 + 0.1 * np.arange(size)), 6)
    at = np.arange(size)
    less = kendalltau(at, values, method="exact", alternative="less").pvalue
    more = kendalltau(at, values, method="exact", alternative="greater").pvalue
    print(f"\n[[order]]\nvalues = {values.tolist()}\nfalling_by_chance = {less:.12g}\nrising_by_chance = {more:.12g}")
for found, of in [(0, 4), (4, 4), (3, 5), (17, 20), (19, 20), (1, 50)]:
    limits = binomtest(found, of).proportion_ci(0.95, method="exact")
    print(f"\n[[share]]\nfound = {found}\nof = {of}\nlimits = [{limits.low:.12g}, {limits.high:.12g}]")
