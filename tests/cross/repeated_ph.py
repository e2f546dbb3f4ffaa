"""Expected values of tests/cross/repeated_ph.toml, by numpy and scipy: means, lines by polyfit with their covariance, robust scatter by
scipy.stats.median_abs_deviation. Run: python repeated_ph.py > repeated_ph.toml"""
import numpy, scipy
from scipy import stats

CASES = [
    ("one reading", [(0, 5.43)]),
    ("two that agree", [(0, 5.43), (60, 5.44)]),
    ("two that do not", [(0, 5.40), (60, 5.46)]),
    ("five that scatter", [(0, 4.31), (40, 4.33), (80, 4.32), (120, 4.31), (160, 4.33)]),
    ("five that scatter more than the meter", [(0, 4.28), (40, 4.36), (80, 4.31), (120, 4.35), (160, 4.30)]),
    ("a slow rise", [(0, 6.02), (60, 6.04), (120, 6.07), (180, 6.09), (240, 6.11)]),
    ("a slip among four", [(0, 3.81), (30, 3.82), (60, 4.81), (90, 3.81)]),
    ("a slip at the end", [(0, 7.10), (30, 7.11), (60, 7.10), (90, 7.40)]),
    ("all at one moment", [(0, 5.50), (0, 5.52), (0, 5.51)]),
    ("all the same", [(0, 5.50), (30, 5.50), (60, 5.50), (90, 5.50)]),
]
REPEATABILITY, DIGIT = 0.01, 0.01

print(f"# Written by repeated_ph.py: Python with numpy {numpy.__version__}, scipy {scipy.__version__}.")
print(f"repeatability = {REPEATABILITY}\ndigit = {DIGIT}")
for name, rows in CASES:
    t, r = (numpy.array(column, float) for column in zip(*rows))
    odd = numpy.zeros(len(r), bool)
    if len(r) > 2:
        mad = stats.median_abs_deviation(r, scale=1 / 1.4826)
        odd = numpy.abs(r - numpy.median(r)) > 3.5 * max(REPEATABILITY, mad)
    x, y = t[~odd], r[~odd]
    n = len(y)
    drift = None
    ph, u = y.mean(), max(REPEATABILITY, y.std(ddof=1) if n > 1 else 0.0) / n**0.5
    if n > 1 and numpy.ptp(x) > 0:
        coefficients = numpy.polyfit(x, y, 1)
        residual = y - numpy.polyval(coefficients, x)
        s = max(REPEATABILITY, (residual @ residual / (n - 2)) ** 0.5 if n > 2 else 0.0)
        design = numpy.column_stack([numpy.ones(n), x])
        covariance = s**2 * numpy.linalg.inv(design.T @ design)
        if abs(coefficients[0]) > stats.norm.ppf(0.975) * covariance[1, 1] ** 0.5:
            at = numpy.array([1, x[-1]])
            ph, u = numpy.polyval(coefficients, x[-1]), (at @ covariance @ at) ** 0.5
            drift = coefficients[0] * (x[-1] - x[0])
    print(f'\n[[case]]\nname = "{name}"\nreadings = {[[float(a), float(b)] for a, b in rows]}')
    print(f"ph = {ph:.9f}\nuncertainty = {max(u, DIGIT / 12**0.5):.9f}\ncount = {n}\nodd = {[int(i) for i in numpy.flatnonzero(odd)]}")
    if drift is not None:
        print(f"drift = {drift:.9f}")
