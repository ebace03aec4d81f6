#!/usr/bin/env python3
"""Make sounds.tsv.gz, the table of sound-alike words that package damage reads.

Inputs, both of Debian's package pocketsphinx-en-us (0.8+5prealpha+1-15):
  cmudict-en-us.dict   the pronouncing dictionary of Carnegie Mellon University
                       (two-clause license, kept in sounds.LICENSE)
  en-us.lm.bin         a language model, used for how common a word is; turned
                       to text by sphinx_lm_convert (Debian's sphinxbase-utils).
                       That tool stops with an error at the two-word counts; the
                       one-word counts, all that is read here, come before that
                       (but for some hundred at the end of the alphabet).

Use: sphinx_lm_convert -i en-us.lm.bin -o lm.arpa -ofmt arpa
     sounds.py cmudict-en-us.dict lm.arpa trade.txt sounds.tsv.gz

trade.txt holds the trade's words, one a line, with a pronunciation where the
dictionary has none.

Lines of the output, tab separated:
  s  word  rarity  candidate:weight ...   rarity is -10*log10 of the word's share
  p  word  first_second ...               one word heard as two
  j  first second  word                   two words heard as one
The output is the same for the same input.
"""
import gzip, math, re, sys
from collections import defaultdict

COMMON, POOL, PARTS = 4000, 20000, 6000
NUMBERS = set("""zero oh one two three four five six seven eight nine ten eleven twelve thirteen fourteen
fifteen sixteen seventeen eighteen nineteen twenty thirty forty fourty fifty sixty seventy eighty ninety hundred
hundreds thousand thousands million billion half halves quarter quarters third thirds fourth fourths fifth fifths
sixth sixths seventh eighth eighths ninth tenth tenths sixteenth sixteenths twentieth thirtieth second seconds point
double once twice dozen couple first tens twenties thirties forties fifties sixties seventies eighties nineties
ones twos threes fours fives sixes sevens eights nines o""".split())
NEGATIONS = set("""no not none never neither nor nothing without nobody nowhere cannot free non nope nah
unable""".split())
RUDE = set("""ass asses bitch bitches cock crap cum cunt damn dick dicks dyke fag fuck fucked fucking fucks hell
nigger pussy rape raped sex shit shits slut tit tits whore porn penis""".split())

VOICING = "P-B T-D K-G F-V S-Z SH-ZH CH-JH TH-DH"
NEAR = {
    0.3: VOICING,
    0.4: "M-N N-NG F-TH D-DH V-DH T-TH AH-IH AH-EH AH-AA AH-UH AH-ER IH-EH IH-IY EH-AE AA-AO UH-UW EH-EY AW-AO OW-AO AO-UH",
    0.6: "S-SH T-CH D-JH Z-JH L-W L-R P-T T-K P-K B-D D-G B-G S-TH Z-DH M-NG AE-AA AH-AE AH-AO AH-OW EY-AY EY-IH AY-AA OY-AO IY-EY OW-UW AW-AA AH-UW ER-AO ER-EH",
}
SUB = {}
for cost, pairs in NEAR.items():
    for pair in pairs.split():
        a, b = pair.split("-")
        SUB[a, b] = SUB[b, a] = cost
VOWELS = set("AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW".split())
WEAK = set("AH IH HH T D".split())


def gap(p):
    return 0.5 if p in WEAK else 0.8


def sub(a, b):
    if a == b:
        return 0.0
    if (a, b) in SUB:
        return SUB[a, b]
    return 0.9 if a in VOWELS and b in VOWELS else 1.3


def distance(x, y):
    row = [0.0]
    for p in y:
        row.append(row[-1] + gap(p))
    for p in x:
        new = [row[0] + gap(p)]
        for j, q in enumerate(y):
            new.append(min(row[j] + sub(p, q), row[j + 1] + gap(p), new[j] + gap(q)))
        row = new
    return row[-1]


CLASS = {}
for group in ("P B T D K G", "F V TH DH S Z SH ZH CH JH", "M N NG", "L R W", "Y", "HH"):
    for p in group.split():
        CLASS[p] = group[0]
for p in VOWELS:
    CLASS[p] = "*"


def keys(phones):
    """A word's rough shape, whole and with one or two sounds left out."""
    k = "".join(CLASS[p] for p in phones)
    out = {k} | {k[:i] + k[i + 1:] for i in range(len(k))}
    if len(k) > 6:
        out |= {o[:i] + o[i + 1:] for o in list(out) if len(o) < len(k) for i in range(len(o))}
    return out


