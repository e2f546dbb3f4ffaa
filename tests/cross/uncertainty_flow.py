"""Two weighed batches whose viscosity bends along a weighing, drawn with the laws of flow solved in every draw: reference for uncertainty_flow.toml.

Run: python uncertainty_flow.py > uncertainty_flow.toml            (numpy 2.4.6)

Nothing of this repository's code is used. Both batches are 100 g, every line on a 0.1 g balance (net weight: normal with s = d, plus two
roundings of half-width d/2, never below nothing).

steep   0.80 % hydroxyethylcellulose (90 to 98 % of polymer about 95, half-range 4, even), the rest water; viscosity at 10 1/s.
        Disordered chain whose plateau grows with the eighth power: eta_p0 = eta_s ((1 + x/8)^8 - 1), x = [eta] c; stress of onset t c^q;
        tau_p = eta_p0 r / (1 + (r eta_p0 / (t c^q))^m). ln [eta] = ln 9 (0.15), ln t = ln 20 (0.3), q = 1, m = 0.68 (0.05); the law
        itself 0.1 in ln tau, by the share of the polymer in the stress.
gel     0.80 % of a sulfonated copolymer (92 to 99 % about 96, half-range 3.5), 0.30 % sodium chloride (99 to 100 % about 99.5, half 0.5), the
        rest water; the dial of a disc of 27 mm at 20 rpm. Swollen particles: tau_y = t c^1.2 N / (1 + I/I_h), N = 1/(1 + 0.12^3) of full charge, tau = tau_y (1 + (r/(g eta_w/eta_s))^n).
        ln t = ln 40 (0.2), ln g = ln 9 (0.4), n = 0.45 (0.04), ln I_h = ln 0.015 (0.3); the law itself 0.3.

Doses are g per dL of water phase, by the density that the materials' own densities give when their volumes add up (0.99979 and 1.00072 g/mL,
taken as inputs). Viscosity of water at 25 C after Cheng (2008), standard deviation of its logarithm 0.01. The water in the powders gives way to
what a lot holds more or less of. The ionic strength is that of the salt.

The dial: stress of 0.539 Pa for each percent of the full torque, shear rate k_N(n) for each rpm by straight lines over the table below, n the
local slope of ln tau over ln r by central differences, ln r found by bisection; full scale 200 Pa s rpm (data/methods/spindles.toml).
"""

import numpy as np

DRAWS = 1_000_000
WATER = 1.790e-3 * np.exp((-1230 - 25.0) * 25.0 / (36100 + 360 * 25.0))
RATES = np.array([1.492, 0.892, 0.658, 0.529, 0.445, 0.387, 0.343, 0.310, 0.283, 0.262])
NACL = 58.44


def weighed(random, grams, division, draws):
    net = (grams + division * random.standard_normal(draws)
           + division * (random.random(draws) - 0.5) + division * (random.random(draws) - 0.5))
    return np.maximum(net, 0.0)


def even(random, middle, half, draws):
    return middle + half * (2 * random.random(draws) - 1)


def steep(masses, contents, theta, solvent, law):
    water, powder = masses
    dose = np.maximum(100 * powder * contents[0] / (water + powder) / (100 / 0.9997928248853096) * 100, 1e-9)
    ln_intrinsic, ln_t, m = theta
    eta_s = WATER * np.exp(solvent)
    plateau = eta_s * ((1 + np.exp(ln_intrinsic) * dose / 8) ** 8 - 1)
    rate = 10.0
    added = plateau / (1 + (rate * plateau / (np.exp(ln_t) * dose)) ** m)
    return np.log(1000 * (eta_s + added)) + law, added / (eta_s + added)


