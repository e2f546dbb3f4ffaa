"""A weighed batch of a citrate and benzoate toner, drawn with the pH solved in every draw: reference for uncertainty_batch.toml.

Run: python uncertainty_batch.py > uncertainty_batch.toml            (numpy 2.4.6)

Nothing of this repository's code is used. The formula is that of the case file (water q.s., 0.30 % sodium benzoate, 0.15 % anhydrous citric
acid, 200 g; water on a 0.1 g balance, the two powders on a 0.01 g balance). Constants, molar masses and the ranges of the grades are those of
data/ (log10 K 4.202, 6.396, 11.157, 14.285; standard uncertainties 0.02, 0.02, 0.03, 0.03; pKw 13.995 (0.003)). The charge balance is solved by
bisection, with Davies coefficients (A = 0.5092 at 25 C) and the ionic strength iterated in every draw.

Model of the draws. Net weight: normal with s = d, plus two roundings of half-width d/2. Contents: benzoate 98.0 to 100.0 about 99.5 (half 1.0),
citric acid 99.5 to 100.0 about 99.7 (half 0.25), the water in them gives way. Constants normal, log10 of the coefficient of a single charge
normal with 0.1 I, of neutral species 0.1 I; neutral benzoic acid otherwise 1, citric acid 10^(0.1 I); pH scale 0.01.
"""

import numpy as np

DRAWS = 1_000_000
A = 0.5092
BENZOATE, CITRIC = 144.105, 192.123
STRENGTH = 0.02319  # of the batch as meant, from a first run; the doubt of the coefficients is 0.1 of it


def weighed(random, grams, division, draws):
    return (grams + division * random.standard_normal(draws)
            + division * (random.random(draws) - 0.5) + division * (random.random(draws) - 0.5))


def solve(masses, contents, constants, charged, neutral):
    """pH and the undissociated share of benzoic acid."""
    water, benzoate, citric = masses
    part_benzoate, part_citric = contents
    kg = (water + benzoate * (1 - part_benzoate) + citric * (1 - part_citric)) / 1000
    total_benzoate = benzoate * part_benzoate / BENZOATE / kg
    total_citrate = citric * part_citric / CITRIC / kg
    k_benzoate, k1, k2, k3, pkw = constants
    low, high = np.full_like(kg, 1.0), np.full_like(kg, 9.0)
    strength = np.full_like(kg, STRENGTH)
    for _ in range(60):
        ph = 0.5 * (low + high)
        for _ in range(4):
            root = np.sqrt(strength)
            ln_gamma = -A * (root / (1 + root) - 0.3 * strength) + charged

            def coefficient(charge, salting=0.1):
                return charge * charge * ln_gamma if charge else salting * strength + neutral

            h = 10 ** (-ph - coefficient(1))
            oh = 10 ** (ph - pkw - coefficient(1))
            bare = coefficient(3)  # log10 a(citrate) = log10 m + this; taken as the unit below
            ratio = [10 ** (k - j * ph - coefficient(3 - j) + bare) for j, k in ((1, k1), (2, k2), (3, k3))]
            citrate = total_citrate / (1 + sum(ratio))
            hcit, h2cit, _h3cit = (citrate * r for r in ratio)
            share = 1 / (1 + 10 ** (ph - k_benzoate + coefficient(0, 0.0) - coefficient(1)))
            benzoate_ion = total_benzoate * (1 - share)
            strength = 0.5 * (h + oh + total_benzoate + benzoate_ion + 9 * citrate + 4 * hcit + h2cit)
        excess = h + total_benzoate - oh - benzoate_ion - 3 * citrate - 2 * hcit - h2cit
        low = np.where(excess > 0, ph, low)
        high = np.where(excess > 0, high, ph)
    return ph, share, strength


def tell(name, values):
    low, high = np.quantile(values, [0.025, 0.975])
    print(f"[{name}]\nmean = {values.mean():.10g}\nstandard = {values.std(ddof=1):.6g}\nlow = {low:.8g}\nhigh = {high:.8g}\n")


def main():
    random = np.random.default_rng(27112026)
    n = DRAWS
    meant = (np.array([199.1]), np.array([0.6]), np.array([0.3]))
    constants = (4.202, 6.396, 11.157, 14.285, 13.995)
    zero = np.zeros(1)
    ph, share, strength = solve(meant, (0.995, 0.997), constants, zero, zero)
    assert abs(strength[0] - STRENGTH) < 1e-4, strength
    masses = (weighed(random, 199.1, 0.1, n), weighed(random, 0.6, 0.01, n), weighed(random, 0.3, 0.01, n))
    contents = (0.995 + 0.01 * (2 * random.random(n) - 1), 0.997 + 0.0025 * (2 * random.random(n) - 1))
    print("# Written by tests/cross/uncertainty_batch.py, which says how.\n")
    print(f"draws = {n}\n")
    print(f"[meant]\nph = {ph[0]:.10g}\nundissociated = {100 * share[0]:.10g}\n")
    making_ph, making_share, _ = solve(masses, contents, constants, np.zeros(n), np.zeros(n))
    tell("making.ph", making_ph)
    tell("making.undissociated", 100 * making_share)
    moved = [k + u * random.standard_normal(n) for k, u in zip(constants, (0.02, 0.02, 0.03, 0.03, 0.003))]
    charged, neutral = (0.1 * STRENGTH * random.standard_normal(n) for _ in range(2))
    all_ph, all_share, _ = solve(masses, contents, moved, charged, neutral)
    tell("all.ph", all_ph + 0.01 * random.standard_normal(n))
    tell("all.undissociated", 100 * all_share)
    amount = 100 * masses[1] * contents[0] / sum(masses) * (122.123 / BENZOATE)
    tell("making.limit", amount)
    shares = 100 * masses[2] / sum(masses)
    print(f"[tolerance]\ncitric_acid_within_5_percent = {np.mean(np.abs(shares / 0.15 - 1) <= 0.05):.6f}")
    print(f"ph_4_15_to_4_25 = {np.mean((making_ph >= 4.15) & (making_ph <= 4.25)):.6f}")


if __name__ == "__main__":
    main()
