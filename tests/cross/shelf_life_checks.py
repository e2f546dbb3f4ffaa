"""Lack of fit and the reading that stands furthest off, by another program. Python 3.11, statsmodels 0.15.0, numpy 2.4.6, scipy 1.17.1.

Reads tests/published/shelf_life.toml, prints tests/cross/shelf_life_checks.toml.
"""
import tomllib, pathlib, numpy as np, statsmodels.api as sm, statsmodels, pandas as pd
import statsmodels.formula.api as smf
from statsmodels.stats.anova import anova_lm

here = pathlib.Path(__file__).parent
sets = tomllib.loads((here.parent / "published" / "shelf_life.toml").read_text())
FORM = {"one_line": "y ~ t", "one_slope": "y ~ C(b) + t", "own_lines": "y ~ C(b) * t"}

print("# Written by tests/cross/shelf_life_checks.py (statsmodels %s)." % statsmodels.__version__)
for one in sets["set"]:
    batches = [sets["batch"][b] if isinstance(b, str) else b for b in one["batches"]]
    d = pd.DataFrame([(i, float(t), float(y)) for i, b in enumerate(batches) for t, y in b], columns=["b", "t", "y"])
    m = smf.ols(FORM[one["model"]] if len(batches) > 1 else "y ~ t", d).fit()
    t = m.get_influence().resid_studentized_external
    k = int(np.argmax(np.abs(t)))
    print('\n[[set]]\nname = "%s"\nbatch = %d\nmonths = %r\nt = %r\ndegrees = %d' % (one["name"], d.b[k], float(d.t[k]), abs(float(t[k])), int(m.df_resid) - 1))
    d["cell"] = d.b.astype(str) + "/" + d.t.astype(str)
    if d.cell.nunique() < len(d):
        full = smf.ols("y ~ C(cell)", d).fit()
        a = anova_lm(m, full)
        print("lack_ratio = %r\nlack_beyond = %r" % (float(a.F[1]), float(a["Pr(>F)"][1])))
