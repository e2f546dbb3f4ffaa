"""Writes random_reference.toml and random_reference_constants.toml: random solutions speciated by another program.

Reference only: `pip install phreeqc` (1.1.1, IPhreeqc 3.8.6-17100), then `python random_reference.py`. The data file is minteq.v4.dat
of that package without its `-gamma` lines (Davies 0.3 for every ion, 0.1 I for every neutral species) and the further ligands of
random_reference_ligands.txt. The constants are read from the same text the program reads, so that only the solvers differ.
Compositions are drawn with a fixed seed: which components, how much of each (log-uniform), temperature, air or not; a solution is
kept when its ionic strength is at most 0.95 mol/kg (below the limit where this product holds the coefficients).
"""

import math
import random
import re
from importlib.metadata import version
from pathlib import Path

import phreeqc

HERE = Path(__file__).parent
WANTED = 60
MOST_STRENGTH = 0.95
# Element name in the program, component, charge, range of log10 molality.
CATIONS = [
    ("Na", "Na+", 1, (-4, -0.5)), ("K", "K+", 1, (-4, -0.7)), ("Ca", "Ca+2", 2, (-5, -2)), ("Mg", "Mg+2", 2, (-5, -2)),
    ("Zn", "Zn+2", 2, (-6, -2.3)), ("Cu(2)", "Cu+2", 2, (-7, -3)), ("Fe(3)", "Fe+3", 3, (-7, -4)), ("Al", "Al+3", 3, (-7, -4)),
]
ANIONS = [
    ("Cl", "Cl-", -1, (-4, -0.5)), ("S(6)", "SO4-2", -2, (-4, -1.5)), ("Edta", "Edta-4", -4, (-4, -2)),
    ("Nta", "Nta-3", -3, (-4, -2)), ("Citrate", "Citrate-3", -3, (-4, -1)), ("Benzoate", "Benzoate-", -1, (-4, -1.3)),
    ("Sorbate", "Sorbate-", -1, (-4, -1.5)), ("Lactate", "Lactate-", -1, (-3, -0.3)), ("Glycolate", "Glycolate-", -1, (-3, -0.2)),
    ("Malate", "Malate-2", -2, (-3, -1)), ("Gluconate", "Gluconate-", -1, (-4, -1.5)), ("Salicylate", "Salicylate-2", -2, (-4, -2)),
    ("Tartarate", "Tartarate-2", -2, (-4, -1.3)), ("P", "PO4-3", -3, (-4, -1.3)), ("C(4)", "CO3-2", -2, (-4.5, -1.7)),
    ("B", "H3BO3", 0, (-4, -1)), ("Glycine", "Glycine-", -1, (-4, -1)), ("Trisb", "Trisb", 0, (-3, -0.7)),
    ("Teab", "Teab", 0, (-3, -0.7)), ("Histidine", "Histidine-", -1, (-4, -1.5)), ("Arginine", "Arginine", 0, (-4, -1)),
    ("Ascorbate", "Ascorbate-2", -2, (-3, -0.5)), ("Niacinamide", "Niacinamide", 0, (-3, -0.4)),
    ("Mgda", "Mgda-3", -3, (-4, -2)), ("Glda", "Glda-4", -4, (-4, -2)), ("Succinate", "Succinate-2", -2, (-4, -1)),
]
KNOWN = {component for _, component, _, _ in CATIONS + ANIONS} | {"H+", "H2O"}


def database() -> str:
    folder = Path(phreeqc.__file__).parent / "databases"
    text = (folder / "minteq.v4.dat").read_text(errors="replace")
    return re.sub(r"(?m)^.*-gamma.*\n", "", text)


def side(text: str) -> list[tuple[float, str]]:
    terms = []
    for term in text.split(" + "):
        match = re.fullmatch(r"([\d.]*)\s*(\S+)", term.strip())
        terms.append((float(match[1] or 1), match[2]))
    return terms


def reactions(text: str) -> list[dict]:
    """Formation reactions of all species made of the known components alone."""
    found, current, inside = [], None, False
    for raw in text.splitlines():
        line = raw.split("#")[0].strip()
        if re.fullmatch(r"[A-Z_]{4,}", line):
            inside, current = line == "SOLUTION_SPECIES", None
        elif not inside or not line:
            continue
        elif "=" in line:
            left, right = (side(part) for part in line.split("=", 1))
            product = right[0]
            current = None
            if product[1] in KNOWN or product[0] != 1:
                continue
            parts: dict[str, float] = {}
            for count, name in left:
                parts[name] = parts.get(name, 0) + count
            for count, name in right[1:]:
                parts[name] = parts.get(name, 0) - count
            if set(parts) <= KNOWN:
                current = {"product": product[1], "from": parts, "log_k": 0.0, "enthalpy": 0.0}
                found.append(current)
        elif current is not None:
            words = line.lower().split()
            if words[0] in ("log_k", "-log_k"):
                current["log_k"] = float(words[1])
            elif words[0] in ("delta_h", "-delta_h"):
                current["enthalpy"] = float(words[1]) * (4.184 if len(words) > 2 and words[2].startswith("kcal") else 1.0)
            elif words[0].startswith("-analytic"):
                raise SystemExit(f"an analytical expression is not read: {current['product']}")
    return found


