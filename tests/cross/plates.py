"""Limits of numbers of colonies and the scatter of plates. Python 3.11, scipy 1.17.1.

Written apart from the program. Prints tests/cross/plates.toml. plates: [product in what was plated in g/mL, colonies], 1 mL on each.
"""
import scipy
from scipy import stats

SETS = {
    "two dilutions": ([30, 300], [(0.1, 182), (0.1, 164), (0.01, 31), (0.01, 15)]),
    "one dilution": ([15, 150], [(0.1, 40), (0.1, 52)]),
    "few": ([30, 300], [(0.1, 4), (0.1, 7), (0.01, 1)]),
    "one colony": ([30, 300], [(0.1, 1), (0.1, 0)]),
    "plates apart": ([30, 300], [(0.1, 240), (0.1, 120)]),
}
print("# Written by tests/cross/plates.py (scipy %s)." % scipy.__version__)
for name, ((least, most), plates) in SETS.items():
    used = [p for p in plates if least <= p[1] <= most] or [p for p in plates if p[0] == max(q[0] for q in plates)]
    c, d = sum(p[1] for p in used), sum(p[0] for p in used)
    n = c / d
    low = stats.chi2.ppf(0.025, 2 * c) / 2 / d; high = stats.chi2.ppf(0.975, 2 * c + 2) / 2 / d
    chi = sum((k - n * x) ** 2 / (n * x) for x, k in used)
    beyond = stats.chi2.sf(chi, len(used) - 1) if len(used) > 1 else 1.0
    print('\n[[count]]\nname = "%s"\ncountable = [%d, %d]\nplates = %s' % (name, least, most, [list(p) for p in plates]))
    print("cfu_per_g = %r\nlow = %r\nhigh = %r\nscattered = %s" % (float(n), float(low), float(high), str(beyond < 0.01).lower()))
