"""Linear problems with steps, switches and groups, solved by scipy.optimize.milp (HiGHS) for tests/cross/search.toml.

Run: python tests/cross/search.py > tests/cross/search.toml
Parts stand on multiples of 0.05, some may be left out, some groups hold exactly one; wishes are linear readings between limits.
"""
import sys

import numpy as np
import scipy
from scipy.optimize import Bounds, LinearConstraint, milp

STEP = 0.05


def solve(case):
    n = len(case["price"])
    low, high = (np.array(case[k]) for k in ("low", "high"))
    off = np.array(case["may_be_off"])
    # Variables: whole steps k, then switches y.
    c = np.concatenate([np.array(case["price"]) * STEP, np.zeros(n)])
    rows, least, most = [], [], []
    for i in range(n):
        row = np.zeros(2 * n)
        row[i], row[n + i] = 1, -round(low[i] / STEP)
        rows.append(row), least.append(0), most.append(np.inf)
        row = np.zeros(2 * n)
        row[i], row[n + i] = 1, -round(high[i] / STEP)
        rows.append(row), least.append(-np.inf), most.append(0)
    for wish in case["wish"]:
        row = np.zeros(2 * n)
        row[:n] = np.array(wish["factors"]) * STEP
        rows.append(row), least.append(wish["low"]), most.append(wish["high"])
    for group in case["group"]:
        row = np.zeros(2 * n)
        row[[n + i for i in group]] = 1
        rows.append(row), least.append(1), most.append(1)
    rows.append(np.concatenate([np.full(n, STEP), np.zeros(n)])), least.append(-np.inf), most.append(case["room"])
    bounds = Bounds(np.zeros(2 * n), np.concatenate([np.round(high / STEP), np.ones(n)]))
    bounds.lb[n:] = np.where(off, 0, 1)
    answer = milp(c, constraints=LinearConstraint(np.array(rows), least, most), bounds=bounds, integrality=np.ones(2 * n), options={"mip_rel_gap": 0})
    return None if answer.status == 2 else float(answer.fun)


def text(value):
    if isinstance(value, (list, np.ndarray)):
        return "[" + ", ".join(text(v) for v in value) + "]"
    if isinstance(value, (bool, np.bool_)):
        return "true" if value else "false"
    if isinstance(value, (int, np.integer)):
        return str(int(value))
    return repr(round(float(value), 10))


def main():
    rng = np.random.default_rng(20261127)
    print("# Written by tests/cross/search.py: scipy " + scipy.__version__ + " (milp, HiGHS), Python " + sys.version.split()[0])
    print("# Linear problems on steps of 0.05 with switches and groups of which exactly one is in. `least` is the best aim; none where nothing keeps the wishes.")
    made = {"answer": 0, "none": 0}
    while made["answer"] < 24 or made["none"] < 6:
        n = int(rng.integers(3, 9))
        low = np.round(rng.integers(1, 11, n) * STEP, 2)
        high = np.round(low + rng.integers(4, 60, n) * STEP, 2)
        off = rng.random(n) < 0.4
        group = []
        if n >= 4 and rng.random() < 0.5:
            off[:2] = True
            group = [[0, 1]]
        middle = low + rng.random(n) * (high - low)
        wishes = []
        for _ in range(int(rng.integers(1, 4))):
            factors = np.round(rng.uniform(0, 1, n), 3)
            sum_here = float(factors @ middle)
            side = rng.random()
            wishes.append({
                "factors": factors,
                "low": round(sum_here * rng.uniform(0.9, 1.25), 3) if side < 0.7 else 0.0,
                "high": round(sum_here * rng.uniform(1.0, 1.3), 3) if side > 0.6 else 1e6,
            })
        case = {
            "price": np.round(rng.uniform(0.5, 40, n), 2), "low": low, "high": high, "may_be_off": off,
            "wish": wishes, "group": group, "room": round(float(high.sum() * rng.uniform(0.6, 1.0)), 2),
        }
        if any(w["low"] > w["high"] for w in wishes):
            continue
        least = solve(case)
        kind = "none" if least is None else "answer"
        if made[kind] >= (24 if kind == "answer" else 6):
            continue
        made[kind] += 1
        print("\n[[case]]")
        for key in ("price", "low", "high", "may_be_off", "group", "room"):
            print(f"{key} = {text(case[key])}")
        if least is not None:
            print(f"least = {least!r}")
        for wish in wishes:
            print("[[case.wish]]")
            for key in ("factors", "low", "high"):
                print(f"{key} = {text(wish[key])}")


main()
