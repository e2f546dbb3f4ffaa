"""Where the confidence limit of a line over time leaves the limit: 50 digits, by search, from the normal equations.

Python 3.11, mpmath 1.4.1. Reads tests/published/shelf_life.toml, prints tests/cross/shelf_life.toml. Written apart from the program: matrices, no
closed form.
"""
import tomllib, pathlib, mpmath as mp

mp.mp.dps = 50
here = pathlib.Path(__file__).parent
sets = tomllib.loads((here.parent / "published" / "shelf_life.toml").read_text())


def below(t, n):
    tail = mp.betainc(mp.mpf(n) / 2, mp.mpf(1) / 2, 0, mp.mpf(n) / (n + mp.mpf(t) ** 2), regularized=True) / 2
    return 1 - tail


def quantile(p, n):
    return mp.findroot(lambda t: below(t, n) - p, (mp.mpf("1.6"), mp.mpf("2.2")))


def fit(rows, ys):
    X, y = mp.matrix(rows), mp.matrix(ys)
    inverse = (X.T * X) ** -1
    b = inverse * X.T * y
    r = y - X * b
    return b, inverse, sum(v * v for v in r), len(ys) - len(rows[0])


def row(model, k, i, t):
    # Lines of one slope: heights then the slope; own lines: heights then slopes; one line: height and slope.
    if model == "one_line":
        return [1, t]
    heights = [1 if j == i else 0 for j in range(k)]
    return heights + ([t] if model == "one_slope" else [t if j == i else 0 for j in range(k)])


def lives(batches, model, lower, upper, p):
    k = len(batches)
    rows, ys = [], []
    for i, batch in enumerate(batches):
        for t, y in batch:
            rows.append([mp.mpf(v) for v in row(model, k, i, mp.mpf(str(t)))])
            ys.append(mp.mpf(str(y)))
    b, inverse, rss, df = fit(rows, ys)
    q, s = quantile(p, df), mp.sqrt(rss / df)

    def room(i, limit, sign):
        def at(t):
            x = mp.matrix([mp.mpf(v) for v in row(model, k, i, t)])
            return sign * ((x.T * b)[0] - limit) - q * s * mp.sqrt((x.T * inverse * x)[0])
        return at

    out = []
    for i in range(k if model != "one_line" else 1):
        ends = []
        for limit, sign in ((lower, 1), (upper, -1)):
            if limit is None:
                continue
            f, t = room(i, mp.mpf(str(limit)), sign), mp.mpf(0)
            while f(t + 1) > 0 and t < 1000:
                t += 1
            ends.append(mp.findroot(f, (t, t + 1), solver="anderson", tol=1e-60, maxsteps=300))
        out.append(min(ends))
    return out


print("# Written by tests/cross/shelf_life.py (mpmath %s, 50 digits)." % mp.__version__)
for one in sets["set"]:
    batches = [sets["batch"][b] if isinstance(b, str) else b for b in one["batches"]]
    p = mp.mpf("0.975" if one.get("two_sided") else "0.95")
    print('\n[[set]]\nname = "%s"' % one["name"])
    lower, upper = one.get("lower"), one.get("upper")
    for model in ("one_line", "one_slope", "own_lines"):
        print("%s = [%s]" % (model, ", ".join(mp.nstr(v, 17) for v in lives(batches, model, lower, upper, p))))
    print("alone = [%s]" % ", ".join(mp.nstr(lives([b], "one_line", lower, upper, p)[0], 17) for b in batches))
