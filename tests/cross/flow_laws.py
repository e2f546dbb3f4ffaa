"""Laws of temperature and recoveries after shear: writes `flow_temperature.toml` and `flow_recovery.toml`.

Tried with numpy 2.4.6 and scipy 1.17.1. Temperature: residuals ln(model / measured), all curves at once; the curve at T is the one at 25 C pushed
along the shear rate by a(T) (`shear-rate`), or has one parameter times a(T); Arrhenius ln a = Ea/R (1/T - 1/298.15), VFT ln a = B/(T - T0) - B/(298.15 -
T0). Standard errors from J'J at the solution times S/(N - P). Recoveries: invented readings with a deviation of 1 % (numpy's default generator,
seeds below), residuals ln(model / read), limits by the profile as in flow_profiles.py.
"""

from pathlib import Path

import numpy as np
import scipy
from scipy.optimize import brentq, least_squares
from scipy.stats import t as student

from flow_profiles import cross_thinning, read, three

HERE = Path(__file__).parent
GAS = 8.314462618
HEAD = f"# Written by flow_laws.py with numpy {np.__version__} and scipy {scipy.__version__}; what it computes stands there."
TIGHT = {"ftol": 1e-15, "xtol": 1e-15, "gtol": 1e-15, "max_nfev": 20000, "x_scale": "jac"}

WLM = [(f"T_{t}", float(t)) for t in (18, 20, 22, 24, 26, 28)]
CARBOMER = [(f"T_{t}", float(t)) for t in (20, 30, 40)]
JOINT = [
    ("flow/caggioni_wlm_polymer_temp_series.csv", WLM, "cross-thinning", cross_thinning, [5.0, 1.0, 0.6], "shear-rate", "arrhenius", [8e4]),
    ("flow/caggioni_wlm_polymer_temp_series.csv", WLM, "cross-thinning", cross_thinning, [5.0, 1.0, 0.6], 1, "arrhenius", [8e4]),
    ("flow/caggioni_carbomer_glycerin_temp.csv", CARBOMER, "three-component", three, [7.0, 0.008, 1.5], 2, "arrhenius", [5e4]),
    ("flow/caggioni_carbomer_glycerin_temp.csv", CARBOMER, "three-component", three, [7.0, 0.008, 1.5], "shear-rate", "arrhenius", [5e4]),
]
LINEAR = {"cross-thinning": [2], "three-component": []}


def factor(law, constants, kelvin, reference=298.15):
    if law == "arrhenius":
        return constants[0] * 1e4 / GAS * (1.0 / kelvin - 1.0 / reference)
    return np.exp(constants[0]) * (1.0 / (kelvin - constants[1]) - 1.0 / (reference - constants[1]))


def joint(case):
    file, samples, model, function, start, moved, law, constants = case
    curves = [(read(file, name), celsius + 273.15) for name, celsius in samples]
    own = len(start)
    begin = [v if j in LINEAR[model] else np.log(v) for j, v in enumerate(start)]
    begin += [constants[0] / 1e4] if law == "arrhenius" else [np.log(constants[0]), constants[1]]

    def residuals(p):
        parts = []
        for (g, tau), kelvin in curves:
            ln_a = factor(law, p[own:], kelvin)
            q = np.array(p[:own])
            if moved == "shear-rate":
                parts.append(np.log(function(q, g * np.exp(ln_a)) / tau))
            else:
                q[moved] += ln_a
                parts.append(np.log(function(q, g) / tau))
        return np.concatenate(parts)

    def cleaned(p):
        found = residuals(p)
        return np.where(np.isfinite(found), found, 1e3)

    best = least_squares(cleaned, begin, **TIGHT)
    total = 2.0 * best.cost
    degrees = len(best.fun) - len(begin)
    errors = np.sqrt(np.diag(np.linalg.inv(best.jac.T @ best.jac)) * total / degrees)
    values, deviations = [], []
    for j, (value, error) in enumerate(zip(best.x, errors)):
        if j < own and j not in LINEAR[model]:
            values.append(np.exp(value))
            deviations.append(np.exp(value) * error)
        elif j >= own and law == "arrhenius":
            values.append(value * 1e4)
            deviations.append(error * 1e4)
        elif j == own:
            values.append(np.exp(value))
            deviations.append(np.exp(value) * error)
        else:
            values.append(value)
            deviations.append(error)
    moved_text = '"shear-rate"' if moved == "shear-rate" else str(moved)
    return [
        "", "[[joint]]", f'file = "{file}"', f'model = "{model}"', f'law = "{law}"', f"moved = {moved_text}",
        "samples = [" + ", ".join(f'{{ name = "{n}", celsius = {c} }}' for n, c in samples) + "]",
        f"sum = {total:.10g}", f"values = {[float(f'{v:.9g}') for v in values]}",
        f"errors = {[float(f'{v:.6g}') for v in deviations]}",
    ]


