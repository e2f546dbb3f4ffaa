"""Water lost from warm surfaces, with real moist air by CoolProp and integrals over time by scipy.

    python3 evaporation.py > evaporation.toml

The law for still air is the one of Shah; its properties are of real moist air, not of an ideal mixture. `printed` are the figures of the table
the cases were taken from (still air of 20 C, 50 %; 15.6 C, 50 %; losses of a beaker and a vessel), rounded as there.
"""

import sys
import CoolProp
import CoolProp.CoolProp as cp
import numpy as np
import scipy
from scipy.integrate import quad

R, M = 8.314462618, 0.018015268


def humid(t, p, vapour):
    """Density, dry density, humidity ratio."""
    w = cp.HAPropsSI("W", "T", t + 273.15, "P", p, "P_w", vapour)
    dry = 1.0 / cp.HAPropsSI("Vda", "T", t + 273.15, "P", p, "W", w)
    return dry * (1 + w), dry, w


def saturated(t):
    return cp.PropsSI("P", "T", t + 273.15, "Q", 0, "Water")


def still(t, room, activity=1.0):
    air, _, w_air = humid(room["t"], room["p"], room["rh"] * saturated(room["t"]))
    rho, dry, w = humid(t, room["p"], activity * saturated(t))
    return 35.0 * dry * max(air - rho, 0.0) ** (1 / 3) * (w - w_air)


def moving(t, room, length, speed, activity=1.0):
    film = 0.5 * (t + room["t"]) + 273.15
    p = room["p"]
    rho = 0.5 * (humid(room["t"], p, room["rh"] * saturated(room["t"]))[0] + humid(t, p, activity * saturated(t))[0])
    nu = cp.PropsSI("V", "T", film, "P", p, "Air") / rho
    d = 2.11e-5 * (film / 273.15) ** 1.94 * 101325.0 / p
    re, sc = speed * length / nu, nu / d
    sh = 0.664 * re**0.5 * sc ** (1 / 3) if re <= 5e5 else (0.037 * re**0.8 - 871) * sc ** (1 / 3)
    x_s, x_a = activity * saturated(t) / p, room["rh"] * saturated(room["t"]) / p
    return 3600 * sh * d / length * p / (R * film) * M * np.log((1 - x_a) / (1 - x_s))


def both(t, room, area, speed, activity=1.0):
    e = still(t, room, activity)
    return e if speed == 0 else (e**3 + moving(t, room, area**0.5, speed, activity) ** 3) ** (1 / 3)


def lost_g(points, room, area, speed, activity):
    total = 0.0
    for (a, low), (b, high) in zip(points, points[1:]):
        total += quad(lambda m: both(low + (high - low) * (m - a) / (b - a), room, area, speed, activity) * area / 60, a, b, epsrel=1e-8)[0]
    return 1000 * total


print(f"# Printed by evaporation.py with Python {sys.version.split()[0]}, CoolProp {CoolProp.__version__}, scipy {scipy.__version__}.")
ROOM = dict(t=20.0, rh=0.5, p=101325.0)
for t, printed in zip([40, 50, 60, 65, 70, 75, 80, 85, 90], [0.71, 1.43, 2.60, 3.42, 4.44, 5.70, 7.25, 9.14, 11.43]):
    print(f"\n[[still]]\nwater_c = {t}.0\nair_c = 20.0\nhumidity = 0.5\nactivity = 1.0\nkg_m2_h = {still(t, ROOM):.6g}\nprinted = {printed}")
print(f"\n[[still]]\nwater_c = 75.0\nair_c = 30.0\nhumidity = 0.3\nactivity = 0.9\nkg_m2_h = {still(75, dict(t=30.0, rh=0.3, p=101325.0), 0.9):.6g}")
for t, speed, length in [(40, 0.5, 0.06), (75, 0.4, 1.0), (75, 3.0, 1.0), (60, 5.0, 3.0)]:
    print(f"\n[[moving]]\nwater_c = {t}.0\nspeed_m_s = {speed}\nlength_m = {length}\nkg_m2_h = {moving(t, ROOM, length, speed):.6g}")
beaker, vessel = np.pi * 0.035**2, np.pi * 0.55**2
for name, points, area, speed, activity, printed in [
    ("beaker of 70 mm, 30 min at 75 C", [(0, 75), (30, 75)], beaker, 0.0, 1.0, 10.9),
    ("vessel of 1.1 m, 60 min at 75 C", [(0, 75), (60, 75)], vessel, 0.0, 1.0, 5400),
    ("beaker warmed, held and cooled under a hood", [(0, 22), (15, 78), (40, 78), (120, 35)], beaker, 0.4, 0.97, None),
]:
    print(f'\n[[lost]]\nname = "{name}"\npoints = {[[float(a), float(b)] for a, b in points]}\narea_m2 = {float(area):.9g}\nspeed_m_s = {speed}\nactivity = {activity}')
    print(f"grams = {lost_g(points, ROOM, area, speed, activity):.7g}")
    if printed:
        print(f"printed = {float(printed)}")
