"""Lethal units and log reductions over temperature records, by adaptive quadrature of 10^((T(t) - T_r)/z) with T straight between points.

    python3 lethality.py > lethality.toml

The integrals are found by scipy.integrate.quad piece by piece; nothing of the program is used. `printed` are figures of the worked table the
cases were taken from, rounded as there.
"""

import sys
import numpy as np
import scipy
from scipy.integrate import quad


def temperature(points):
    t, c = zip(*points)
    return lambda at: float(np.interp(at, t, c))


def integral(points, log10_rate):
    c = temperature(points)
    total = 0.0
    for (a, low), (b, high) in zip(points, points[1:]):
        if b > a:
            # Where a measured curve bends the piece is cut, so that the quadrature sees smooth functions only.
            cuts = [a + (b - a) * (node - low) / (high - low) for node in BENDS if (node - low) * (node - high) < 0]
            total += quad(lambda t: 10 ** log10_rate(c(t)), a, b, points=cuts or None, epsabs=0, epsrel=1e-12, limit=500)[0]
    return total


BENDS = [45.0, 50.0, 55.0, 60.0, 66.0]


def unit(reference, z):
    return lambda t: (t - reference) / z


def death(d, z):
    nodes = [at for at, _ in d]
    logs = [np.log10(minutes) for _, minutes in d]

    def log10_rate(t):
        if t <= nodes[0]:
            return -(logs[0] + (nodes[0] - t) / z)
        if t >= nodes[-1]:
            return -(logs[-1] - (t - nodes[-1]) / z)
        return -float(np.interp(t, nodes, logs))

    return log10_rate


HOLD = [(0, 70), (20, 70)]
RAMPS = [(0, 25), (50, 75), (70, 75), (170, 25)]
LOGGED = list(zip(range(0, 65, 5), [22, 35, 47, 57, 65, 70, 70, 70, 66, 58, 49, 41, 34]))
Z7 = dict(reference_c=60.0, z_k=7.0)
FIRST = dict(reference_c=60.0, z_k=6.946802670531636)
LEGIONELLA = [(55.0, 13.93), (60.0, 0.74)]
ALL_LEGIONELLA = [(45.0, 2500.0), (50.0, 380.0), (55.0, 13.93), (60.0, 0.74), (66.0, 0.45)]

CASES = [
    ("20 min at 70 C, z 7", HOLD, Z7, 536.5),
    ("20 min at 70 C, 1.393 per K", HOLD, FIRST, 550.2),
    ("up at 1 K/min, 20 min at 75 C, down at 0.5 K/min", RAMPS, Z7, 4046.2),
    ("the same, up alone", RAMPS[:2], Z7, 422.4),
    ("the same, hold alone", RAMPS[1:3], Z7, 2779.0),
    ("the same, down alone", RAMPS[2:], Z7, 844.8),
    ("a logger every 5 min", LOGGED, Z7, 431.9),
    ("Legionella, 30 min at 55 C", [(0, 55), (30, 55)], dict(d=LEGIONELLA, z_k=5.29), 2.15),
    ("Legionella, 10 min at 60 C", [(0, 60), (10, 60)], dict(d=LEGIONELLA, z_k=5.29), 13.5),
    ("Legionella, through all measured temperatures", [(0, 25), (60, 62), (120, 30)], dict(d=ALL_LEGIONELLA, z_k=5.29), None),
    ("Escherichia coli, the toughest, 5 min at 65 C", [(0, 65), (5, 65)], dict(d=[(57.2, 5.1)], z_k=5.3), 29),
    ("yeasts and moulds, 20 min at 75 C", [(0, 75), (20, 75)], dict(d=[(65.6, 1.0)], z_k=5.0), None),
    ("Bacillus cereus, the toughest, 20 min at 75 C", [(0, 75), (20, 75)], dict(d=[(95.0, 36.2)], z_k=10.0), 0.006),
]

print(f"# Printed by lethality.py with Python {sys.version.split()[0]}, numpy {np.__version__}, scipy {scipy.__version__}.")
for name, points, of, printed in CASES:
    rate = death(of["d"], of["z_k"]) if "d" in of else unit(of["reference_c"], of["z_k"])
    print(f'\n[[case]]\nname = "{name}"')
    print("points = [" + ", ".join(f"[{float(t)}, {float(c)}]" for t, c in points) + "]")
    if "d" in of:
        print("d = [" + ", ".join(f"[{at}, {minutes}]" for at, minutes in of["d"]) + "]")
    else:
        print(f"reference_c = {of['reference_c']}")
    print(f"z_k = {of['z_k']}")
    print(f"value = {integral(points, rate):.12g}")
    if printed is not None:
        print(f"printed = {float(printed)}")