def values(law, start):
    """A law through the published viscosities of glycerol, mPa.s."""
    rows = np.loadtxt(HERE.parent / "published" / "glycerol_water_viscosity.csv", delimiter=",", skiprows=1)
    pure = rows[rows[:, 0] == 100.0]
    kelvin, logarithm = pure[:, 1] + 273.15, np.log(pure[:, 2])
    best = least_squares(lambda p: p[0] + factor(law, p[1:], kelvin) - logarithm, start, **TIGHT)
    total = 2.0 * best.cost
    errors = np.sqrt(np.diag(np.linalg.inv(best.jac.T @ best.jac)) * total / (len(kelvin) - len(start)))
    found, deviations = [np.exp(best.x[0])], [np.exp(best.x[0]) * errors[0]]
    if law == "arrhenius":
        found, deviations = [*found, best.x[1] * 1e4], [*deviations, errors[1] * 1e4]
    else:
        found, deviations = [*found, np.exp(best.x[1]), best.x[2]], [*deviations, np.exp(best.x[1]) * errors[1], errors[2]]
    return [
        "", "[[glycerol]]", f'law = "{law}"', f"sum = {total:.10g}", f"values = {[float(f'{v:.9g}') for v in found]}",
        f"errors = {[float(f'{v:.6g}') for v in deviations]}",
    ]


def readings(seed, exponent, count, last):
    time = np.concatenate([[0.0], np.geomspace(1.0, last, count - 1)])
    clean = 12.0 - 9.0 * np.exp(-((time / 40.0) ** exponent))
    return time, clean * np.exp(0.01 * np.random.default_rng(seed).standard_normal(count))


def recovery(seed, exponent, count, last, law):
    time, eta = readings(seed, exponent, count, last)
    begin = [np.log(3.0), np.log(12.0), np.log(40.0)] + ([exponent] if law == "stretched" else [])

    def model(p):
        start, end, tau = np.exp(p[:3])
        return end - (end - start) * np.exp(-((time / tau) ** (p[3] if len(p) > 3 else 1.0)))

    def fit(start, held=None, value=None):
        free = [j for j in range(len(start)) if j != held]

        def whole(q):
            p = np.array(start, dtype=float)
            p[free] = q
            if held is not None:
                p[held] = value
            return p

        found = least_squares(lambda q: np.log(model(whole(q)) / eta), np.array(start)[free], **TIGHT)
        return whole(found.x), 2.0 * found.cost

    best, least = fit(begin)
    degrees = count - len(begin)
    target = least * (1.0 + student.ppf(0.975, degrees) ** 2 / degrees)
    lines = [
        "", "[[recovery]]", f'law = "{law}"', f"time_s = {[float(f'{v:.9g}') for v in time]}",
        f"viscosity_pa_s = {[float(f'{v:.9g}') for v in eta]}", f"sum = {least:.10g}",
    ]
    for j, symbol in enumerate(["eta_start", "eta_end", "tau", "b"][: len(begin)]):
        ends = []
        for side in (-1.0, 1.0):
            warm = best.copy()

            def miss(value, warm=warm):
                p, total = fit(warm, j, value)
                warm[:] = p
                return total - target

            inside, step = best[j], 0.003
            while miss(best[j] + side * step) < 0.0:
                inside, step = best[j] + side * step, step * 1.5
            ends.append(brentq(miss, inside, best[j] + side * step, xtol=1e-12, rtol=1e-12))
        back = (lambda v: v) if symbol == "b" else np.exp
        lines += [
            "[[recovery.parameter]]", f'symbol = "{symbol}"', f"value = {back(best[j]):.9g}",
            f"low = {back(ends[0]):.9g}", f"high = {back(ends[1]):.9g}",
        ]
    return lines + follows(time, model, best, least, degrees)


def follows(time, model, best, least, degrees):
    """What follows from the constants, with 95 % limits by their covariance; derivatives by differences, not by formulas."""

    def slopes(of, at):
        step = 1e-5
        ends = [[of(np.where(np.arange(len(at)) == j, at + side * step, at)) for side in (-1.0, 1.0)] for j in range(len(at))]
        return np.array([(high - low) / (2.0 * step) for low, high in ends])

    jacobian = slopes(lambda p: np.log(model(p)), best).T
    covariance = np.linalg.inv(jacobian.T @ jacobian) * least / degrees
    exponent = lambda p: p[3] if len(p) > 3 else 1.0
    power = lambda p: exponent(p) * (np.log(time[-1]) - p[2])
    last = lambda p: np.log(model(p)[-1])
    tenths = lambda p: p[2] + np.log(np.log(10.0)) / exponent(p)
    factor = student.ppf(0.975, degrees)
    lines = []
    for name, of, back in [
        ("reached", power, lambda v: 1.0 - np.exp(-np.exp(v))),
        ("at_last", last, np.exp),
        ("nine_tenths", tenths, np.exp),
    ]:
        slope = slopes(of, best)
        reach = factor * np.sqrt(slope @ covariance @ slope)
        low, value, high = (back(of(best) + side * reach) for side in (-1.0, 0.0, 1.0))
        lines += ["[[recovery.follows]]", f'what = "{name}"', f"value = {value:.9g}", f"low = {low:.9g}", f"high = {high:.9g}"]
    return lines


def main():
    text = [HEAD]
    for case in JOINT:
        text += joint(case)
    text += values("arrhenius", [6.8, 6.0])
    text += values("vft", [6.8, np.log(1000.0), 190.0])
    (HERE / "flow_temperature.toml").write_text("\n".join(text) + "\n")
    text = [HEAD]
    text += recovery(11, 1.0, 30, 400.0, "first-order")
    text += recovery(12, 0.6, 40, 2000.0, "stretched")
    text += recovery(13, 1.0, 30, 25.0, "first-order")
    (HERE / "flow_recovery.toml").write_text("\n".join(text) + "\n")


if __name__ == "__main__":
    main()
