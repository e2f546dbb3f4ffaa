"""Profile limits of fitted flow models: writes `flow_profiles.toml` from the open curves in `flow/` and the curve of the benchmark.

Tried with numpy 2.4.6 and scipy 1.17.1. Residuals ln(model / measured); parameters of many decades searched by their natural logarithm. One
parameter is held at a value, the others are fitted by scipy's least_squares (trf, tolerances 1e-14, finished by lm), until S(p) = S_min (1 + t^2 / (N - P)),
t the 97.5 % point of Student's distribution; the crossing by brentq. A side is open (absent) where the sum stays below that for a change of
the parameter by e^25 (or to the bound of an exponent).
"""

import csv
from pathlib import Path

import numpy as np
import scipy
from scipy.optimize import brentq, least_squares
from scipy.stats import t as student

HERE = Path(__file__).parent
BOUNDS = {"n": (0.02, 1.5), "n_carreau": (0.02, 1.0), "m": (0.05, 1.5), "a": (0.1, 6.0)}


def herschel_bulkley(p, g):
    return np.exp(p[0]) + np.exp(p[1]) * g ** p[2]


def three(p, g):
    return np.exp(p[0]) * (1.0 + np.sqrt(g / np.exp(p[1]))) + np.exp(p[2]) * g


def cross(p, g):
    rest, high = np.exp(p[0]), np.exp(p[1])
    return g * (high + (rest - high) / (1.0 + (np.exp(p[2]) * g) ** p[3]))


def cross_thinning(p, g):
    return g * np.exp(p[0]) / (1.0 + (np.exp(p[1]) * g) ** p[2])


def carreau_yasuda_thinning(p, g):
    return g * np.exp(p[0]) * (1.0 + (np.exp(p[1]) * g) ** p[2]) ** ((p[3] - 1.0) / p[2])


# model, function, symbols (logarithms unless in BOUNDS), start in plain values
MODELS = {
    "herschel-bulkley": (herschel_bulkley, ["tau0", "K", "n"]),
    "three-component": (three, ["tau0", "gamma_c", "eta_bg"]),
    "cross": (cross, ["eta0", "eta_inf", "lambda", "m"]),
    "cross-thinning": (cross_thinning, ["eta0", "lambda", "m"]),
    "carreau-yasuda-thinning": (carreau_yasuda_thinning, ["eta0", "lambda", "a", "n"]),
}
CASES = [
    ("flow/caggioni_linear_polymer_flow.csv", "linear_polymer", "carreau-yasuda-thinning", [2.1, 0.1, 0.86, 0.3]),
    ("flow/caggioni_carbomer_glycerin_temp.csv", "T_20", "three-component", [7.5, 0.00565, 2.17]),
    ("flow/caggioni_carbomer_glycerin_temp.csv", "T_20", "herschel-bulkley", [8.1, 103.0, 0.52]),
    ("flow/mineral_oil_emulsion_75pct_40C.csv", "emulsion_75", "herschel-bulkley", [3.2, 2.5, 0.54]),
    ("flow/textbook_flow_curves_brodkey_hershey.csv", "ex15_1", "cross-thinning", [0.5, 0.1, 0.7]),
    ("../benches/cross_curve.csv", "", "cross", [10.0, 0.01, 2.0, 0.7]),
]


def read(file, sample):
    rows = list(csv.reader((HERE / file).open()))[1:]
    rows = [row[-2:] for row in rows if not sample or row[0] == sample]
    return np.array(rows, dtype=float).T


def bounds_of(model, symbols, g, tau):
    low, high = [], []
    for symbol in symbols:
        key = "n_carreau" if symbol == "n" and model.startswith("carreau") else symbol
        a, b = BOUNDS.get(key, (np.log(1e-12), np.log(1e12)))
        if symbol == "eta_inf":
            b = np.log((tau / g).min())
        low.append(a)
        high.append(b)
    return np.array(low), np.array(high)


def fit(function, g, tau, start, low, high, held=None, value=None):
    free = [j for j in range(len(start)) if j != held]

    def whole(q):
        p = np.array(start, dtype=float)
        p[free] = q
        if held is not None:
            p[held] = value
        return p

    def residuals(q):
        return np.log(function(whole(q), g) / tau)

    start_free = np.clip(np.array(start)[free], low[free] + 1e-12, high[free] - 1e-12)
    found = least_squares(residuals, start_free, bounds=(low[free], high[free]), ftol=1e-14, xtol=1e-14, gtol=1e-14, max_nfev=4000)
    # The bounded search creeps at its end; unbounded steps finish it where no bound is near.
    if len(free) < len(g) and np.all(found.x > low[free] + 1e-6) and np.all(found.x < high[free] - 1e-6):
        polished = least_squares(residuals, found.x, method="lm", ftol=1e-15, xtol=1e-15, gtol=1e-15, max_nfev=4000)
        if polished.cost <= found.cost and np.all(np.abs(polished.x - found.x) < 0.01):
            found = polished
    return whole(found.x), 2.0 * found.cost


def limit(function, g, tau, best, least, j, side, low, high):
    degrees = len(g) - len(best)
    target = least * (1.0 + student.ppf(0.975, degrees) ** 2 / degrees)
    warm = best.copy()

    def miss(value):
        nonlocal warm
        warm, total = fit(function, g, tau, warm, low, high, j, value)
        return total - target

    step, inside = 0.01, best[j]
    while True:
        outside = np.clip(best[j] + side * step, low[j], high[j])
        if miss(outside) > 0.0:
            return brentq(miss, inside, outside, xtol=1e-12, rtol=1e-12)
        if step > 25.0 or outside in (low[j], high[j]):
            return None
        inside, step = outside, step * 1.5


def main():
    text = [f"# Written by flow_profiles.py with numpy {np.__version__} and scipy {scipy.__version__}; what it computes stands there."]
    for file, sample, model, start in CASES:
        function, symbols = MODELS[model]
        g, tau = read(file, sample)
        low, high = bounds_of(model, symbols, g, tau)
        begin = [v if s in BOUNDS else np.log(v) for s, v in zip(symbols, start)]
        best, least = fit(function, g, tau, begin, low, high)
        text += ["", "[[case]]", f'file = "{file}"', f'sample = "{sample}"', f'model = "{model}"', f"sum = {least:.10g}"]
        for j, symbol in enumerate(symbols):
            ends = [limit(function, g, tau, best, least, j, side, low, high) for side in (-1.0, 1.0)]
            back = (lambda v: v) if symbol in BOUNDS else np.exp
            parts = [f'symbol = "{symbol}"', f"value = {back(best[j]):.9g}"]
            parts += [f"{name} = {back(end):.9g}" for name, end in zip(("low", "high"), ends) if end is not None]
            text += ["[[case.parameter]]", *parts]
    (HERE / "flow_profiles.toml").write_text("\n".join(text) + "\n")


if __name__ == "__main__":
    main()
