"""Reference values for tubes, films, doses, heaps, marks, wedges and drops: scipy's quadrature, root finding and integration, and a finite-volume grid.

Writes flow_use.csv: question, liquid (model and parameters, SI), inputs (name=value, SI), result. Nothing here shares a formula with the
program but the flow curve itself: shear rates are found by root finding at each place, speeds and flows by integrating over the place.

Run: python flow_use.py > flow_use.csv        (made with the versions printed in its first line)
"""

import math
import sys

import numpy
import scipy
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq
from scipy.stats import norm

G0 = 9.80665


def stress(liquid, rate):
    model, p = liquid
    if model == "herschel-bulkley":
        return p[0] + p[1] * rate ** p[2]
    if model == "cross":
        return rate * (p[1] + (p[0] - p[1]) / (1 + (p[2] * rate) ** p[3]))
    if model == "three-component":
        return p[0] + p[0] * math.sqrt(rate / p[1]) + p[2] * rate
    raise ValueError(model)


def yield_of(liquid):
    return liquid[1][0] if liquid[0] != "cross" else 0.0


def rate_at(liquid, tau):
    if tau <= yield_of(liquid):
        return 0.0
    return math.exp(brentq(lambda x: stress(liquid, math.exp(x)) - tau, -80, 40, xtol=1e-13, rtol=1e-14))


def broken(function, low, high, liquid, pull):
    """Integral with the break at the plug taken out."""
    bend = yield_of(liquid) / pull
    parts = [low, bend, high] if low < bend < high else [low, high]
    return sum(quad(function, a, b, epsabs=0, epsrel=1e-11, limit=400)[0] for a, b in zip(parts, parts[1:]))


def film_speed(liquid, pull, h):
    return broken(lambda z: rate_at(liquid, pull * z), 0, h, liquid, pull)


def film_flow(liquid, pull, h):
    return broken(lambda z: z * rate_at(liquid, pull * z), 0, h, liquid, pull)


def tube_flow(liquid, wall, radius):
    # Q = pi integral r^2 g(r) dr, by parts from the speed profile.
    pull = wall / radius
    return math.pi * broken(lambda r: r * r * rate_at(liquid, pull * r), 0, radius, liquid, pull)


def line_pressure(liquid, flow, tubes, lift):
    total = lift
    for radius, length in tubes:
        low = max(yield_of(liquid), 1e-12) * (1 + 1e-9)
        wall = math.exp(brentq(lambda x: tube_flow(liquid, math.exp(x), radius) - flow, math.log(low), 12, xtol=1e-11))
        total += 2 * length * wall / radius
    return total


def dose_front(liquid, pull, per_width, length, time):
    """Finite volumes, upwind; a grid as fine as wanted, the front where the last per mille of the volume begins."""
    start = per_width / length
    thickness = numpy.linspace(0, start * 1.0001, 4001)
    flows = numpy.array([film_flow_fast(liquid, pull, h) for h in thickness])
    fronts = []
    for cells in (1500, 3000):
        reach = length + dose_reach(liquid, pull, per_width, length, start, time)
        dx = 1.15 * reach / cells
        x = (numpy.arange(cells) + 0.5) * dx
        h = numpy.clip((length - (x - 0.5 * dx)) / dx, 0, 1) * start
        speed = numpy.gradient(flows, thickness).max()
        steps = int(math.ceil(time * speed / (0.5 * dx)))
        dt = time / steps
        for _ in range(steps):
            q = numpy.interp(h, thickness, flows)
            h = h - dt / dx * (q - numpy.concatenate(([0.0], q[:-1])))
        gone = numpy.cumsum(h) * dx
        # The shock is smeared over some cells: its place is where the thickness has fallen to half of what stands behind it.
        top = numpy.argmax(h)
        behind = h[top]
        last = top + numpy.argmax(h[top:] < 0.5 * behind)
        fronts.append(x[last] - dx * (0.5 * behind - h[last]) / (h[last - 1] - h[last]))
        assert abs(gone[-1] / per_width - 1) < 1e-6
    return 2 * fronts[1] - fronts[0]


