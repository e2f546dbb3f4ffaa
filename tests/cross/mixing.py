"""Stirring and scale-up by an independent program: numpy and scipy.

Writes tests/cross/mixing.toml. Power numbers by the equations collected by Furukawa and others (Int. J. Chem. Eng. 2012, 106496), viscosity of a
Herschel-Bulkley liquid at the mean shear rate of Metzner and Otto, blend time by Grenville, vortex of Rankine with the core of Nagata and its
volume by quadrature, Zwietering's speed; the speeds of the scale-up rules by brentq.

python3 tests/cross/mixing.py > tests/cross/mixing.toml
"""
import random
import sys

import numpy as np
import scipy
from scipy.integrate import quad
from scipy.optimize import brentq

G = 9.80665
KS = {"flat": 11.0, "pitched": 11.5}


def unbaffled(d, D, H, b, n, a, re):
    r = d / D
    beta = 2 * np.log(D / d) / (D / d - d / D)
    eta = 0.711 * (0.157 + (n * np.log(D / d)) ** 0.611) / (n**0.52 * (1 - r**2))
    gamma = (eta * np.log(D / d) / (beta * D / d) ** 5) ** (1 / 3)
    x = gamma * n**0.7 * b * np.sin(a) ** 1.6 / H
    reg = np.pi * eta * np.log(D / d) / (4 * d / (beta * D)) * re
    cl = 0.215 * eta * n * (d / H) * (1 - r**2) + 1.83 * (b * np.sin(a) / H) * (n / 2) ** (1 / 3)
    ct = ((1.96 * x**1.19) ** -7.8 + 0.25**-7.8) ** (-1 / 7.8)
    m = ((0.71 * x**0.373) ** -7.8 + 0.333**-7.8) ** (-1 / 7.8)
    ctr = 23.8 * r**-3.24 * (b * np.sin(a) / D) ** -1.18 * x**-0.74
    finf = 0.0151 * r * ct**0.308
    f = cl / reg + ct * (1 / (ctr / reg + reg) + (finf / ct) ** (1 / m)) ** m
    return 1.2 * np.pi**4 * beta**2 / (8 * d**3 / (D**2 * H)) * f


def power_number(pot, re):
    d, D, H, b, n, a, nb, bw = (pot[k] for k in ("d", "D", "H", "b", "n", "a", "nb", "bw"))
    p0 = unbaffled(d, D, H, b, n, a, re)
    if nb == 0:
        return p0
    y = n**0.7 * b / d
    share = 2 * a / np.pi
    if pot["deg"] == 90:
        most = 10 * y**1.3 if y <= 0.54 else 8.3 * y if y <= 1.6 else 10 * y**0.6
    else:
        most = 8.3 * share**0.9 * y * np.sin(a) ** 1.6
    x = 4.5 * (bw / D) * nb**0.8 / (share**0.72 * most**0.2) + p0 / most
    return max(most * (1 + x**-3) ** (-1 / 3), p0)


def stirred(pot, liquid, N):
    tau0, K, index = liquid
    g = KS[pot["kind"]] * N
    mu = tau0 / g + K * g ** (index - 1)
    rho, d, D, H = pot["rho"], pot["d"], pot["D"], pot["H"]
    re = rho * N * d**2 / mu
    np_ = power_number(pot, re)
    P = np_ * rho * N**3 * d**5
    C = np_ ** (1 / 3) * re
    V = np.pi / 4 * D**2 * H
    blend = None
    if C >= 200:
        blend = max(5.20 / C, (183 / C) ** 2) * rho * D**1.5 * H**0.5 / mu
    depth = below = 0.0
    if pot["nb"] == 0 and re >= 300:
        rc = d / 2 * 1.23 * (0.57 + 0.35 * d / D) * (pot["b"] / D) ** 0.036 * pot["n"] ** 0.116 * re / (1000 + 1.43 * re)
        R = D / 2
        rc = min(rc, R)
        w = 2 * np.pi * N

        def surface(r):
            return w**2 * r**2 / (2 * G) if r < rc else w**2 * rc**2 / (2 * G) * (2 - rc**2 / r**2)

        depth = surface(R)
        below = (quad(lambda r: 2 * np.pi * r * surface(r), 0, rc)[0] + quad(lambda r: 2 * np.pi * r * surface(r), rc, R)[0]) / (np.pi * R**2)
    return dict(re=re, mu=mu, np=np_, P=P, pv=P / V, C=C, blend=blend, depth=depth, below=below, fr=N**2 * d / G,
                tip=np.pi * N * d, js=N * d**0.85 / (mu / rho) ** 0.1)


def rule(name, s):
    return {"power-per-volume": s["pv"], "tip-speed": s["tip"], "blend-time": None if s["blend"] is None else 1 / s["blend"],
            "reynolds": s["re"], "froude": s["fr"], "just-suspended": s["js"]}[name]


