#!/bin/bash
# Prints what NIST's sclite counts in a transcript: words spoken, correct, substituted, deleted
# and inserted, with tabs between.
#
#	testdata/attempts/recognizer/score.sh REF.txt HEARD.ctm
#
# The score is of the words alone, in one line; the times are not compared.
set -euo pipefail

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
echo "$(cat "$1") (attempt_1)" >"$work/ref.trn"
echo "$(grep -v '^;;' "$2" | cut -d' ' -f5 | tr '\n' ' ') (attempt_1)" >"$work/hyp.trn"
sctk sclite -r "$work/ref.trn" trn -h "$work/hyp.trn" trn -i spu_id -o dtl stdout | awk '
	/^Percent / { gsub(/[()]/, ""); n[$2] = $NF }
	/^Ref\. words/ { gsub(/[()]/, ""); n["Ref"] = $NF }
	END { printf "%d\t%d\t%d\t%d\t%d\n", n["Ref"], n["Correct"], n["Substitution"], n["Deletions"], n["Insertions"] }'
