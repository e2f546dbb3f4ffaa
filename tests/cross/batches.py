"""Arithmetic of a batch at the bench, the reference of crates/project/tests/batches.rs. Run: python3 tests/cross/batches.py > tests/cross/batches.toml

Exact decimals of Python for sums, differences and scaling; numpy draws for what the balances leave open about a share. Nothing of the
program is used. The reconciliation figures are those of a worked example: charged 200.0 g after topping up 3.1 g water for 3.1 g that
went off, good 193.2 g, samples 4.0 g: yield 96.6 %, accounted 98.6 %, 2.8 g unexplained.
"""
from decimal import ROUND_HALF_UP, Decimal as D

import numpy as np

HUNDRED = D(100)
STEP = D("0.01")


def division(grams):
    return (grams / STEP).quantize(D(1), rounding=ROUND_HALF_UP) * STEP


print(f"# By batches.py with numpy {np.__version__}.")

# ---- too much of a line
PLANS = [
    # name, grams per line, position of the q.s. line, what is in (None: not yet), position of the line of which too much is in
    ("early, nothing else in", ["184.00", "10.00", "4.00", "2.00"], 0, [None, "11.20", None, None], 1),
    ("late, others in", ["184.00", "10.00", "4.00", "2.00"], 0, ["184.02", "10.01", "4.40", None], 2),
    ("the q.s. line half in", ["184.00", "10.00", "4.00", "2.00"], 0, ["150.00", "10.00", "4.50", None], 2),
    ("three figures after scaling", ["92.35", "5.05", "2.60"], 0, [None, "5.55", "2.60"], 1),
    ("above another already in", ["50.00", "30.00", "20.00"], 0, [None, "31.00", "22.40"], 1),
]
for name, planned, qs, inside, over in PLANS:
    planned = [D(x) for x in planned]
    inside = [D(x) if x else D(0) for x in inside]
    total, m, t = sum(planned), inside[over], planned[over]
    ways = {"accept": list(planned)}
    ways["accept"][over] = m
    scaled = [division(x * m / t) for x in planned]
    scaled[over] = m
    ways["rescale"] = scaled
    taken = list(planned)
    taken[over] = m
    taken[qs] = planned[qs] - (m - t)
    # The q.s. line must still be open and not above what would be left for it.
    if inside[qs] <= taken[qs] and planned[qs] - inside[qs] > planned[qs] * D("0.01"):
        ways["from_remainder"] = taken
    print(f'\n[[over]]\nname = "{name}"\nplanned = {[str(x) for x in planned]}\nremainder = {qs}')
    print(f"inside = {[str(x) for x in inside]}\nover = {over}".replace("'", '"'))
    for way, targets in ways.items():
        reached = [max(a, b) for a, b in zip(targets, inside)]
        all_in = sum(reached)
        size = total + (m - t) if way == "accept" else total if way == "from_remainder" else sum(targets)
        shares = [float(HUNDRED * x / all_in) for x in reached]
        add = [str(max(a - b, D(0))) for a, b in zip(targets, inside)]
        print(f'[[over.way]]\nway = "{way}"\nsize = "{size}"\ntargets = {[str(x) for x in targets]}'.replace("'", '"'))
        print(f"to_add = {add}".replace("'", '"') + f"\nshares = {shares}")

# ---- water and reconciliation
BENCH = [
    # name, vessel, weighed in, samples before, gross, water given back, samples after, good, lost
    ("topped up and packed", "352.4", "200.0", "0", "549.3", "3.1", "4.0", "193.2", "0"),
    ("sample before the weighing, half given back", "120.55", "500.00", "12.30", "601.05", "3.60", "0", "470.10", "9.5"),
]
for name, vessel, weighed, before, gross, given, after, good, lost in BENCH:
    v, w, b, g, q, a, y, l = (D(x) for x in (vessel, weighed, before, gross, given, after, good, lost))
    off = v + w - b - g
    charged = w + q - off
    samples = b + a
    print(f'\n[[bench]]\nname = "{name}"\nvessel = "{vessel}"\nweighed = "{weighed}"\nsamples_before = "{before}"\ngross = "{gross}"')
    print(f'given = "{given}"\nsamples_after = "{after}"\ngood = "{good}"\nlost = "{lost}"')
    print(f'went_off = "{off}"\nmissing_before_giving = "{off}"\nmissing_after = "{off - q}"\ncharged = "{charged}"')
    print(f'yield = {float(HUNDRED * y / charged)}\naccounted = {float(HUNDRED * (y + samples + l) / charged)}')
    print(f'unexplained = "{charged - y - samples - l}"')

# ---- what the balances leave open about a share
draws = np.random.default_rng(20261127)
LINES = [[150.00, 34.00], [10.02], [2.50, 2.50], [0.41]]
REPEATABILITY, READABILITY = 0.01, 0.01
own = np.sqrt(REPEATABILITY**2 + 2 * READABILITY**2 / 12)
masses = np.array([[sum(line)] for line in LINES]) + np.array(
    [sum(draws.normal(0, own, 2_000_000) for _ in line) for line in LINES]
)
shares = 100 * masses / masses.sum(axis=0)
print(f"\n[shares]\nlines = {LINES}\nreadability = \"0.01\"")
print(f"percent = {[float(100 * sum(line) / sum(map(sum, LINES))) for line in LINES]}")
print(f"half_width = {[float(2 * x) for x in shares.std(axis=1)]}")