def pot_of(rng, scale):
    D = scale * rng.uniform(0.9, 1.1)
    d = D * rng.uniform(0.3, 0.6)
    deg = rng.choice([30, 45, 60, 90])
    baffled = rng.random() < 0.6
    return dict(D=D, H=D * rng.uniform(0.8, 1.2), d=d, b=d * rng.uniform(0.15, 0.3), n=rng.choice([2, 3, 4, 6]), deg=deg, a=np.radians(deg),
                kind="flat" if deg == 90 else "pitched", nb=rng.choice([3, 4]) if baffled else 0, bw=0.1 * D if baffled else 0.0,
                rho=rng.uniform(950, 1150))


def toml_pot(p):
    return ("{ vessel_m = %.12g, depth_m = %.12g, impeller_m = %.12g, blade_m = %.12g, blades = %d, angle_deg = %d, baffles = %d, baffle_m = %.12g, "
            "density = %.12g }" % (p["D"], p["H"], p["d"], p["b"], p["n"], p["deg"], p["nb"], p["bw"], p["rho"]))


def rounded(p):
    q = dict(p)
    for k in ("D", "H", "d", "b", "bw", "rho"):
        q[k] = float("%.12g" % p[k])
    return q


def main():
    rng = random.Random(4)
    print(f"# Written by tests/cross/mixing.py with Python {sys.version.split()[0]}, numpy {np.__version__}, scipy {scipy.__version__}.")
    for _ in range(60):
        pot = rounded(pot_of(rng, rng.choice([0.07, 0.3, 1.1])))
        liquid = (rng.choice([0.0, 0.0, 3.0, 20.0]), 10 ** rng.uniform(-3, 1.3), rng.uniform(0.3, 1.0))
        liquid = tuple(float("%.12g" % v) for v in liquid)
        N = float("%.12g" % 10 ** rng.uniform(-0.5, 1.5))
        s = stirred(pot, liquid, N)
        print("\n[[stirred]]")
        print("pot =", toml_pot(pot))
        print("liquid = [%.12g, %.12g, %.12g]" % liquid)
        print("speed = %.12g" % N)
        for key, name in (("re", "reynolds"), ("mu", "viscosity"), ("np", "power_number"), ("P", "power"), ("depth", "vortex"), ("below", "below_rest")):
            print(f"{name} = {float(s[key]):.12e}")
        if s["blend"] is not None:
            print(f"blend = {float(s['blend']):.12e}")
    names = ["power-per-volume", "tip-speed", "blend-time", "reynolds", "froude", "just-suspended"]
    made = 0
    while made < 60:
        bench = rounded(pot_of(rng, 0.07))
        plant = rounded(pot_of(rng, rng.choice([0.3, 1.1])))
        plant["rho"] = bench["rho"]
        liquid = (rng.choice([0.0, 0.0, 3.0]), 10 ** rng.uniform(-3, 0.8), rng.uniform(0.35, 1.0))
        liquid = tuple(float("%.12g" % v) for v in liquid)
        N = float("%.12g" % rng.uniform(3, 25))
        name = names[made % 6]
        kept = rule(name, stirred(bench, liquid, N))
        if kept is None:
            continue

        def miss(logn):
            there = rule(name, stirred(plant, liquid, np.exp(logn)))
            return -100.0 if there is None else np.log(there) - np.log(kept)

        found = np.exp(brentq(miss, np.log(1e-5), np.log(1e4), xtol=1e-13, rtol=1e-13))
        if abs(miss(np.log(found))) > 1e-6:
            continue
        made += 1
        print("\n[[scaled]]")
        print(f'rule = "{name}"')
        print("bench =", toml_pot(bench))
        print("plant =", toml_pot(plant))
        print("liquid = [%.12g, %.12g, %.12g]" % liquid)
        print("speed = %.12g" % N)
        print(f"found = {float(found):.12e}")
    for _ in range(6):
        S, nu, dp, rho, rhop, X, d = rng.uniform(4, 8), 10 ** rng.uniform(-6, -4), 10 ** rng.uniform(-5, -3), 1000.0, rng.uniform(1100, 2600), rng.uniform(0.1, 20), rng.uniform(0.03, 0.6)
        S, nu, dp, rhop, X, d = (float("%.12g" % v) for v in (S, nu, dp, rhop, X, d))
        n = S * nu**0.1 * dp**0.2 * (G * (rhop - rho) / rho) ** 0.45 * X**0.13 / d**0.85
        print("\n[[suspended]]")
        print(f"constant = {S:.12g}\nnu = {nu:.12g}\ngrain_m = {dp:.12g}\ndensity = {rho}\ngrain_density = {rhop:.12g}\npercent = {X:.12g}\nimpeller_m = {d:.12g}\nspeed = {n:.12e}")


main()
