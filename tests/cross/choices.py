"""All choices of seven of sixteen blends, repeats allowed, for a quadratic model of three parts: the least mean variance over the candidates and
the largest D, by numpy. The numbers stand in crates/engine/measure/src/experiment/exchange.rs.

python3 choices.py
"""

import itertools

import numpy as np

blends = [(i / 4, j / 4, (4 - i - j) / 4) for i in range(5) for j in range(5 - i)] + [(1 / 3, 1 / 3, 1 / 3)]
x = np.array([[a, b, c, a * b, a * c, b * c] for a, b, c in blends])
moments = x.T @ x / len(x)
products = np.einsum("ni,nj->nij", x, x)
least, best = np.inf, 0.0
choices = itertools.combinations_with_replacement(range(len(x)), 7)
while True:
    chunk = np.array(list(itertools.islice(choices, 20000)))
    if not len(chunk):
        break
    sums = products[chunk].sum(axis=1)
    determinants = np.linalg.det(sums)
    good = determinants > 1e-14
    traces = np.einsum("nij,ji->n", np.linalg.inv(sums[good]), moments)
    least, best = min(least, traces.min()), max(best, determinants.max())
print(f"numpy {np.__version__}: n mean variance {7 * least!r}, D {best ** (1 / 6) / 7!r}")
