#!/usr/bin/env python3
"""Make reference.json, values of other people's libraries to check this package
against. Made with statsmodels 0.13.5 and scikit-learn 1.2.1 (Debian's
python3-statsmodels and python3-sklearn) under Python 3.11.

Use: reference.py > reference.json
"""
import json, random
import numpy as np
from sklearn.calibration import calibration_curve
from sklearn.metrics import precision_score, recall_score
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.proportion import proportion_confint

rng = random.Random(20261125)
out = {"kappa": [], "wilson": [], "calibration": [], "detection": []}

for size in (2, 3, 4):
    for _ in range(25):
        top = rng.choice((3, 10, 60))
        table = [[rng.randint(0, top * (3 if i == j else 1)) for j in range(size)] for i in range(size)]
        n = sum(map(sum, table))
        r = cohens_kappa(np.array(table))
        if n == 0 or not np.isfinite(r.kappa) or not np.isfinite(r.std_kappa):
            continue
        out["kappa"].append({"table": table, "kappa": r.kappa, "se": r.std_kappa,
                             "low": r.kappa_low, "high": r.kappa_upp})

for _ in range(60):
    n = rng.choice((1, 2, 5, 12, 40, 300, 5000))
    k = rng.randint(0, n)
    level = rng.choice((0.8, 0.9, 0.95, 0.99))
    low, high = proportion_confint(k, n, alpha=1 - level, method="wilson")
    out["wilson"].append({"k": k, "n": n, "level": level, "low": low, "high": high})

for n in (1, 7, 60, 400):
    conf = [rng.random() ** 0.5 for _ in range(n)]
    right = [int(rng.random() < c * 0.9) for c in conf]
    prob_true, prob_pred = calibration_curve(right, conf, n_bins=10)
    counts = np.histogram(conf, bins=np.linspace(0, 1, 11))[0]
    counts = counts[counts > 0]
    out["calibration"].append({"confidence": conf, "right": right,
        "counts": [int(c) for c in counts], "share": list(prob_true), "mean": list(prob_pred),
        "error": float(np.sum(counts * np.abs(prob_true - prob_pred)) / n)})

marks = ["said", "partly", "missed", "wrong"]
for _ in range(10):
    theirs = [rng.choice(marks) for _ in range(50)]
    ours = [t if rng.random() < 0.7 else rng.choice(marks) for t in theirs]
    out["detection"].append({"theirs": theirs, "ours": ours,
        "precision": precision_score(theirs, ours, labels=["missed"], average=None)[0],
        "recall": recall_score(theirs, ours, labels=["missed"], average=None)[0]})

print(json.dumps(out))