def main(dict_path, arpa_path, trade_path, out_path):
    phones = defaultdict(list)
    for line in open(dict_path, encoding="utf-8"):
        word, *ps = line.split()
        phones[re.sub(r"\(\d+\)$", "", word)].append(tuple(ps))
    share, on = {}, False
    for line in open(arpa_path, encoding="utf-8", errors="replace"):
        if line.startswith("\\1-grams"):
            on = True
        elif line.startswith("\\2-grams"):
            break
        elif on and len(fields := line.split()) == 3:
            share[fields[1]] = float(fields[0])
    trade = []
    for line in open(trade_path, encoding="utf-8"):
        line = line.split("#")[0].strip()
        if not line:
            continue
        word, *ps = line.split()
        if ps:
            phones[word] = [tuple(ps)]
        if word not in phones:
            sys.exit(f"{trade_path}: no pronunciation of {word}; write one beside it")
        trade.append(word)

    fit = re.compile(r"^[a-z]+('[a-z]+)*$")
    ranked = [w for w in sorted(share, key=lambda w: (-share[w], w))
              if fit.match(w) and w in phones and (len(w) > 1 or w in "ai")]
    pool = ranked[:POOL] + [w for w in trade if w not in set(ranked[:POOL])]
    source = sorted(set(ranked[:COMMON]) | set(trade))
    parts = [w for w in dict.fromkeys(ranked[:PARTS] + trade)]
    rarity = {w: min(70, round(-10 * share.get(w, -7.0))) for w in pool}

    def usable(w):
        return w not in NUMBERS and w not in NEGATIONS and w not in RUDE and not w.endswith("n't")

    index = defaultdict(set)
    for w in pool:
        if usable(w):
            for ps in phones[w]:
                for k in keys(ps):
                    index[k].add((w, ps))

    lines = []
    for w in source:
        exact_only = not usable(w)
        best = {}
        for ps in phones[w]:
            limit = 0.0 if exact_only else min(0.3 * len(ps), 1.7)
            for k in keys(ps):
                for other, qs in index[k]:
                    if other == w:
                        continue
                    d = distance(ps, qs)
                    if d <= limit + 1e-9 and d < best.get(other, 99):
                        best[other] = d
        scored = sorted((d + 0.025 * max(0, rarity[o] - 30), o) for o, d in best.items())[:6]
        cands = [f"{o}:{max(1, round(9 * math.exp(-1.5 * s)))}" for s, o in scored]
        lines.append("\t".join(["s", w, str(rarity[w]), " ".join(cands)]))

    by_sound = defaultdict(list)
    for w in parts:
        if usable(w):
            for ps in phones[w]:
                if len(ps) >= 2 or w in ("a", "i"):
                    by_sound[ps].append(w)
    part_index = defaultdict(set)
    for ps in by_sound:
        for k in keys(ps):
            part_index[k].add(ps)

    def near(ps, most):
        """Sounds of words within most of ps, as (distance, sounds)."""
        seen = set().union(*(part_index[k] for k in keys(ps))) if ps else ()
        return [(d, qs) for d, qs in ((distance(ps, qs), qs) for qs in seen) if d <= most]

    for w in source:
        if not usable(w):
            continue
        found = {}
        for ps in phones[w]:
            if len(ps) < 4:
                continue
            for i in range(1, len(ps)):
                left, right = ps[:i], ps[i:]
                for dl, ls in near(left, 0.5):
                    for dr, rs in near(right, 0.5 - dl):
                        for a in by_sound[ls][:2]:
                            for b in by_sound[rs][:2]:
                                s = dl + dr + 0.025 * (rarity[a] + rarity[b])
                                if len(rs) + len(ls) >= 4 and w not in (a, b):
                                    found[f"{a}_{b}"] = min(s, found.get(f"{a}_{b}", 99))
        best = sorted((s, ab) for ab, s in found.items())[:4]
        if best:
            lines.append("\t".join(["p", w, " ".join(ab for _, ab in best)]))

    joins = {}
    known = set(source)
    for w in pool:
        if not usable(w) or rarity[w] > 62:
            continue
        for ps in phones[w]:
            for i in range(2, len(ps) - 1):
                for a in by_sound.get(ps[:i], ()):
                    for b in by_sound.get(ps[i:], ()):
                        if a in known and b in known and w not in (a, b):
                            old = joins.get((a, b))
                            if old is None or (rarity[w], w) < (rarity[old], old):
                                joins[a, b] = w
    for (a, b), w in sorted(joins.items()):
        lines.append("\t".join(["j", f"{a} {b}", w]))

    with open(out_path, "wb") as raw, gzip.GzipFile("", "wb", 9, raw, mtime=0) as f:
        f.write(("\n".join(lines) + "\n").encode())
    print(len(source), "words,", len(lines), "lines")


main(*sys.argv[1:])
