"""Reference figures for uncertainty, by scipy and numpy: coverage factors of Student's t, and the shares of a weighed batch of 15 lines.

Run: python uncertainty_reference.py > uncertainty.toml          (scipy 1.17.1, numpy 2.4.6)
     python uncertainty_reference.py time                        the same simulation, timed: 15 lines, 10^6 draws
"""

import sys
import time

import numpy as np
from scipy import stats

# A serum of 200 g on a 0.01 g balance, percent.
PERCENT = [70.85, 10, 5, 5, 3, 2, 1, 0.8, 0.6, 0.5, 0.4, 0.3, 0.25, 0.2, 0.1]
BATCH = 200.0
DIVISION = 0.01
REPEATABILITY = 0.01


def simulate(draws, seed):
    """Tare and gross rounded to the division, repeatability normal; shares of the batch as made."""
    random = np.random.default_rng(seed)
    target = np.array(PERCENT) / 100 * BATCH
    weighed = target + REPEATABILITY * random.standard_normal((draws, len(target)))
    weighed += DIVISION * (random.random((draws, len(target))) - 0.5)
    weighed += DIVISION * (random.random((draws, len(target))) - 0.5)
    weighed /= weighed.sum(axis=1, keepdims=True)
    return weighed.mean(axis=0), weighed.std(axis=0, ddof=1), np.quantile(weighed, [0.025, 0.975], axis=0)


def main():
    if len(sys.argv) > 1 and sys.argv[1] == "time":
        seconds = []
        for seed in range(5):
            start, began = time.perf_counter(), time.process_time()
            simulate(1_000_000, seed)
            seconds.append((time.perf_counter() - start, time.process_time() - began))
        wall, cpu = sorted(s[0] for s in seconds)[2], sorted(s[1] for s in seconds)[2]
        print(f"numpy {np.__version__}: median of 5: {wall:.3f} s wall, {cpu:.3f} s processor")
        return
    print("# Written by tests/cross/uncertainty_reference.py, which says how.\n")
    for coverage in [0.5, 0.68, 0.9, 0.95, 0.9545, 0.99, 0.9973, 0.999999]:
        for degrees in [1, 1.5, 2, 3, 5, 7.7, 12, 16, 30, 100, 1234.5, 1e5, 1e8]:
            k = stats.t.ppf(0.5 + coverage / 2, degrees) if coverage < 0.999 else stats.t.isf((1 - coverage) / 2, degrees)
            print(f"[[factor]]\ncoverage = {coverage}\ndegrees = {float(degrees)!r}\nk = {float(k)!r}\n")
    mean, sd, (low, high) = simulate(4_000_000, 20261127)
    print("[batch]")
    print(f"percent = {PERCENT}\nbatch_g = {BATCH}\ndivision_g = {DIVISION}\nrepeatability_g = {REPEATABILITY}\ndraws = 4000000")
    for name, values in [("mean", mean), ("standard_deviation", sd), ("low", low), ("high", high)]:
        print(f"{name} = {[float(v) for v in values]}")


if __name__ == "__main__":
    main()
