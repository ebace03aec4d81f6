#!/usr/bin/env python3
"""Writes num2words.tsv.gz: numbers with their words as the library num2words
spells them (Debian package python3-num2words, version 0.5.10-2, LGPL-2.1+; only
its output is kept). Columns: kind, value, words.

  python3 make_table.py

Kinds: cardinal 0..9999; year (pairs, "nineteen fifty"); decimal; ordinal 1..99;
fraction, whose numerator and denominator are the library's and whose plural is
English: the library has no fractions.
"""
import gzip
import io
from num2words import num2words as words

out = io.StringIO()


def row(kind, value, text):
    out.write(f"{kind}\t{value}\t{text}\n")


for n in range(10000):
    row("cardinal", n, words(n))
for n in list(range(1300, 2000)) + list(range(2010, 2100)):
    row("year", n, words(n, to="year"))
for whole in range(0, 21):
    for part in ("1", "2", "3", "4", "5", "6", "7", "8", "9", "05", "25", "75", "125", "375"):
        row("decimal", f"{whole}.{part}", words(f"{whole}.{part}"))
for n in range(1, 100):
    row("ordinal", n, words(n, to="ordinal"))
names = {2: ("half", "halves"), 4: ("quarter", "quarters")}
for den in (2, 4, 8, 16, 32):
    for num in range(1, den):
        one, many = names.get(den) or (words(den, to="ordinal"), words(den, to="ordinal") + "s")
        row("fraction", f"{num}/{den}", f"{words(num)} {one if num == 1 else many}")

with open("num2words.tsv.gz", "wb") as f:
    with gzip.GzipFile("", "wb", 9, f, mtime=0) as z:
        z.write(out.getvalue().encode())
