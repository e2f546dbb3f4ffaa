"""Speed of one four-parameter Cross fit of 20 points from one start: the reference library, and our own in between.

Reference only: `python bench_flow_reference.py` with numpy and scipy (tried with 2.4.6 and 1.17.1), on a quiet machine. The points are
those of `tests/benches/cross_curve.csv`: eta0 10 Pa.s, eta_inf 0.01 Pa.s, lambda 2 s, m 0.7, with a deviation of 2 % (numpy's default
generator, seed 3), written by `--write`. Both sides search ln(eta0), ln(eta_inf), ln(lambda), m with residuals ln(model / measured) and the
analytic derivatives, from the same start, to a relative change of the sum of squares or of the parameters of 1e-8, which is what
MINPACK's users take by default. The best of five runs of the reference is compared with the median of our benchmark.
"""

import re
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import scipy
from scipy.optimize import least_squares, leastsq

CURVE = Path(__file__).parent.parent / "benches" / "cross_curve.csv"
START = np.array([np.log(12.0), np.log(0.02), np.log(0.3), 0.8])
TOLERANCE = 1e-8


def model(p, ln_rate):
    """ln(viscosity) and its derivatives by the four parameters of the search."""
    rest, high = np.exp(p[0]), np.exp(p[1])
    x = p[2] + ln_rate
    power = np.exp(p[3] * x)
    share = 1.0 / (1.0 + power)
    viscosity = high + (rest - high) * share
    turned = -(rest - high) * share * share * power / viscosity
    slopes = np.stack([rest * share / viscosity, high * (1.0 - share) / viscosity, turned * p[3], turned * x], axis=1)
    return np.log(viscosity), slopes


def write() -> None:
    rates = np.geomspace(1e-2, 1e3, 20)
    ln_viscosity, _ = model(np.array([np.log(10.0), np.log(0.01), np.log(2.0), 0.7]), np.log(rates))
    noisy = np.exp(ln_viscosity + 0.02 * np.random.default_rng(3).standard_normal(20)) * rates
    lines = ["shear_rate_per_s,stress_pa"] + [f"{rate:.9g},{stress:.9g}" for rate, stress in zip(rates, noisy)]
    CURVE.write_text("\n".join(lines) + "\n")


def reference(ln_rate, ln_measured) -> dict[str, float]:
    """Fits per second of processor time."""

    def residuals(p):
        return model(p, ln_rate)[0] - ln_measured

    def slopes(p):
        return model(p, ln_rate)[1]

    ways = {
        "leastsq (MINPACK), analytic derivatives": lambda: leastsq(
            residuals, START, Dfun=slopes, ftol=TOLERANCE, xtol=TOLERANCE, gtol=0.0
        )[0],
        "leastsq (MINPACK), differences": lambda: leastsq(residuals, START, ftol=TOLERANCE, xtol=TOLERANCE, gtol=0.0)[0],
        "least_squares (lm), analytic derivatives": lambda: least_squares(
            residuals, START, jac=slopes, method="lm", ftol=TOLERANCE, xtol=TOLERANCE
        ).x,
    }
    speeds = {}
    for name, fit in ways.items():
        best = 0.0
        for _ in range(5):
            start = time.process_time()
            for _ in range(300):
                found = fit()
            best = max(best, 300 / (time.process_time() - start))
        speeds[name] = best
        shown = [float(f"{value:.6g}") for value in (*np.exp(found[:3]), found[3])]
        print(f"{name}: {best:.0f} per second of processor time; eta0, eta_inf, lambda, m = {shown}")
    return speeds


def ours_in_seconds() -> dict[str, float]:
    """Median time of every benchmark, from what criterion prints."""
    command = ["cargo", "bench", "-q", "-p", "levigate-evidence", "--bench", "flow", "--", "--noplot"]
    printed = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    print(printed)
    units = {"ns": 1e-9, "µs": 1e-6, "ms": 1e-3, "s": 1.0}
    pattern = r"(?m)^(\S[^\n]*?)\s+time:\s+\[\S+ \S+ (\S+) (\S+) "
    return {name.strip(): float(value) * units[unit] for name, value, unit in re.findall(pattern, printed)}


def main() -> None:
    if "--write" in sys.argv:
        write()
        return
    points = np.loadtxt(CURVE, delimiter=",", skiprows=1)
    ln_rate = np.log(points[:, 0])
    ln_measured = np.log(points[:, 1] / points[:, 0])
    print(f"scipy {scipy.__version__}, numpy {np.__version__}")
    before = reference(ln_rate, ln_measured)
    ours = ours_in_seconds()
    after = reference(ln_rate, ln_measured)
    best = max(*before.values(), *after.values())
    for name, seconds in ours.items():
        ratio = f", {1 / seconds / best:.1f} times the best of the reference" if name.startswith("Cross") else ""
        print(f"{name}: {1 / seconds:.0f} per second{ratio}")


if __name__ == "__main__":
    main()