def main() -> None:
    ligands = (HERE / "random_reference_ligands.txt").read_text()
    minteq = database()
    made = reactions(minteq) + reactions(ligands)
    program = phreeqc.Phreeqc()
    program.LoadDatabaseString(minteq)
    program.RunString(ligands + "\nEND\n")
    dice = random.Random(20261126)
    cases, refused = [], 0
    while len(cases) < WANTED:
        chosen = dice.sample(CATIONS, dice.randint(1, 5)) + dice.sample(ANIONS, dice.randint(1, 8))
        totals = {name: (component, charge, 10 ** dice.uniform(*span)) for name, component, charge, span in chosen}
        # Most are brought by a strong acid or base to somewhere between all ligands protonated and none; the rest stay as drawn.
        if dice.random() < 0.75:
            holds = sum(max(1, -charge) * total for _, charge, total in totals.values() if charge <= 0)
            wanted = dice.uniform(0.02, 0.98) * holds
            missing = -wanted - sum(charge * total for _, charge, total in totals.values())
            name, component, charge = ("Na", "Na+", 1) if missing > 0 else ("Cl", "Cl-", -1)
            totals[name] = (component, charge, totals.get(name, (0, 0, 0.0))[2] + abs(missing))
        totals = {name: (component, charge, float(f"{total:.4g}")) for name, (component, charge, total) in totals.items()}
        temperature = dice.choice([5, 15, 25, 25, 25, 37, 50, 70, 90])
        air = dice.choice([None, None, None, -3.377, -2.0])
        if air is not None:
            totals.pop("C(4)", None)
        block = f"SOLUTION 1\n temp {temperature}\n units mol/kgw\n pH 7 charge\n"
        block += "".join(f" {name} {total}\n" for name, (_, _, total) in totals.items())
        if air is not None:
            block += f" C(4) 1e-3 CO2(g) {air}\n"
        names = [reaction["product"] for reaction in made] + sorted(KNOWN - {"H2O"})
        headings = " ".join(f"h{number}" for number in range(len(names) + 3))
        block += f"SELECTED_OUTPUT 1\n -reset false\n -high_precision true\nUSER_PUNCH 1\n -headings {headings}\n"
        block += "10 PUNCH -LA(\"H+\"), MU, ACT(\"H2O\")\n"
        for number, name in enumerate(names):
            block += f"{20 + number} PUNCH MOL(\"{name}\")\n"
        block += "END\n"
        try:
            program.RunString(block)
        except RuntimeError:
            refused += 1
            continue
        values = [float(column[-1]) for column in program.GetSelectedOutput().values()]
        ph, strength, water = values[:3]
        if not (0.3 < ph < 13.7 and strength <= MOST_STRENGTH):
            refused += 1
            continue
        species = {name: value for name, value in zip(names, values[3:]) if value > 1e-12}
        cases.append((temperature, air, totals, ph, strength, water, species))
    header = f"# Written by random_reference.py with phreeqc {version('phreeqc')}; {refused} draws were dropped (outside the bounds or not solved there).\n"
    lines = [header, "[gates]\nph = 0.005\nspecies_relative = 0.01\nspecies_above = 1e-9\nfree_metal_log10 = 0.02\nionic_strength_relative = 0.01\n"]
    metals = {component for _, component, charge, _ in CATIONS if charge > 1}
    for number, (temperature, air, totals, ph, strength, water, species) in enumerate(cases, 1):
        balance = -sum(charge * total for _, charge, total in totals.values())
        inputs = {"H+": balance} | {component: total for component, _, total in totals.values()}
        lines.append(f"\n[[case]]\nid = \"R{number:02}\"\ntitle = \"{' '.join(totals)}\"\ntemperature_c = {float(temperature)}\n")
        if air is not None:
            lines.append(f"log10_pco2_atm = {air}\n")
            # Carbonate given by the gas: no neutral ingredient brings it.
            inputs["CO3-2"] = 0.0
        lines.append("totals = { " + ", ".join(f"\"{name}\" = {value!r}" for name, value in inputs.items()) + " }\n")
        lines.append(f"ph = {ph:.6f}\nionic_strength = {strength:.7g}\nwater_activity = {water:.6f}\n")
        free = {name: value for name, value in species.items() if name in metals}
        lines.append("free_metals = { " + ", ".join(f"\"{name}\" = {value:.6g}" for name, value in free.items()) + " }\n[case.species]\n")
        lines += [f"\"{name}\" = {value:.6g}\n" for name, value in species.items() if value > 1e-9]
    (HERE / "random_reference.toml").write_text("".join(lines))
    used = {component for case in cases for component, _, _ in case[2].values()} | {"H+", "H2O", "CO3-2"}
    lines = ["# Written by random_reference.py from minteq.v4.dat and random_reference_ligands.txt; to repeat the runs, not as recommended values.\n"]
    for reaction in made:
        if set(reaction["from"]) <= used:
            parts = ", ".join(f"\"{name}\" = {count:g}" for name, count in reaction["from"].items())
            lines.append(f"\n[[reaction]]\nproduct = \"{reaction['product']}\"\nfrom = {{ {parts} }}\nlog10_k = {reaction['log_k']}\n")
            if reaction["enthalpy"]:
                lines.append(f"enthalpy_kj_mol = {reaction['enthalpy']:g}\n")
            lines.append("source = \"minteq.v4.dat\"\nquality = \"ref\"\n")
    lines.append("\n[[gas]]\nname = \"CO2\"\ninto = { \"CO3-2\" = 1, \"H+\" = 2, \"H2O\" = -1 }\nlog10_k = -18.147\nenthalpy_kj_mol = 4.06\nsource = \"minteq.v4.dat\"\n")
    (HERE / "random_reference_constants.toml").write_text("".join(lines))


if __name__ == "__main__":
    main()
