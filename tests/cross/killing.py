"""Lines through survivors of which some lie below their floor. Python 3.11, numpy 2.4.6, scipy 1.17.1.

Written apart from the program: the likelihood maximised by a simplex and polished, its curvature by finite differences. Prints
tests/cross/killing.toml. Counts: J. Cosmet. Sci. 54 (2003) p. 6, Table II, and made-up ones.
"""
import numpy as np, scipy
from scipy import optimize, stats

SETS = {
    "formula 1, E. coli": ([(0, 3.4e6), (48, 5.5e6), (168, 2.32e6), (336, 1e4), (504, 2.5e3), (672, 3e2)], []),
    "formula 1, S. aureus": ([(0, 1.31e7), (48, 9.6e6), (168, 1e7), (336, 5.4e5), (504, 4e3)], [(672, 10)]),
    "formula 2, S. aureus": ([(0, 1.17e7), (48, 1.02e3), (168, 30)], [(336, 10), (504, 10), (672, 10)]),
    "made up, two below": ([(0, 8e5), (2, 2.1e5), (4, 3.0e4), (8, 6.0e2), (12, 4.0e1)], [(16, 10), (24, 10)]),
    "made up, floor between": ([(0, 5e5), (6, 4e4), (24, 1.5e2)], [(12, 100)]),
}


def run(found, below):
    t = np.array([h for h, _ in found], float); y = np.log10([c for _, c in found])
    u = np.array([h for h, _ in below], float); c = np.log10([f for _, f in below]) if below else np.array([])

    def loss(p):
        s = np.exp(p[2])
        return -(np.sum(stats.norm.logpdf(y, p[0] + p[1] * t, s)) + np.sum(stats.norm.logcdf((c - p[0] - p[1] * u) / s)))

    b, a = np.polyfit(t, y, 1)
    s0 = np.log(np.std(y - a - b * t) + 1e-3)
    best = min((optimize.minimize(loss, [a, b * k, s0], method="Nelder-Mead", options=dict(xatol=1e-13, fatol=1e-15, maxiter=40000, maxfev=40000)) for k in (0.9, 1.0, 1.1)), key=lambda r: r.fun)
    for _ in range(3):
        best = optimize.minimize(loss, best.x, method="Nelder-Mead", options=dict(xatol=1e-14, fatol=1e-16, maxiter=40000, maxfev=40000))
    p = best.x
    h = np.maximum(np.abs(p), 1e-3) * 2e-4
    H = np.empty((3, 3)); I = np.eye(3)
    for i in range(3):
        for j in range(3):
            e, f = I[i] * h[i], I[j] * h[j]
            H[i, j] = (loss(p + e + f) - loss(p + e - f) - loss(p - e + f) + loss(p - e - f)) / (4 * h[i] * h[j])
    n = len(found); k = np.sqrt(n / (n - 2))
    half = stats.t.ppf(0.975, n - 2) * np.sqrt(np.linalg.inv(H)[1, 1]) * k
    return dict(start=p[0], d_hours=-1 / p[1], low=-1 / (p[1] - half), high=(-1 / (p[1] + half) if p[1] + half < 0 else None), scatter=np.exp(p[2]) * k)


print("# Written by tests/cross/killing.py (numpy %s, scipy %s)." % (np.__version__, scipy.__version__))
for name, (found, below) in SETS.items():
    print('\n[[line]]\nname = "%s"\nfound = [%s]\nbelow = [%s]' % (name, ", ".join("[%r, %r]" % (float(a), float(b)) for a, b in found), ", ".join("[%r, %r]" % (float(a), float(b)) for a, b in below)))
    for key, value in run(found, below).items():
        if value is not None:
            print(key, "=", repr(float(value)))
