"""Shares and quantiles of Student's t and Fisher's F. Python 3.11, scipy 1.17.1 (mpmath 1.3 for the far tails)."""
import scipy, mpmath as mp
from scipy import stats

mp.mp.dps = 40


def beta(a, b, x):
    return mp.betainc(a, b, 0, x, regularized=True)


def fisher(f, a, b):
    return beta(mp.mpf(b) / 2, mp.mpf(a) / 2, mp.mpf(b) / (mp.mpf(b) + mp.mpf(a) * mp.mpf(f)))


def student(t, n):
    return beta(mp.mpf(n) / 2, mp.mpf(1) / 2, mp.mpf(n) / (mp.mpf(n) + mp.mpf(t) ** 2)) / 2


def polished(guess, share, wanted):
    return mp.findroot(lambda x: share(x) - wanted, guess)


print("# Written by tests/cross/distributions.py (scipy %s starts, mpmath %s finishes with 40 digits)." % (scipy.__version__, mp.__version__))
out = lambda name, rows: print(name + " = [\n" + "\n".join("  [" + ", ".join(mp.nstr(mp.mpf(v), 17) if isinstance(v, mp.mpf) else repr(float(v)) for v in row) + "]," for row in rows) + "\n]")
out("fisher", [(f, a, b, fisher(f, a, b)) for f, a, b in [(0.052775, 2, 15), (5.043222, 2, 13), (22.866328, 2, 19), (19.88764, 3, 28), (0.329081, 3, 28), (2.2615, 9, 40), (21.0, 8, 180), (1e-4, 3, 7), (400.0, 1, 3), (3.5, 40, 4), (1.02, 900, 1200), (60.0, 2, 60)]])
out("fisher_quantile", [(p, a, b, polished(stats.f.isf(p, a, b), lambda x: fisher(x, a, b), p)) for p, a, b in [(0.25, 2, 15), (0.25, 3, 28), (0.05, 9, 40), (0.025, 9, 40), (0.001, 1, 5), (0.9, 4, 11), (0.01, 30, 2)]])
out("student", [(t, n, student(t, n)) for t, n in [(0.1, 1), (1.943, 6), (2.5, 19), (6.0, 30), (14.0, 8), (0.7, 400)]])
out("student_quantile", [(p, n, polished(stats.t.ppf(p, n), lambda x: student(x, n), 1 - mp.mpf(str(p)))) for p, n in [(0.95, 1), (0.95, 6), (0.95, 19), (0.95, 33), (0.975, 31), (0.99, 4), (0.9, 250)]])
