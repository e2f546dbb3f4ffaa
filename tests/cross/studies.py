"""A small stability study worked out apart from the program. Python 3.11, numpy 2.4.6, scipy 1.17.1, python-dateutil 4.0.0.

Dates by dateutil's relativedelta, colour distances by numpy's norm, percent of the start by plain division, the pooled line and its one-sided
confidence limit by numpy's least squares and scipy's quantile with a root search, a lactate
buffer by hand. Prints tests/cross/studies.toml.
"""
from datetime import date
import numpy as np, scipy, dateutil
from dateutil.relativedelta import relativedelta
from scipy import optimize, stats

start = date(2026, 5, 29)
months = lambda on: (on - start).days / 30.4375
days = [date(2026, 5, 29), date(2026, 6, 26), date(2026, 7, 27), date(2026, 8, 28), date(2026, 11, 27)]
assay = {"A": [100.4, 100.0, 99.2, 98.7, 97.6], "B": [99.8, 99.5, 98.9, 98.0, 97.0], "C": [101.1, 100.4, 99.9, 99.5, 98.1]}
viscosity = {"A": [4200, 4100], "B": [4350, 4002]}
colour = {"A": [(92.1, -0.4, 1.2), (91.1, -0.3, 2.5)], "B": [(92.0, -0.3, 1.3), (90.4, 0.2, 3.9)]}
print(f"# Written by tests/cross/studies.py (numpy {np.__version__}, scipy {scipy.__version__}, python-dateutil {dateutil.__version__}).")
print(f'\nstart = "{start}"')
print(f'days = {[str(d) for d in days]}'.replace("'", '"'))
print(f"months = {[months(d) for d in days]}")
print("\n[assay]\nlower = 95.0")
for name, values in assay.items():
    print(f"{name} = {values}")
# The batches share a line where neither slopes nor heights differ at 0.25; which model that is, is worked out here too.
t = np.array([months(d) for d in days]); groups = list(assay.values()); k = len(groups); n = t.size * k
rss = lambda X, y: float(np.sum((y - X @ np.linalg.lstsq(X, y, rcond=None)[0]) ** 2))
y = np.concatenate([np.array(g) for g in groups]); T = np.tile(t, k); D = np.kron(np.eye(k), np.ones((t.size, 1)))
one, slope, own = rss(np.column_stack([np.ones(n), T]), y), rss(np.column_stack([D, T]), y), rss(np.column_stack([D, D * T[:, None]]), y)
mse = own / (n - 2 * k)
p_slopes = stats.f.sf((slope - own) / (k - 1) / mse, k - 1, n - 2 * k)
p_heights = stats.f.sf((one - slope) / (k - 1) / mse, k - 1, n - 2 * k)
print(f"slopes_chance = {p_slopes}\nheights_chance = {p_heights}")
assert p_slopes > 0.25 and p_heights < 0.25
X = np.column_stack([D, T]); beta = np.linalg.lstsq(X, y, rcond=None)[0]; dof = n - X.shape[1]
s2 = slope / dof; cov = s2 * np.linalg.inv(X.T @ X); q = stats.t.ppf(0.95, dof)
def leaves(batch):
    def gap(m):
        x = np.zeros(k + 1); x[batch] = 1; x[k] = m
        return float(x @ beta - q * np.sqrt(x @ cov @ x)) - 95.0
    return optimize.brentq(gap, 0.5, 60)
print(f"slope = {beta[k]}\nleaves = {[leaves(b) for b in range(k)]}")
print("\n[percent]")
for name, (first, now) in viscosity.items():
    print(f"{name} = [{first}, {now}, {100 * now / first}]")
print("\n[colour]")
for name, (first, now) in colour.items():
    print(f"{name} = {{ start = {list(first)}, now = {list(now)}, distance = {float(np.linalg.norm(np.subtract(now, first)))} }}")
print("\n[[due]]" + "\n[[due]]".join(f'\nstart = "{s}"\nafter = {a}\nunit = "{u}"\nday = "{s + relativedelta(**{u: a})}"\nweekend = {str((s + relativedelta(**{u: a})).weekday() > 4).lower()}\n'
      for s in [date(2026, 11, 30), date(2027, 8, 31), date(2028, 2, 29)] for a, u in [(3, "months"), (12, "months"), (13, "weeks"), (10, "days")]))
# Two batches, two packs, two opened at a pull, three pulls at one condition and two at another, a fifth in reserve.
planned = 2 * 2 * 2 * (1 + 3 + 2)
print(f"[samples]\nplanned = {planned}\nneeded = {planned + int(np.ceil(planned * 0.2))}")


def lactate(percent_60, ph):
    """HCl, mmol/kg of product, that brings sodium lactate in water to a pH: Henderson and Hasselbalch with Davies' coefficients, pK 3.86."""
    gram = percent_60 / 100 * 0.60 * 1000; water = 1 - percent_60 / 100 * 0.60
    m = gram / 112.06 / water
    # Sodium and chloride keep the ionic strength; lactate that turns to lactic acid is replaced by chloride.
    root = np.sqrt(m); gamma = 10 ** (-0.509 * (root / (1 + root) - 0.3 * m))
    hydrogen = 10 ** -ph / gamma
    return 1000 * water * (m / (1 + 10 ** (ph - 3.86) / gamma) + hydrogen)


print("\n[[shift]]" + "\n[[shift]]".join(f'\npercent = {p}\nfrom = {a}\nto = {b}\nacid = {lactate(p, b) - lactate(p, a)}\n' for p, a, b in [(0.5, 4.5, 4.2), (0.5, 4.2, 4.5), (1.5, 5.0, 4.0), (0.2, 4.0, 3.6)]))
