"""Joint fits of loss over time at several temperatures. Python 3.11, numpy 2.4.6, scipy 1.17.1.

Written apart from the program: scipy's least squares in other parameters (rate at 25 C in plain units), numerical derivatives, and the
covariance carried over by hand. Prints tests/cross/kinetics.toml.
"""
import numpy as np, scipy
from scipy import optimize, stats

R = 8.314462618
SETS = {
    "assay at two temperatures": [(25, w, c) for w, c in zip([0, 4, 8, 12, 16, 20, 24], [101.3, 100.2, 99.6, 98.3, 97.9, 96.6, 96.1])]
    + [(40, w, c) for w, c in zip([0, 4, 8, 12], [101.3, 97.8, 94.9, 91.6])],
    "three temperatures": [(25, t, c) for t, c in [(0, 100.4), (3, 99.1), (6, 98.4), (9, 96.8), (12, 96.1)]]
    + [(35, t, c) for t, c in [(0, 99.8), (1, 98.9), (2, 98.3), (3, 96.6), (6, 93.8)]]
    + [(45, t, c) for t, c in [(0, 100.1), (1, 96.2), (2, 93.0), (3, 90.1)]],
}


def content(order, c0, k, t):
    return {"zero": c0 - k * t, "first": c0 * np.exp(-k * t), "second": c0 / (1 + k * c0 * t)}[order]


def fit(order, data):
    T, t, y = (np.array(v, float) for v in zip(*data))
    away = 1 / (T + 273.15) - 1 / 298.15
    scale = {"zero": 1.0, "first": 0.01, "second": 1e-4}[order]

    def miss(p):
        return content(order, p[0] * 100, np.exp(p[1]) * scale * np.exp(-p[2] * 1e5 / R * away), t) - y

    s = optimize.least_squares(miss, [1.0, -1.0, 0.8], jac="3-point", xtol=1e-15, ftol=1e-15, gtol=1e-15, method="lm")
    df = len(y) - 3
    # Derivatives once more, by a wider central difference of fourth order.
    J = np.empty((len(y), 3))
    for j in range(3):
        h = 1e-4 * max(abs(s.x[j]), 1e-3)
        d = np.zeros(3); d[j] = h
        J[:, j] = (8 * (miss(s.x + d) - miss(s.x - d)) - (miss(s.x + 2 * d) - miss(s.x - 2 * d))) / (12 * h)
    rss = float(np.sum(miss(s.x) ** 2))
    cov = rss / df * np.linalg.inv(J.T @ J)
    k25, E = np.exp(s.x[1]) * scale, s.x[2] * 1e5
    q = stats.t.ppf(0.975, df)
    # Rates of their own with one start.
    places = sorted(set(T))

    def own(p):
        return content(order, p[0] * 100, np.exp(np.array([p[1 + places.index(x)] for x in T])) * scale, t) - y

    o = optimize.least_squares(own, [1.0] + [-1.0] * len(places), xtol=1e-15, ftol=1e-15, gtol=1e-15, method="lm")
    own_rss, below = float(np.sum(o.fun**2)), len(y) - 1 - len(places)
    above = len(places) - 2
    bend = (((rss - own_rss) / above) / (own_rss / below), stats.f.sf(((rss - own_rss) / above) / (own_rss / below), above, below)) if above else None
    # Two steps.
    straight = {"zero": lambda v: v, "first": np.log, "second": lambda v: -1 / v}[order]
    rates = [-np.polyfit(t[T == x], straight(y[T == x]), 1)[0] for x in places]
    E2 = -np.polyfit(1 / (np.array(places) + 273.15), np.log(rates), 1)[0] * R
    return dict(start=s.x[0] * 100, rate_25=k25, energy=E, energy_error=np.sqrt(cov[2, 2]) * 1e5, start_error=np.sqrt(cov[0, 0]) * 100,
                rate_25_low=k25 * np.exp(-q * np.sqrt(cov[1, 1])), rate_25_high=k25 * np.exp(q * np.sqrt(cov[1, 1])), scatter=np.sqrt(rss / df),
                rates=list(np.exp(o.x[1:]) * scale), bend=bend, two_step_rates=rates, two_step_energy=E2)


print("# Written by tests/cross/kinetics.py (numpy %s, scipy %s)." % (np.__version__, scipy.__version__))
for name, data in SETS.items():
    for order in ("zero", "first", "second"):
        f = fit(order, data)
        print('\n[[fit]]\nname = "%s"\norder = "%s"\nreadings = [%s]' % (name, order, ", ".join("[%g, %g, %g]" % r for r in data)))
        for key, value in f.items():
            if value is None:
                continue
            print(key, "=", "[" + ", ".join(repr(float(v)) for v in value) + "]" if isinstance(value, (list, tuple)) else repr(float(value)))
