#!/bin/bash
# Shows what the hints of a score sheet are worth to a recognizer: speaks open attempts with a
# synthetic voice, lets pocketsphinx hear each once with its own general language model and once
# with the one that "rubric hints" makes, and prints word error rate and agreement of both. Run by
# hand from the top of the repository; no test runs it:
#
#	testdata/attempts/recognizer/hints.sh ID ...
#
# Needs what hear.sh needs, and sphinx_lm_convert; MODEL names the folder of the general model where
# Debian's package does not.
set -euo pipefail

folder=testdata/attempts
for tool in espeak-ng sox pocketsphinx_continuous sphinx_lm_convert sctk go; do
	command -v "$tool" >/dev/null || { echo "hints.sh: $tool is missing, install it first" >&2; exit 1; }
done
model=${MODEL:-$(dirname "$(dpkg -L pocketsphinx-en-us | grep 'cmudict-en-us\.dict$')")}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

go build -o "$work/recognizer" ./$folder/recognizer
go build -o "$work/markaround" ./cmd/markaround
"$work/markaround" rubric hints class-a --as arpa -o "$work/hints.lm"
sphinx_lm_convert -i "$work/hints.lm" -o "$work/hints.bin" -ofmt bin 2>/dev/null

for id in "$@"; do
	dir=$work/$id
	mkdir "$dir"
	"$work/recognizer" prepare $folder "$id" "$model/cmudict-en-us.dict" "$dir" >/dev/null
	n=0
	while IFS=$'\t' read -r silence text; do
		n=$((n + 1))
		part=$(printf '%s/part%04d.wav' "$dir" $n)
		espeak-ng -v en-us -s 140 -w "$dir/breath.wav" -- "$text"
		sox -R "$dir/breath.wav" -r 16000 -c 1 -b 16 "$part" pad "$(echo "$silence 0.7" | awk '{print $1 + $2}')" 0 2>/dev/null
	done <"$dir/lines.tsv"
	sox -R "$dir"/part*.wav "$dir/spoken.wav"
	gold=$(grep -l "^$id," $folder/gold-*.csv | head -1)
	grep "^attempt,\|^$id," "$gold" >"$dir/gold.csv"
	echo "$(cat "$dir/ref.txt") (${id}_1)" >"$dir/ref.trn"
	for how in general hints; do
		lm=$model/en-us.lm.bin
		[ $how = hints ] && lm=$work/hints.bin
		pocketsphinx_continuous -infile "$dir/spoken.wav" -time yes -lm "$lm" -dict "$model/cmudict-en-us.dict" >"$dir/heard.txt" 2>/dev/null
		"$work/recognizer" ctm "$id" <"$dir/heard.txt" >"$dir/$id.ctm"
		echo "$(grep -v '^;;' "$dir/$id.ctm" | cut -d' ' -f5 | tr '\n' ' ') (${id}_1)" >"$dir/hyp.trn"
		echo "$id, $how"
		sctk sclite -r "$dir/ref.trn" trn -h "$dir/hyp.trn" trn -i spu_id -o dtl stdout | grep -E '^Percent Total Error'
		"$work/markaround" grade "$dir/$id.ctm" --with passenger -o "$dir/sheet.json" --force --quiet
		"$work/markaround" agree "$dir/gold.csv" "$dir/sheet.json" | grep '^  same mark '
	done
done