def film_flow_fast(liquid, pull, h):
    wall = pull * h
    if wall <= yield_of(liquid):
        return 0.0
    z, w = numpy.polynomial.legendre.leggauss(60)
    bend = yield_of(liquid) / pull
    y = bend + 0.5 * (h - bend) * (z + 1)
    return float(0.5 * (h - bend) * sum(wi * yi * rate_at(liquid, pull * yi) for wi, yi in zip(w, y)))


def dose_reach(liquid, pull, per_width, length, start, time):
    rest = yield_of(liquid) / pull
    straight = film_flow_fast(liquid, pull, start) / start * time
    return min(straight, per_width / rest) if rest > 0 else min(straight, 100 * length)


def heap(yield_pa, density, volume):
    """Profile of a heap at rest: rho g h dh/dr = -tau0 from the rim inwards, its volume by shells; the radius by root finding."""
    def held(radius):
        # h from the balance, integrated outwards from the middle backwards: start at a thin rim.
        solved = solve_ivp(lambda s, h: yield_pa / (density * G0 * h), (0, radius), [1e-9], rtol=1e-10, atol=1e-14, dense_output=True)
        return quad(lambda r: 2 * math.pi * r * solved.sol(radius - r)[0], 0, radius, epsrel=1e-9, limit=400)[0], solved.y[0][-1]
    radius = brentq(lambda r: held(r)[0] - volume, 1e-4, 1.0, xtol=1e-10)
    return radius, held(radius)[1]


def levelling(liquid, film, wavelength, amplitude, tension, share):
    k = 2 * math.pi / wavelength
    def slope(_, ln_a):
        wall = film * k * math.exp(ln_a[0]) * tension * k * k
        return [-k * film_flow(liquid, wall / film, film) / math.exp(ln_a[0])]
    done = lambda _, ln_a: ln_a[0] - math.log(amplitude * share)
    done.terminal = True
    solved = solve_ivp(slope, (0, 1e9), [math.log(amplitude)], events=done, rtol=1e-9, atol=1e-12)
    return solved.t_events[0][0]


def wedge(eta, speed, length, film, opening):
    """Reynolds' equation: the constant of integration from zero pressure at both ends, the pressure integrated twice."""
    out = 2 * film / (opening + 1)
    h = lambda x: out * opening + (out - out * opening) * x / length
    i2 = quad(lambda x: h(x) ** -2, 0, length, epsrel=1e-12)[0]
    i3 = quad(lambda x: h(x) ** -3, 0, length, epsrel=1e-12)[0]
    flow = 6 * eta * speed * i2 / (12 * eta * i3)
    gradient = lambda x: 6 * eta * speed / h(x) ** 2 - 12 * eta * flow / h(x) ** 3
    pressure = lambda x: quad(gradient, 0, x, epsrel=1e-11)[0]
    return quad(pressure, 0, length, epsrel=1e-10)[0] / length


def gone_lognormal(median, spread, eta, difference, height, time):
    """Closed form with the normal integral, Newtonian liquid."""
    rise = difference * G0 / (18 * eta) * time / height
    through = rise ** -0.5
    m, s = math.log(median), math.log(spread)
    edge = (math.log(through) - m) / s
    return rise * math.exp(2 * m + 2 * s * s) * norm.cdf(edge - 2 * s) + norm.sf(edge)


def gone_curve(liquid, median, spread, difference, height, time):
    """Any liquid without a yield stress: viscosity at the stress of each drop, by quadrature over the sizes."""
    m, s = math.log(median), math.log(spread)
    def gone(z):
        d = math.exp(m + s * z)
        tau = difference * G0 * d / 6
        eta = tau / rate_at(liquid, tau)
        return min(1.0, d * d * difference * G0 / (18 * eta) * time / height)
    edge = brentq(lambda z: gone(z) - (1 - 1e-12), -8, 8) if gone(8) >= 1 and gone(-8) < 1 else 8.0
    part = lambda a, b: quad(lambda z: norm.pdf(z) * gone(z), a, b, epsrel=1e-10, limit=400)[0]
    return part(-8, edge) + part(edge, 8)


