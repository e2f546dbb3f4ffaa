"""Maximum a posteriori fits by scipy, the reference of tests/tests/belief.rs. Run: python3 tests/cross/belief_reference.py > tests/cross/belief.toml

A Cross curve, parameters ln eta0, ln tau_half, m with a normal belief (one case correlated), ln viscosity measured at a few shear rates.
The minimum is found by scipy.optimize.minimize from several starts, the covariance is the inverse of the Gauss-Newton curvature with
derivatives by complex steps.
"""
import numpy as np
import scipy
from scipy.optimize import minimize

ETA_S = 0.00102


def ln_eta(theta, rate):
    eta0, half, m = np.exp(theta[0]), np.exp(theta[1]), theta[2]
    return np.log(ETA_S + (eta0 - ETA_S) / (1 + np.exp(m * np.log(eta0 * rate / half))))


CASES = [
    ("one reading", [np.log(2.0), np.log(8.0), 0.76], np.diag([0.8, 0.5, 0.06]) ** 2, [(10.0, 1.1, 0.05)]),
    (
        "five readings",
        [np.log(2.0), np.log(8.0), 0.76],
        np.diag([0.8, 0.5, 0.06]) ** 2,
        [(0.1, 3.1, 0.04), (1.0, 2.7, 0.04), (10.0, 1.35, 0.04), (100.0, 0.36, 0.04), (1000.0, 0.082, 0.04)],
    ),
    (
        "correlated belief, contradicting reading",
        [np.log(5.0), np.log(20.0), 0.7],
        np.array([[0.25, 0.12, -0.005], [0.12, 0.16, 0.0], [-0.005, 0.0, 0.0036]]),
        [(2.0, 0.5, 0.05), (20.0, 0.4, 0.05)],
    ),
]

print(f'# By belief_reference.py with scipy {scipy.__version__}, numpy {np.__version__}.')
print(f"viscosity_of_solvent_pa_s = {ETA_S}")
for name, mean, covariance, seen in CASES:
    mean, covariance = np.array(mean), np.array(covariance)
    precision = np.linalg.inv(covariance)
    rates = np.array([s[0] for s in seen])
    measured = np.log(np.array([s[1] for s in seen]))
    deviations = np.array([s[2] for s in seen])

    def cost(theta):
        away = theta - mean
        return away @ precision @ away + np.sum(((measured - ln_eta(theta, rates)) / deviations) ** 2)

    def slopes(theta):
        rows = np.zeros((len(rates), 3))
        for j in range(3):
            moved = np.array(theta, dtype=complex)
            moved[j] += 1e-30j
            rows[:, j] = ln_eta(moved, rates).imag / 1e-30
        return rows

    best = None
    for start in [mean, mean + np.sqrt(np.diag(covariance)), mean - np.sqrt(np.diag(covariance))]:
        found = minimize(cost, start, method="Nelder-Mead", options=dict(xatol=1e-13, fatol=1e-15, maxiter=200000, maxfev=200000))
        for _ in range(50):  # Gauss-Newton polish
            rows = slopes(found.x)
            matrix = precision + rows.T @ np.diag(deviations**-2) @ rows
            down = -precision @ (found.x - mean) + rows.T @ ((measured - ln_eta(found.x, rates)) / deviations**2)
            found.x = found.x + np.linalg.solve(matrix, down)
        if best is None or cost(found.x) < cost(best) - 1e-12:
            best = found.x
    rows = slopes(best)
    after = np.linalg.inv(precision + rows.T @ np.diag(deviations**-2) @ rows)
    before_rows = slopes(mean)
    innovation = np.sqrt(np.sum((before_rows @ covariance) * before_rows, axis=1) + deviations**2)
    surprise = (measured - ln_eta(mean, rates)) / innovation
    array = lambda values: "[" + ", ".join(f"{v:.12g}" for v in np.ravel(values)) + "]"
    print(f'\n[[case]]\nname = "{name}"\nmean = {array(mean)}\ncovariance = {array(covariance)}')
    print(f"rates = {array(rates)}\nln_viscosity = {array(measured)}\ndeviation = {array(deviations)}")
    print(f"mean_after = {array(best)}\ncovariance_after = {array(after)}\nsurprise = {array(surprise)}")