def gel(masses, contents, theta, solvent, law):
    water, powder, salt = masses
    total = water + powder + salt
    polymer, nacl = contents
    dose = np.maximum(100 * powder * polymer / total / (100 / 1.0007204823802789) * 100, 1e-9)
    kg = (water + powder * (1 - polymer) + salt * (1 - nacl)) / 1000
    strength = salt * nacl / NACL / kg
    ln_t, ln_g, n, ln_half = theta
    eta_s = WATER * np.exp(solvent)
    tau_y = np.exp(ln_t) * dose ** 1.2 / (1 + 0.12 ** 3) / (1 + strength / np.exp(ln_half))
    critical = np.exp(ln_g) * WATER / eta_s

    def stress(rate):
        return eta_s * rate + tau_y * (1 + (rate / critical) ** n)

    def per_rpm(index):
        place = np.clip(index, 0.1, 1.0) * 10 - 1
        below = np.minimum(np.floor(place).astype(int), 8)
        share = place - below
        return RATES[below] * (1 - share) + RATES[below + 1] * share

    low, high = np.full_like(dose, np.log(0.1)), np.full_like(dose, np.log(1000.0))
    for _ in range(50):
        middle = 0.5 * (low + high)
        rate = np.exp(middle)
        index = np.log(stress(rate * 1.0005) / stress(rate / 1.0005)) / (2 * np.log(1.0005))
        beyond = np.log(per_rpm(index) * 20) < middle
        high = np.where(beyond, middle, high)
        low = np.where(beyond, low, middle)
    tau = stress(np.exp(0.5 * (low + high)))
    added = tau - eta_s * np.exp(low)
    return np.log(1000 * tau / 0.539 / 100 * 200.0 / 20) + law, added / tau


def tell(name, values):
    low, high = np.quantile(values, [0.025, 0.975])
    print(f"[{name}]\nmean = {values.mean():.8g}\nstandard = {values.std(ddof=1):.6g}\nlow = {low:.7g}\nhigh = {high:.7g}\n")


def case(random, name, model, grams, contents, theta, spreads, law):
    n = DRAWS
    one = np.ones(1)
    meant, share = model([one * g for g in grams], [one * a for a, _ in contents], [one * t for t in theta], 0 * one, 0 * one)
    masses = [weighed(random, g, 0.1, n) for g in grams]
    lots = [even(random, a, half, n) for a, half in contents]
    fixed = [np.full(n, t) for t in theta]
    making, _ = model(masses, lots, fixed, np.zeros(n), np.zeros(n))
    moved = [t + u * random.standard_normal(n) for t, u in zip(theta, spreads)]
    everything, _ = model(masses, lots, moved, 0.01 * random.standard_normal(n), law * share * random.standard_normal(n))
    # To first order along the weighings and the lots, for the comparison alone.
    variance = 0.0
    for place in range(len(grams) + len(contents)):
        def at(off):
            moved_masses = [one * g for g in grams]
            moved_lots = [one * a for a, _ in contents]
            if place < len(grams):
                moved_masses[place] = moved_masses[place] + off
            else:
                moved_lots[place - len(grams)] = moved_lots[place - len(grams)] + off
            return model(moved_masses, moved_lots, [one * t for t in theta], 0 * one, 0 * one)[0][0]
        u = np.sqrt(0.1**2 + 2 * 0.1**2 / 12) if place < len(grams) else contents[place - len(grams)][1] / np.sqrt(3)
        step = 0.01 * u
        variance += ((at(step) - at(-step)) / (2 * step) * u) ** 2
    print(f"[{name}]\nmeant = {meant[0]:.9g}\nfirst_order = {np.sqrt(variance):.6g}\n")
    tell(f"{name}.making", making)
    tell(f"{name}.all", everything)


def main():
    random = np.random.default_rng(27112026)
    print("# Written by tests/cross/uncertainty_flow.py, which says how. Natural logarithms of mPa s.\n")
    print(f"draws = {DRAWS}\n")
    case(random, "steep", steep, (99.2, 0.8), ((0.95, 0.04),), (np.log(9), np.log(20), 0.68), (0.15, 0.3, 0.05), 0.1)
    case(random, "gel", gel, (98.9, 0.8, 0.3), ((0.96, 0.035), (0.995, 0.005)),
         (np.log(40), np.log(9), 0.45, np.log(0.015)), (0.2, 0.4, 0.04, 0.3), 0.3)


if __name__ == "__main__":
    main()
