#!/usr/bin/env python3
"""Make sclite.tsv: word error counts of NIST's sclite 2.10 (SCTK 2.4.10, Debian
package sctk) on pairs of texts, to check WER against.

Use: sclite.py > sclite.tsv      columns: ref, hyp, substitutions, deletions, insertions
"""
import random, re, subprocess, tempfile, os

PAIRS = [
    ("my lug nuts all present and not missing", "my lug nut is all present not missing"),
    ("glad hands are connected seals not torn", "clad hands connected steals not tore in"),
    ("one twenty five psi", "125 p s i"),
    ("slack adjuster and push rod", "slackadjuster and pushrod"),
    ("tread depth at least four thirty seconds", "to read depth at east 4 32nds"),
    ("The Air Brake Check", "the air break check"),
    ("no leaks", "uh no no leaks here"),
    ("no cuts no bulges no leaks", "no bulges no leaks no cuts"),
    ("coolant reservoir", "windshield"),
    ("a", "b c d e"),
]
rng = random.Random(20261125)
for letters in ("ab", "abc", "abcdefg"):
    for _ in range(40):
        make = lambda: " ".join(rng.choice(letters) for _ in range(rng.randint(1, 14)))
        PAIRS.append((make(), make()))
vocab = "the air brake chamber is securely mounted not cracked bent or broken and has no leaks".split()
for _ in range(30):
    ref = [rng.choice(vocab) for _ in range(rng.randint(20, 60))]
    hyp = []
    for w in ref:
        p = rng.random()
        if p < 0.12:
            hyp.append(rng.choice(vocab))
        elif p < 0.2:
            continue
        else:
            hyp.append(w)
        if rng.random() < 0.06:
            hyp.append(rng.choice(vocab))
    PAIRS.append((" ".join(ref), " ".join(hyp)))

with tempfile.TemporaryDirectory() as d:
    for name, k in (("ref", 0), ("hyp", 1)):
        with open(os.path.join(d, name), "w") as f:
            for i, pair in enumerate(PAIRS):
                f.write(f"{pair[k]} (s-{i:04d})\n")
    out = subprocess.run(["sctk", "sclite", "-r", "ref", "trn", "-h", "hyp", "trn", "-i", "rm", "-o", "pralign", "stdout"],
                         cwd=d, capture_output=True, text=True, check=True).stdout
found = {}
for uid, c, s, de, ins in re.findall(r"id: \(s-(\d+)\)\nScores: \(#C #S #D #I\) (\d+) (\d+) (\d+) (\d+)", out):
    found[int(uid)] = (s, de, ins)
for i, (ref, hyp) in enumerate(PAIRS):
    print(ref, hyp, *found[i], sep="\t")
