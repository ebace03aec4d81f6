#!/bin/bash
# Speaks one invented attempt with a synthetic voice, lets a recognizer hear it, writes what was
# heard as FOLDER/ID-heard.ctm and prints the word error rate. Run by hand from the top of the
# repository; no test runs it:
#
#	testdata/attempts/recognizer/hear.sh [ID [VOICE [SPEED]]]
#
# Needs espeak-ng, sox, pocketsphinx with its American English model, and sclite (sctk);
# DICTIONARY names the model's cmudict-en-us.dict where Debian's package does not.
set -euo pipefail

id=${1:-c1} voice=${2:-en-us} speed=${3:-140}
folder=testdata/attempts
gap=0.7 # seconds of silence between breaths
for tool in espeak-ng sox soxi pocketsphinx_continuous sctk go; do
	command -v "$tool" >/dev/null || { echo "hear.sh: $tool is missing, install it first" >&2; exit 1; }
done
dictionary=${DICTIONARY:-$(dpkg -L pocketsphinx-en-us | grep 'cmudict-en-us\.dict$')}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

program=$work/recognizer
go build -o "$program" ./$folder/recognizer
"$program" prepare $folder "$id" "$dictionary" "$work"

# One sound file a breath, with its silence in front, then all in a row. Dither stays on, since dead
# silence upsets the recognizer, and -R makes it the same noise each time.
n=0
while IFS=$'\t' read -r silence text; do
	n=$((n + 1))
	part=$(printf '%s/part%04d.wav' "$work" $n)
	espeak-ng -v "$voice" -s "$speed" -w "$work/breath.wav" -- "$text"
	sox -R "$work/breath.wav" -r 16000 -c 1 -b 16 "$part" pad "$(echo "$silence $gap" | awk '{print $1 + $2}')" 0
done <"$work/lines.tsv"
sox -R "$work"/part*.wav "$work/spoken.wav"

pocketsphinx_continuous -infile "$work/spoken.wav" -time yes \
	-lm "$work/domain.lm" -dict "$work/domain.dict" >"$work/heard.txt" 2>"$work/log.txt" ||
	{ tail -n 5 "$work/log.txt" >&2; exit 1; }
"$program" ctm "$id-heard" <"$work/heard.txt" >"$work/heard.ctm"
mv "$work/heard.ctm" "$folder/$id-heard.ctm"

# The score is of the words alone, in one line; the times are not compared.
echo "$(cat "$work/ref.txt") (${id}_1)" >"$work/ref.trn"
echo "$(grep -v '^;;' "$folder/$id-heard.ctm" | cut -d' ' -f5 | tr '\n' ' ') (${id}_1)" >"$work/hyp.trn"
sctk sclite -r "$work/ref.trn" trn -h "$work/hyp.trn" trn -i spu_id -o dtl stdout |
	grep -E '^Percent |^Ref\. words|^Hyp\. words'
echo "spoken: $(soxi -D "$work/spoken.wav") seconds"
