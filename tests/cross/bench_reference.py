"""Speed on the ten-component serum of benches/speciation.rs: the reference program through one batched input, and our own.

Reference only: `pip install phreeqc` (1.1.1, IPhreeqc 3.8.6-17100), then `python bench_reference.py` on a quiet machine. Our
benchmarks are run in between, so that both see the same machine and load; the best of the reference is compared with our medians.
"""

import re
import subprocess
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
    best = reference(program, batch)
    ours = ours_in_seconds("levigate-formula", "speciation") | ours_in_seconds("levigate-evidence", "speciate")
    best = max(best, reference(program, batch))
    rows = program.GetSelectedOutput()
    print(f"phreeqc {version('phreeqc')}: best {best:.0f} per second of processor time; {len(rows)} rows; last {list(rows)[-1]}")
    for name, seconds in ours.items():
        print(f"{name}: {1 / seconds:.0f} per second, {1 / seconds / best:.1f} times the reference")


def reference(program, batch: str) -> float:
    """Solutions per second of processor time, the best of five runs."""
    best = 0.0
    for _ in range(5):
        start, cpu = time.perf_counter(), time.process_time()
        program.RunString(batch)
        wall, used = time.perf_counter() - start, time.process_time() - cpu
        best = max(best, SOLUTIONS / used)
        print(f"{SOLUTIONS / wall:.0f} per second of wall time, {SOLUTIONS / used:.0f} per second of processor time")
    return best


def ours_in_seconds(package: str, bench: str) -> dict[str, float]:
    """Median time of every benchmark, from what criterion prints."""
    command = ["cargo", "bench", "-q", "-p", package, "--bench", bench, "--", "--noplot"]
    printed = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    print(printed)
    units = {"ns": 1e-9, "µs": 1e-6, "ms": 1e-3, "s": 1.0}
    pattern = r"(?m)^(\S[^\n]*?)\s+time:\s+\[\S+ \S+ (\S+) (\S+) "
    return {name.strip(): float(value) * units[unit] for name, value, unit in re.findall(pattern, printed)}


if __name__ == "__main__":
    main()