def say(question, liquid, inputs, result):
    model = f"{liquid[0]};" + ";".join(repr(v) for v in liquid[1]) if liquid else ""
    given = ";".join(f"{name}={value!r}" for name, value in inputs.items())
    print(f"{question},{model},{given},{result:.10g}", flush=True)


def main():
    print(f"# Python {sys.version.split()[0]}, numpy {numpy.__version__}; scipy {scipy.__version__}")
    print("question,liquid,inputs,result")
    cross = ("cross", [12.0, 0.004, 1.6, 0.78])
    three = ("three-component", [3.1542, 1.4391, 0.03799])
    gel = ("herschel-bulkley", [4.0, 3.0, 0.45])
    power = ("herschel-bulkley", [0.0, 2.5, 0.5])
    thin = ("herschel-bulkley", [0.0, 0.2, 1.0])
    for liquid in (cross, three, gel):
        for h, angle in ((1.2e-3, 90.0), (3e-3, 35.0)):
            pull = 1015.0 * G0 * math.sin(math.radians(angle))
            inputs = {"thickness": h, "density": 1015.0, "angle": angle}
            say("film-speed", liquid, inputs, film_speed(liquid, pull, h))
            say("film-flow", liquid, inputs, film_flow(liquid, pull, h))
        for wall, radius in ((40.0, 1e-3), (250.0, 0.6e-3)):
            say("tube-flow", liquid, {"wall": wall, "radius": radius}, tube_flow(liquid, wall, radius))
        tubes = ((1e-3, 0.11), (0.5e-3, 0.015))
        inputs = {"flow": 4e-7, "r1": 1e-3, "l1": 0.11, "r2": 0.5e-3, "l2": 0.015, "rise": 0.08, "density": 1015.0}
        say("line-pressure", liquid, inputs, line_pressure(liquid, 4e-7, tubes, 1015.0 * G0 * 0.08))
    for liquid in (thin, cross, power, gel):
        pull = 1010.0 * G0 * math.sin(math.radians(45.0))
        inputs = {"volume": 0.5e-6, "width": 0.015, "length": 0.015, "density": 1010.0, "angle": 45.0, "time": 5.0}
        say("dose-front", liquid, inputs, dose_front(liquid, pull, 0.5e-6 / 0.015, 0.015, 5.0))
    for yield_pa, volume in ((0.8, 0.5e-6), (8.0, 2e-6)):
        radius, height = heap(yield_pa, 1010.0, volume)
        say("heap-radius", None, {"yield": yield_pa, "density": 1010.0, "volume": volume}, radius)
        say("heap-height", None, {"yield": yield_pa, "density": 1010.0, "volume": volume}, height)
    for liquid in (thin, power, cross):
        inputs = {"film": 60e-6, "wavelength": 2e-3, "amplitude": 12e-6, "tension": 0.03, "share": 0.1}
        say("levelling", liquid, inputs, levelling(liquid, 60e-6, 2e-3, 12e-6, 0.03, 0.1))
    for opening in (1.5, 2.2):
        inputs = {"speed": 0.1, "film": 80e-6, "length": 0.015, "opening": opening}
        say("wedge", thin, inputs, wedge(0.2, 0.1, 0.015, 80e-6, opening))
    for median, spread, eta in ((5e-6, 1.6, 20.0), (12e-6, 2.2, 3.0)):
        liquid = ("herschel-bulkley", [0.0, eta, 1.0])
        inputs = {"median": median, "spread": spread, "difference": 80.0, "height": 0.1, "time": 6.3e7}
        say("gone", liquid, inputs, gone_lognormal(median, spread, eta, 80.0, 0.1, 6.3e7))
    for liquid in (cross,):
        inputs = {"median": 20e-6, "spread": 1.8, "difference": 80.0, "height": 0.1, "time": 6.3e7}
        say("gone", liquid, inputs, gone_curve(liquid, 20e-6, 1.8, 80.0, 0.1, 6.3e7))


main()
