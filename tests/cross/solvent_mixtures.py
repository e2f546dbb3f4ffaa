"""Viscosity of propylene glycol and of ethanol in water, CoolProp 8.0.0 (incompressible solutions MPG and MEA, coefficients of Melinder 2010).

Writes tests/cross/solvent_mixtures.csv. The values at 25 C were used to fit the interaction in data/flow/solvents.toml; 20 and 40 C were not.
"""
from pathlib import Path

from CoolProp.CoolProp import PropsSI

FLUIDS = {"propylene-glycol": "MPG", "ethanol": "MEA"}
lines = ["substance,temperature_c,percent,mpa_s"]
for substance, fluid in FLUIDS.items():
    for celsius in (20, 25, 40):
        for percent in (10, 20, 30, 40, 50, 60):
            viscosity = PropsSI("V", "T", celsius + 273.15, "P", 101325, f"INCOMP::{fluid}[{percent / 100}]")
            lines.append(f"{substance},{celsius},{percent},{viscosity * 1e3:.5f}")
Path(__file__).with_name("solvent_mixtures.csv").write_text("\n".join(lines) + "\n")
