"""Bent lines through survivors of which some lie below their floor. Python 3.11, numpy 2.4.6, scipy 1.17.1.

Written apart from the program: log10 N = a - 3 (t/T)^p with all four of a, ln T, ln p, ln s free, the likelihood maximised by a simplex
from many starts and polished, its curvature by finite differences. Prints tests/cross/killing_shape.toml.
Counts: J. Cosmet. Sci. 54 (2003) p. 6, Table II, and made-up ones.
"""
import numpy as np, scipy
from scipy import optimize, stats

SETS = {
    "formula 1, E. coli": ([(0, 3.4e6), (48, 5.5e6), (168, 2.32e6), (336, 1e4), (504, 2.5e3), (672, 3e2)], []),
    "formula 1, S. putrefaciens": ([(0, 4.2e6), (48, 2.0e6), (168, 3.2e6), (336, 4.5e5), (504, 2.2e4), (672, 1.7e2)], []),
    "formula 1, B. cepacia": ([(0, 4.0e6), (48, 7.4e6), (168, 1.77e6), (336, 2.2e5), (504, 5.7e4), (672, 2.2e2)], []),
    "formula 1, S. aureus": ([(0, 1.31e7), (48, 9.6e6), (168, 1e7), (336, 5.4e5), (504, 4e3)], [(672, 10)]),
    "made up, a tail": ([(0, 8e5), (2, 2.1e4), (4, 3.1e3), (8, 3.4e2), (12, 9.0e1), (24, 1.4e1)], [(36, 10), (48, 10)]),
    "made up, a shoulder": ([(0, 5e5), (1, 4.9e5), (2, 3.6e5), (4, 1.1e5), (6, 6.0e3), (7, 1.1e3)], [(8, 100), (10, 100)]),
    "made up, nearly straight": ([(0, 8e5), (2, 2.1e5), (4, 3.0e4), (8, 6.0e2), (12, 4.0e1)], [(16, 10), (24, 10)]),
}


def run(found, below):
    t = np.array([h for h, _ in found], float); y = np.log10([c for _, c in found])
    u = np.array([h for h, _ in below], float); c = np.log10([f for _, f in below]) if below else np.array([])

    def of(mean, s):
        return -(np.sum(stats.norm.logpdf(y, mean(t), s)) + np.sum(stats.norm.logcdf((c - mean(u)) / s)))

    def bent(p):
        return of(lambda x: p[0] - 3 * (x / np.exp(p[1])) ** np.exp(p[2]), np.exp(p[3]))

    def straight(p):
        return of(lambda x: p[0] + p[1] * x, np.exp(p[2]))

    def best(loss, starts):
        fine = dict(xatol=1e-13, fatol=1e-15, maxiter=60000, maxfev=60000)
        top = min((optimize.minimize(loss, x, method="Nelder-Mead", options=fine) for x in starts), key=lambda r: r.fun)
        for _ in range(4):
            top = optimize.minimize(loss, top.x, method="Nelder-Mead", options=fine)
        return top

    with np.errstate(all="ignore"):
        b, a = np.polyfit(t, y, 1)
        line = best(straight, [[a, b * k, np.log(0.3)] for k in (0.8, 1, 1.2)])
        curve = best(bent, [[y[0], np.log(-3 / b), np.log(p), np.log(0.3)] for p in (0.3, 0.6, 1, 1.6, 2.5, 4)])
    p = curve.x; n = len(found); m = n + len(below); k = np.sqrt(n / (n - 3))
    h = np.array([2e-4] * 4); I = np.eye(4)
    H = np.array([[(bent(p + I[i] * h[i] + I[j] * h[j]) - bent(p + I[i] * h[i] - I[j] * h[j]) - bent(p - I[i] * h[i] + I[j] * h[j]) + bent(p - I[i] * h[i] - I[j] * h[j])) / (4 * h[i] * h[j]) for j in range(4)] for i in range(4)])
    half = stats.t.ppf(0.975, n - 3) * np.sqrt(np.diag(np.linalg.inv(H))) * k
    aicc = lambda loss, q: 2 * loss + 2 * q + 2 * q * (q + 1) / (m - q - 1)
    out = dict(start=p[0], three_log=np.exp(p[1]), three_log_low=np.exp(p[1] - half[1]), three_log_high=np.exp(p[1] + half[1]),
               shape=np.exp(p[2]), shape_low=np.exp(p[2] - half[2]), shape_high=np.exp(p[2] + half[2]), scatter=np.exp(p[3]) * k)
    if m > 5:
        out["gain"] = aicc(line.fun, 3) - aicc(curve.fun, 4)
    return out


print("# Written by tests/cross/killing_shape.py (numpy %s, scipy %s). gain: AICc of the straight line less that of the bent one." % (np.__version__, scipy.__version__))
for name, (found, below) in SETS.items():
    print('\n[[curve]]\nname = "%s"\nfound = [%s]\nbelow = [%s]' % (name, ", ".join("[%r, %r]" % (float(a), float(b)) for a, b in found), ", ".join("[%r, %r]" % (float(a), float(b)) for a, b in below)))
    for key, value in run(found, below).items():
        print(key, "=", repr(float(value)))
