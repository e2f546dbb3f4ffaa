"""Water at its vapour pressure and moist air by CoolProp, water once more by iapws.

    python3 water_and_air.py > water_and_air.toml
"""

import sys
import CoolProp
import CoolProp.CoolProp as cp
import iapws

print(f"# Printed by water_and_air.py with Python {sys.version.split()[0]}, CoolProp {CoolProp.__version__}, iapws {iapws.__version__}.")
for t in [1.0, 10.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 70.0, 75.0, 80.0, 85.0, 90.0, 99.0]:
    k = t + 273.15
    of = lambda what, q=0: cp.PropsSI(what, "T", k, "Q", q, "Water")
    other = iapws.IAPWS95(T=k, x=0)
    steam = iapws.IAPWS95(T=k, x=1)
    print(f"\n[[water]]\ntemperature_c = {t}")
    for name, first, second in [
        ("vapour_pressure_pa", of("P"), other.P * 1e6),
        ("density_kg_m3", of("D"), other.rho),
        ("viscosity_pa_s", of("V"), other.mu),
        ("conductivity_w_m_k", of("L"), other.k),
        ("heat_capacity_j_kg_k", of("C"), other.cp * 1e3),
        ("evaporation_j_kg", of("H", 1) - of("H"), (steam.h - other.h) * 1e3),
    ]:
        print(f"{name} = [{first:.9g}, {second:.9g}]")
for t, humidity, p in [(5.0, 0.3, 101325.0), (15.6, 0.5, 101325.0), (25.0, 0.52, 92000.0), (25.0, 0.9, 101325.0), (60.0, 0.9, 101325.0), (85.0, 1.0, 101325.0)]:
    k = t + 273.15
    of = lambda what: cp.HAPropsSI(what, "T", k, "P", p, "R", humidity)
    dry = 1.0 / of("Vda")
    print(f"\n[[air]]\ntemperature_c = {t}\nhumidity = {humidity}\npressure_pa = {p}")
    print(f"humidity_ratio = {of('W'):.7g}\ndensity_kg_m3 = {1.0 / of('Vha'):.7g}\ndry_kg_m3 = {dry:.7g}")
    print(f"dry_viscosity_pa_s = {cp.PropsSI('V', 'T', k, 'P', p, 'Air'):.6g}")
    print(f"dry_conductivity_w_m_k = {cp.PropsSI('L', 'T', k, 'P', p, 'Air'):.6g}")
