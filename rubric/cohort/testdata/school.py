#!/usr/bin/env python3
"""Make school.py.json, values of SciPy and statsmodels to check this package
against. Made with SciPy 1.10.1 and statsmodels 0.13.5 (Debian's python3-scipy
and python3-statsmodels) under Python 3.11.

Use: school.py > school.py.json
"""
import itertools, json
import numpy as np
from scipy import stats
from statsmodels.stats.contingency_tables import mcnemar
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep

rng = np.random.default_rng(20261128)
out = {k: [] for k in ("newcombe", "fisher", "mcnemar", "adjust", "permutation", "percentile", "exact_se", "pearson", "signs")}

def shares():
    n = rng.choice([1, 2, 5, 12, 40, 300], 2)
    return [[int(rng.integers(0, m + 1)), int(m)] for m in n]

for _ in range(80):
    a, b = shares()
    low, high = confint_proportions_2indep(*a, *b, method="newcomb", compare="diff", alpha=0.05, correction=False)
    out["newcombe"].append({"a": a, "b": b, "low": low, "high": high})
    p = stats.fisher_exact([[a[0], a[1] - a[0]], [b[0], b[1] - b[0]]])[1]
    out["fisher"].append({"a": a, "b": b, "p": p})
for a, b in [([500, 40000], [560, 30000]), ([20000, 50000], [20100, 50000]), ([3, 50000], [0, 50000])]:
    p = stats.fisher_exact([[a[0], a[1] - a[0]], [b[0], b[1] - b[0]]])[1]
    out["fisher"].append({"a": a, "b": b, "p": p})

for _ in range(40):
    t = [int(x) for x in rng.integers(0, rng.choice([3, 12, 80, 2000]), 4)]
    if sum(t) == 0:
        continue
    p = mcnemar([[t[0], t[1]], [t[2], t[3]]], exact=True).pvalue if t[1] + t[2] else 1
    out["mcnemar"].append({"table": t, "p": float(p)})

for n in (1, 2, 5, 40, 130):
    p = rng.random(n) ** 3
    if n > 5:
        p[:4] = p[4]
    out["adjust"].append({"p": list(p), "adjusted": list(multipletests(p, method="fdr_bh")[1])})

# All ways are tried; the two-sided p counts differences as large or larger either way.
for n1, n2 in ((3, 4), (5, 5), (2, 9), (8, 7), (6, 9)):
    for whole in (False, True):
        a, b = rng.normal(1, 2, n1), rng.normal(0, 1, n2)
        if whole:
            a, b = np.round(a), np.round(b)
        r = stats.permutation_test((a, b), lambda x, y: abs(x.mean() - y.mean()), alternative="greater", n_resamples=np.inf)
        out["permutation"].append({"a": list(a), "b": list(b), "p": r.pvalue, "tried": len(r.null_distribution)})

for n in (8, 30):
    x = rng.exponential(5, n)
    r = stats.bootstrap((x,), np.mean, n_resamples=400, method="percentile", vectorized=True, random_state=rng)
    out["percentile"].append({"values": list(r.bootstrap_distribution), "low": r.confidence_interval.low,
                              "high": r.confidence_interval.high, "se": r.standard_error})

# The ideal bootstrap of few students: all n^n draws.
for n in (4, 5, 6):
    m = rng.integers(1, 4, n)
    s = np.array([rng.integers(0, k + 1) for k in m])
    values = [s[list(d)].sum() / m[list(d)].sum() for d in itertools.product(range(n), repeat=n)]
    out["exact_se"].append({"sums": [int(x) for x in s], "n": [int(x) for x in m], "se": float(np.std(values)),
                            "low": float(np.quantile(values, 0.025)), "high": float(np.quantile(values, 0.975))})

# Without clusters the test over all ways is the chi-squared test with N-1 for N.
for _ in range(20):
    n1, n2 = int(rng.integers(20, 200)), int(rng.integers(20, 200))
    a, b = int(rng.integers(1, n1)), int(rng.integers(1, n2))
    chi = stats.chi2_contingency([[a, n1 - a], [b, n2 - b]], correction=False)[0]
    n = n1 + n2
    out["pearson"].append({"a": [a, n1], "b": [b, n2], "p": stats.chi2.sf(chi * (n - 1) / n, 1)})

# Swapping within pairs is flipping the signs of their differences.
for n in (2, 3, 6, 11, 15):
    a, b = np.round(rng.normal(30, 5, n), 2), np.round(rng.normal(28, 5, n), 2)
    r = stats.permutation_test((a, b), lambda x, y, axis: abs((x - y).mean(axis=axis)), alternative="greater",
                               permutation_type="samples", n_resamples=np.inf, vectorized=True)
    out["signs"].append({"differences": list(np.round(a - b, 2)), "p": r.pvalue, "tried": len(r.null_distribution)})
print(json.dumps(out))
