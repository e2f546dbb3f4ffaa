"""Charge balances for two points of scenarios.toml on which this program and the author of the scenarios part.

Reference only, nothing to install: `python scenario_charge_balance.py` (Python 3.11.7). Concentrations per kg of product, 25 C, Davies
coefficients, as the author works; nothing of this repository is used. Its output stands below and is quoted in scenarios.toml.

1.5  pH of 0.40 % carbomer (72.06 g per acid group) alone and with 5.00 % niacinamide (122.12 g/mol, pKa of its cation 3.35), one pKa for
     all acid groups. Which single pKa gives the author's 2.9 to 3.1, and which his 4.5 to 4.7? And what does his 5.5 to 6.5 give?
2.2  free glycolic acid (76.05 g/mol, 7.00 %) at pH 3.80: pKa 3.83 per kg of product as the author works, or 3.834 per kg of water, of which
     there is 0.79 kg in a kg of product; coefficient of the free acid one, or 10^(k I) with a salting-out constant k in kg/mol.
3.1  g/kg of 10 % sodium hydroxide to bring 15.20 % ascorbic acid (176.12 g/mol), 0.50 % ferulic acid (194.18, pKa 4.58) and 0.10 % disodium
     EDTA (372.24; 2.69 and 6.13 of its last but one steps at 0.1 mol/L) to pH 3.2, without and with 0.40 % sodium benzoate (144.10, pKa 4.20).
"""

from math import log10, sqrt


def coefficient(strength: float) -> float:
    root = sqrt(strength)
    return 10.0 ** (-0.5092 * (root / (1.0 + root) - 0.3 * strength))


def root_of(function, low: float, high: float) -> float:
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if function(middle) < 0.0 else (low, middle)
    return 0.5 * (low + high)


def carbomer_ph(pka: float, niacinamide: float) -> float:
    """One pKa for all groups (an apparent constant: no coefficient of its own); the ions beside the chain are H+ and the cation."""
    groups = 4.0 / 72.06

    def excess(ph: float) -> float:
        strength = 1e-3
        for _ in range(50):
            gamma = coefficient(strength)
            proton = 10.0**-ph / gamma
            cation = niacinamide / (1.0 + 10.0 ** (ph - 3.35) * gamma)
            strength = 0.5 * (proton + cation)
        return groups / (1.0 + 10.0 ** (pka - ph)) - proton - cation

    return root_of(excess, 1.0, 9.0)


def base_g_per_kg(ascorbic_pka: float, benzoate: float, ph: float = 3.2) -> float:
    ascorbic, ferulic, edta, h = 152.0 / 176.12, 5.0 / 194.18, 1.0 / 372.24, 10.0**-ph
    strength = 0.1
    for _ in range(50):
        gamma = coefficient(strength)

        def share(pka: float) -> float:
            return 1.0 / (1.0 + 10.0 ** (pka - ph) * gamma)

        # H2EDTA-2 as added; at this pH a fifth of it has taken up one proton (2.69 at 0.1 mol/L), almost none has lost one.
        edta_protons = edta / (1.0 + 10.0 ** (ph - 2.69))
        ascorbate, ferulate = ascorbic * share(ascorbic_pka), ferulic * share(4.58)
        benzoic = benzoate * (1.0 - share(4.20))
        sodium_hydroxide = ascorbate + ferulate - h / gamma - edta_protons - benzoic
        strength = ascorbate + ferulate + 3.0 * edta + benzoate - benzoic
    return sodium_hydroxide * 40.00 / 0.10


def free_glycolic_percent(pka: float, water: float, salting_out: float, ph: float = 3.80) -> float:
    glycolic, benzoate, sorbate, gluconate = (mol / water for mol in (70.0 / 76.05, 4.0 / 144.10, 2.0 / 150.22, 1.0 / 218.14))
    strength = 0.5
    for _ in range(100):
        gamma = coefficient(strength)
        share = 1.0 / (1.0 + 10.0 ** (pka - ph) * gamma / 10.0 ** (salting_out * strength))
        # Benzoate and sorbate lose 65 and 87 % of their charge; their sodium and potassium stay and count with the glycolate.
        strength = glycolic * share + 0.35 * benzoate + 0.13 * sorbate + 0.4 * gluconate + 10.0**-ph
    return 7.0 * (1.0 - share)


if __name__ == "__main__":
    niacinamide = 50.0 / 122.12
    print("1.5 single pKa: pH alone, pH with niacinamide")
    for pka in (4.5, 4.6, 4.7, 4.8, 4.9, 5.0, 5.5, 6.0, 6.5):
        print(f"  {pka}: {carbomer_ph(pka, 0.0):.2f} {carbomer_ph(pka, niacinamide):.2f}")
    print("2.2 free glycolic acid, %: per kg of product, then per kg of water with k = 0, 0.05, 0.07, 0.1")
    print(f"  {free_glycolic_percent(3.83, 1.0, 0.0):.2f}")
    print("  " + " ".join(f"{free_glycolic_percent(3.834, 0.79, k):.2f}" for k in (0.0, 0.05, 0.07, 0.1)))
    print("3.1 g/kg of 10 % NaOH for pH 3.2: without, with benzoate")
    for pka in (4.23, 4.17, 4.04):
        print(f"  pKa {pka}: {base_g_per_kg(pka, 0.0):.1f} {base_g_per_kg(pka, 4.0 / 144.10):.1f}")
