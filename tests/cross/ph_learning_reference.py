"""What a reading of the pH teaches, by the whole posterior: the reference of tests/tests/ph_learning.rs.
Run: python3 tests/cross/ph_learning_reference.py > tests/cross/ph_learning.toml

Water, lactic acid 90 % and sodium hydroxide 10 %. Every hidden number is drawn from its belief (normal), the pH of each draw is solved by bisection of the charge
balance with Davies coefficients, and the draws are weighed by how probable they make the reading. Nothing is straightened, so that the reference also says how
much the straightening costs. The reading is given as a distance from the pH each program finds with nothing moved, so that small differences of the two
equilibria (water activity, coefficient of water) do not matter.
"""
import numpy as np
import scipy
from scipy.stats import norm

DRAWS = 1_500_000
# mol/g of what the papers say, relative standard uncertainty: range of the grade as a uniform spread, 2 % strength beside it.
LACTIC, LACTIC_SPREAD = 0.90 / 90.078, np.hypot(2.0 / 90.0 / np.sqrt(3), 0.02)
SODA, SODA_SPREAD = 0.10 / 39.997, np.hypot(0.2 / 10.0 / np.sqrt(3), 0.02)
PK, PK_SPREAD = 3.863, 0.02
PKW, A, SALTING = 13.995, 0.5100, 0.06
EXCESS, LINE = 0.3e-3, 0.005  # mol/kg, relative
SCATTER, METER, SCALE = 0.01, 0.05, 0.01


def ph_of(lactic, soda, excess, pk, charged, neutral):
    """pH of 100 g with so many mol; charged, neutral: coefficients moved by so many standard uncertainties."""
    def charge(ph, strength):
        root = np.sqrt(strength)
        davies = -A * (root / (1 + root) - 0.3 * strength) + charged * 0.1 * strength
        gamma, gamma0 = 10**davies, 10 ** (SALTING * strength + neutral * 0.1 * strength)
        a = 10.0**-ph
        h, oh = a / gamma, 10**-PKW / a / gamma
        ratio = 10 ** (ph - pk) * gamma0 / gamma
        lactate = lactic * ratio / (1 + ratio)
        return soda + excess + h - oh - lactate, 0.5 * (soda + np.abs(excess) + h + oh + lactate)

    low, high = np.full_like(lactic, 1.0), np.full_like(lactic, 13.0)
    strength = np.maximum(soda, 1e-5)
    for _ in range(55):
        middle = 0.5 * (low + high)
        over, strength_now = charge(middle, strength)
        strength = 0.5 * (strength + strength_now)
        # Too much positive charge: the pH must rise.
        low, high = np.where(over > 0, middle, low), np.where(over > 0, high, middle)
    return 0.5 * (low + high)


class Laboratory:
    def __init__(self, seed):
        self.rng = np.random.default_rng(seed)
        z = self.rng.standard_normal
        self.lactic = np.sqrt(0.5) * z(DRAWS) + np.sqrt(0.5) * z(DRAWS)
        self.soda = np.sqrt(0.5) * z(DRAWS) + np.sqrt(0.5) * z(DRAWS)
        self.excess, self.pk, self.charged, self.neutral = z(DRAWS), z(DRAWS), z(DRAWS), z(DRAWS)
        self.electrode = z(DRAWS) * np.hypot(METER * np.sqrt(0.5), SCALE)
        self.weight = np.ones(DRAWS)

    def reads(self, lactic, soda):
        """What is read of a making with these percents, without scatter, trial by trial."""
        z = self.rng.standard_normal
        water = 100 - lactic - soda + 0.1 * lactic + 0.9 * soda  # g per 100 g of product
        per_kg = 1000 / water
        acid = lactic * LACTIC * (1 + LACTIC_SPREAD * self.lactic) * (1 + LINE * z(DRAWS))
        base = soda * SODA * (1 + SODA_SPREAD * self.soda) * (1 + LINE * z(DRAWS))
        excess = EXCESS * 0.1 * self.excess
        ph = ph_of(acid * per_kg, base * per_kg, excess * per_kg, PK + PK_SPREAD * self.pk, self.charged, self.neutral)
        return ph + self.electrode + METER * np.sqrt(0.5) * z(DRAWS)

    def learn(self, lactic, soda, away):
        at = still(lactic, soda)
        self.weight *= norm.pdf(at + away, self.reads(lactic, soda), SCATTER)

    def moments(self, values):
        mean = np.average(values, weights=self.weight)
        return mean, np.sqrt(np.average((values - mean) ** 2, weights=self.weight))

    def quantiles(self, values, at):
        order = np.argsort(values)
        share = np.cumsum(self.weight[order]) / self.weight.sum()
        return np.interp(at, share, values[order])


def still(lactic, soda):
    water = 100 - lactic - soda + 0.1 * lactic + 0.9 * soda
    per_kg = 1000 / water
    one = np.ones(1)
    return ph_of(lactic * LACTIC * per_kg * one, soda * SODA * per_kg * one, 0 * one, PK * one, 0 * one, 0 * one)[0]


CASES = [
    ("buffered, one reading", [(2.0, 4.5, 0.08)], (2.0, 5.0)),
    ("buffered, three readings of one cause", [(2.0, 4.5, 0.09), (2.5, 6.0, 0.10), (1.5, 3.0, 0.07)], (2.0, 5.0)),
    ("near the end of a titration", [(2.0, 7.7, 0.5)], (2.0, 6.5)),
    ("foretold where it is steep", [(2.0, 6.0, -0.1)], (2.0, 7.9)),
]
print(f"# By ph_learning_reference.py with numpy {np.__version__}, scipy {scipy.__version__}; {DRAWS} draws.")
for at, (name, readings, following) in enumerate(CASES):
    laboratory = Laboratory(20261127 + at)
    for reading in readings:
        laboratory.learn(*reading)
    effective = laboratory.weight.sum() ** 2 / (laboratory.weight**2).sum()
    acid, base = laboratory.moments(100 * LACTIC_SPREAD * laboratory.lactic), laboratory.moments(100 * SODA_SPREAD * laboratory.soda)
    electrode = laboratory.moments(laboratory.electrode)
    ahead = laboratory.reads(*following) + SCATTER * laboratory.rng.standard_normal(DRAWS) - still(*following)
    mean, spread = laboratory.moments(ahead)
    low, middle, high = laboratory.quantiles(ahead, [0.025, 0.5, 0.975])
    print(f'\n[[case]]\nname = "{name}"\neffective_draws = {effective:.0f}')
    print("readings = [" + ", ".join(f"[{a}, {b}, {c}]" for a, b, c in readings) + "]")
    print(f"following = [{following[0]}, {following[1]}]")
    print(f"still = {still(*following):.5f}")
    print(f"lactic_percent = [{acid[0]:.4f}, {acid[1]:.4f}]\nsoda_percent = [{base[0]:.4f}, {base[1]:.4f}]\nelectrode_ph = [{electrode[0]:.5f}, {electrode[1]:.5f}]")
    print(f"ahead = [{mean:.4f}, {spread:.4f}]\nquantiles = [{low:.4f}, {middle:.4f}, {high:.4f}]")
