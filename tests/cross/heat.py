"""Batches that warm and cool, by scipy's solve_ivp (LSODA) with water and moist air of CoolProp.

    python3 heat.py > heat.toml

Evaporation is that of evaporation.py beside it; films of stirred vessels and losses are written here once more.
"""

import contextlib
import io
import sys
import CoolProp
import CoolProp.CoolProp as cp
import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

with contextlib.redirect_stdout(io.StringIO()):
    from evaporation import both

SIGMA = 5.670374419e-8
R = 8.314462618
ROOM = dict(t=22.0, rh=0.5, p=101325.0)


def water(what, t):
    return cp.PropsSI(what, "T", t + 273.15, "Q", 0, "Water")


def latent(t):
    return cp.PropsSI("H", "T", t + 273.15, "Q", 1, "Water") - water("H", t)


def losses(t, wall_m2, area, open_part, room=ROOM, h_wall=10.0, h_surface=5.0, emissivity=0.95):
    over = t - room["t"]
    evaporated = both(t, room, area, 0.0) / 3600 * area * open_part if open_part else 0.0
    radiated = emissivity * SIGMA * area * open_part * ((t + 273.15) ** 4 - (room["t"] + 273.15) ** 4)
    return h_wall * wall_m2 * over + h_surface * area * over + radiated + evaporated * latent(t), evaporated


def until(rates, start, to):
    sign = 1 if to > start[0] else -1
    event = lambda t, y: sign * (y[0] - to)
    event.terminal = True
    found = solve_ivp(rates, (0, 3e6), start, method="LSODA", rtol=1e-9, atol=1e-9, events=event)
    return found.t_events[0][0], found.y_events[0][0]


def case(name, **fields):
    print(f'\n[[case]]\nname = "{name}"')
    for key, value in fields.items():
        print(f"{key} = {float(format(value, '.9g'))!r}")


print(f"# Printed by heat.py with Python {sys.version.split()[0]}, CoolProp {CoolProp.__version__}, scipy {scipy.__version__}.")

# A beaker of 70 mm on a plate, open: 200 g of water, 22 to 75 C; then switched off until it no longer warms.
area = np.pi * 0.035**2
side = np.pi * 0.07 * (0.2 / 975 / area)
power, plate_j_k, contact, plate_loss = 300.0, 900.0, 300.0 * area, 1.0
def plate(on):
    def rates(t, y):
        batch, hot, water_kg = y
        given = contact * (hot - batch)
        lost, evaporated = losses(batch, side, area, 1.0)
        used = on * power * np.clip((300.0 - hot) / 5.0, 0, 1)
        return [(given - lost) / (0.2 * water("C", batch) + 30.0), (used - given - plate_loss * (hot - ROOM["t"])) / plate_j_k, evaporated]
    return rates
time, y = until(plate(1), [22.0, 22.0, 0.0], 75.0)
rest = solve_ivp(plate(0), (0, 4000), y, method="LSODA", rtol=1e-9, atol=1e-9, dense_output=True)
peak = rest.sol(np.linspace(0, 4000, 400001))[0].max()
case("plate", area_m2=area, side_m2=side, time_s=time, water_g=1000 * y[2], peak_c=peak)

# The same, 40 W only: where it settles.
def settled(batch):
    hot = brentq(lambda hot: 40.0 - contact * (hot - batch) - plate_loss * (hot - ROOM["t"]), -50, 900)
    return contact * (hot - batch) - losses(batch, side, area, 1.0)[0]
case("weak-plate", settles_c=brentq(settled, 22, 95))

# One tonne of a shear-thinning batch in a jacket with finite flow.
m, jacket_m2, d_i, d_v, rpm, ks = 1000.0, 4.41, 0.45, 1.1, 60.0, 11.5
surface = np.pi * 0.55**2
def viscosity(t):
    return 3.0 * (ks * rpm / 60) ** (0.4 - 1) * np.exp(18000 / R * (1 / (t + 273.15) - 1 / 298.15))
def film(t, wall):
    mu, k, c, rho = viscosity(t), water("L", t), water("C", t), water("D", t)
    re, pr = rho * rpm / 60 * d_i**2 / mu, c * mu / k
    return 0.53 * re ** (2 / 3) * pr ** (1 / 3) * (mu / viscosity(wall)) ** 0.14 * k / d_v
def overall(t, jacket):
    other = 0.006 / 15.0 + 0.0002 + 1 / 3000.0
    def miss(wall):
        h = film(t, wall)
        return (jacket - t) / (1 / h + other) / h - (wall - t)
    wall = brentq(miss, min(t, jacket) - 1e-9, max(t, jacket) + 1e-9) if abs(jacket - t) > 1e-6 else t
    return 1 / (1 / film(t, wall) + other)
def jacket(in_c, flow_kg_h):
    w = flow_kg_h / 3600 * 4180.0 if flow_kg_h else None
    def rates(t, y):
        ua = overall(y[0], in_c) * jacket_m2
        q = (w * (1 - np.exp(-ua / w)) if w else ua) * (in_c - y[0])
        lost, evaporated = losses(y[0], 0.0, surface, 0.2)
        return [(q + 300.0 - lost) / (m * water("C", y[0]) + 50000.0), evaporated]
    return rates
time, y = until(jacket(95.0, 12000.0), [20.0, 0.0], 75.0)
case("jacket-up", time_s=time, water_g=1000 * y[1])
time, y = until(jacket(15.0, None), [75.0, 0.0], 40.0)
case("jacket-down", time_s=time, water_g=1000 * y[1])
case("film", at_c=50.0, wall_c=80.0, inside=film(50.0, 80.0), overall=overall(50.0, 95.0))

# Free cooling of a 70 mm beaker and of a tonne, 75 to 40 C. `printed_h` are the hours of the table the cases were taken from; it does not say all
# of its geometry.
tonne_side = np.pi * 1.1 * (1000 / 975 / surface)
for name, kg, wall, top, open_part, printed in [
    ("beaker-open", 0.2, side, area, 1.0, 0.81), ("beaker-covered", 0.2, side, area, 0.0, 1.84),
    ("tonne-open", 1000.0, tonne_side, surface, 1.0, 15.4), ("tonne-covered", 1000.0, tonne_side, surface, 0.0, 32.7),
]:
    def rates(t, y):
        lost, evaporated = losses(y[0], wall, top, open_part)
        return [-lost / (kg * water("C", y[0])), evaporated]
    time, y = until(rates, [75.0, 0.0], 40.0)
    case(name, mass_kg=kg, side_m2=wall, area_m2=top, open=open_part, time_s=time, water_g=1000 * y[1], printed_h=printed)

# What flows through a jacket comes back: its temperature marched along the wall in a hundred thousand steps, for a batch of one temperature. Case
# with a constant coefficient of 350 W/(m2 K), 4.41 m2, 12 t/h of a liquid of 4180 J/(kg K) fed with 95 C.
for at in (20.0, 75.0):
    celsius, flow_w_k, steps = 95.0, 12000.0 / 3600.0 * 4180.0, 100_000
    for _ in range(steps):
        celsius -= 350.0 * (4.41 / steps) * (celsius - at) / flow_w_k
    case(f"jacket-returns-{at:.0f}", batch_c=at, flow_w_k=flow_w_k, returns_c=celsius)
