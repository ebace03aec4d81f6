#!/bin/bash
# Speaks an invented attempt with a synthetic voice, sentence by sentence, and writes the recording
# with captions that lie where the sentences are. By hand, from any folder; no test runs it:
#
#	testdata/attempts/sound/make.sh
#
# Needs espeak-ng and sox (Debian: espeak-ng sox).
set -euo pipefail
cd "$(dirname "$0")"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
parts=() at=0 number=0

# stamp SAMPLES is the time of a caption.
stamp() {
	local ms=$(($1 / 16))
	printf '%02d:%02d:%02d,%03d' $((ms / 3600000)) $((ms / 60000 % 60)) $((ms / 1000 % 60)) $((ms % 1000))
}

# say PAUSE CAPTION [SPOKEN]: the seconds of silence before it, what the transcript writes, and
# what is spoken where that is spelled otherwise.
say() {
	local pause=$1 caption=$2 spoken=${3:-$2} file
	number=$((number + 1))
	file=$work/$number.wav
	espeak-ng -v en-us+m3 -s 165 --stdout "$spoken" |
		sox -V1 --ignore-length -t wav - -D -r 16000 -b 16 -c 1 -t wav - norm -3 |
		# What is quieter than 1 % of full scale at either end is not speech.
		sox -V1 --ignore-length -t wav - -D "$work/bare.wav" silence 1 0.005 1% reverse silence 1 0.005 1% reverse
	sox -D "$work/bare.wav" "$file" pad "$pause" 0
	parts+=("$file")
	local samples
	samples=$(soxi -s "$work/bare.wav")
	at=$((at + $(soxi -s "$file") - samples))
	printf '%d\n%s --> %s\n%s\n\n' "$number" "$(stamp $at)" "$(stamp $((at + samples)))" "$caption" >>"$work/captions"
	at=$((at + samples))
}

say 1.0 "Moving on to the steering axle."
say 0.6 "The steering box is mounted securely and it is not leaking."
say 0.6 "The drag link and the tie rod are not bent, worn or broken."
say 0.7 "On the steer tire, the tread depth has to be at least 2/32 of an inch." \
	"On the steer tire, the tread depth has to be at least two thirty seconds of an inch."
say 0.4 "The tire has no cuts or bulges."
say 0.6 "The rim is not bent or cracked."
say 0.5 "No missing or loose lug nuts."
say 2.0 "My brake hoses are not cut and not leaking."
say 0.6 "The brake chamber is mounted securely."
say 0.5 "The drum is not cracked."
say 0.8 "The leaf springs are not broken or shifted, and the U-bolts are tight."
say 0.6 "The shock absorber is mounted securely and not leaking."

# Eight bits are enough for one voice without noise, and half the size.
sox -D "${parts[@]}" -b 8 S-020.wav pad 0 0.5
cp "$work/captions" S-020.srt
