"""Speed of the reference program on the ten-component serum of benches/speciation.rs, one batched input.

Reference only: `pip install phreeqc` (1.1.1, IPhreeqc 3.8.6-17100), then `python bench_reference.py`, and
`cargo bench -p levigate-formula --bench speciation` right after it, on the same machine and load.
"""

import re
import time
from importlib.metadata import version
from pathlib import Path

import phreeqc

SOLUTIONS = 1000
LIGANDS = {"Lactate": (-1, 3.863), "Sorbate": (-1, 4.76)}
TOTALS = {
    "Edta": 0.0027, "Ca": 0.001, "Mg": 0.0005, "Citrate": 0.01, "Benzoate": 0.035, "Sorbate": 0.013,
    "Lactate": 0.05, "Na": 0.0704, "K": 0.013, "Cl": 0.003,
}


def further_ligands() -> str:
    text = "SOLUTION_MASTER_SPECIES\n"
    text += "".join(f" {name} {name}- 0 100 100\n" for name in LIGANDS)
    text += "SOLUTION_SPECIES\n"
    for name, (_, constant) in LIGANDS.items():
        text += f"{name}- = {name}-\n log_k 0\n{name}- + H+ = H{name}\n log_k {constant}\n"
    for metal, one, two in (("Ca", 1.42, 2.48), ("Mg", 1.37, 2.39)):
        text += f"{metal}+2 + Lactate- = {metal}Lactate+\n log_k {one}\n"
        text += f"{metal}+2 + 2 Lactate- = {metal}(Lactate)2\n log_k {two}\n"
    return text + "END\n"


def main() -> None:
    program = phreeqc.Phreeqc()
    folder = Path(phreeqc.__file__).parent / "databases"
    database = (folder / "minteq.v4.dat").read_text(errors="replace")
    program.LoadDatabaseString(re.sub(r"(?m)^.*-gamma.*\n", "", database))
    program.RunString(further_ligands())
    program.RunString("SELECTED_OUTPUT\n -reset false\n -pH true\n -ionic_strength true\nEND\n")
    block = "".join(f" {name} {total}\n" for name, total in TOTALS.items())
    batch = "".join(
        f"SOLUTION {number}\n temp 25\n units mol/kgw\n pH 7 charge\n{block}" for number in range(1, SOLUTIONS + 1)
    ) + "END\n"
    best = 0.0
    for _ in range(5):
        start, cpu = time.perf_counter(), time.process_time()
        program.RunString(batch)
        wall, used = time.perf_counter() - start, time.process_time() - cpu
        best = max(best, SOLUTIONS / used)
        print(f"{SOLUTIONS / wall:.0f} per second of wall time, {SOLUTIONS / used:.0f} per second of processor time")
    rows = program.GetSelectedOutput()
    print(f"phreeqc {version('phreeqc')}: best {best:.0f} per second of processor time; {len(rows)} rows; last {list(rows)[-1]}")


if __name__ == "__main__":
    main()
