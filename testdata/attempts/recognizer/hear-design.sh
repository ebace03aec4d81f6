#!/bin/bash
# Hears every recording of design.tsv that FOLDER/heard lacks, one at a time, and scores all with
# sclite, into FOLDER/heard/sclite.tsv. Run by hand from the top of the repository; no test runs it:
#
#	testdata/attempts/recognizer/hear-design.sh
set -euo pipefail

here=$(dirname "$0")
heard=testdata/attempts/heard
scores=$(mktemp)
trap 'rm -f "$scores" "$heard/sclite.tsv.new"' EXIT
printf 'recording\tattempt\tvoice\tspeed\tnoise\twords\tcorrect\tsubstituted\tdeleted\tinserted\n' >"$scores"
while IFS=$'\t' read -r id voice speed noise; do
	case $id in '' | '#'* | attempt) continue ;; esac
	short=${voice#en-}
	name=$id-heard-${short//+/}-$speed-$noise
	[ -e "$heard/$name.ctm" ] || nice "$here/hear.sh" "$id" "$voice" "$speed" "$noise" </dev/null >&2
	printf '%s\t%s\t%s\t%s\t%s\t%s\n' "$name" "$id" "$voice" "$speed" "$noise" \
		"$("$here/score.sh" "$heard/$id.ref.txt" "$heard/$name.ctm")" >>"$scores"
done <"$here/design.tsv"
cp "$scores" "$heard/sclite.tsv.new"
mv "$heard/sclite.tsv.new" "$heard/sclite.tsv"
cat "$heard/sclite.tsv"
