#!/bin/bash
# Speaks one invented attempt with a synthetic voice, lets a recognizer hear it, writes what was
# heard as FOLDER/ID-heard.ctm and prints the word error rate. Run by hand from the top of the
# repository; no test runs it:
#
#	testdata/attempts/recognizer/hear.sh [ID [VOICE [SPEED [NOISE]]]]
#
# VOICE is one of espeak-ng's, SPEED is in words a minute. With NOISE, an idling engine that many
# dB below the voice is mixed in, and FOLDER/heard/ID-heard-VOICE-SPEED-NOISE.ctm and
# FOLDER/heard/ID.ref.txt are written, the words heard and the words spoken.
#
# Needs espeak-ng, sox, pocketsphinx with its American English model, and sclite (sctk);
# DICTIONARY names the model's cmudict-en-us.dict where Debian's package does not.
set -euo pipefail

id=${1:-c1} voice=${2:-en-us} speed=${3:-140} noise=${4:-}
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
	sox -R "$work/breath.wav" -r 16000 -c 1 -b 16 "$(printf '%s/voice%04d.wav' "$work" $n)"
done <"$work/lines.tsv"
sox -R "$work"/part*.wav "$work/spoken.wav"
seconds=$(soxi -D "$work/spoken.wav")

# level FILE... is the level of the sound in dB, by the square root of the mean square.
level() { sox "$@" -n stats 2>&1 | awk '/^RMS lev dB/ { print $4 }'; }
difference() { awk "BEGIN { print $1 - ($2) }"; }

name=$id-heard ctm=$folder/$id-heard.ctm how=()
if [ -n "$noise" ]; then
	# An invented diesel at idle: rumble that falls with the square of the frequency and beats 30
	# times a second (six cylinders, four strokes, 600 turns a minute), and as much power of clatter
	# that falls with the frequency, up to 4 kHz. Below 60 Hz a phone hears nothing.
	sox -R -n -r 16000 -c 1 -b 16 "$work/rumble.wav" synth "$seconds" brownnoise tremolo 30 50 highpass 60
	sox -R -n -r 16000 -c 1 -b 16 "$work/clatter.wav" synth "$seconds" pinknoise lowpass 4000 highpass 60
	for part in rumble clatter; do
		sox -R "$work/$part.wav" "$work/$part-even.wav" gain "$(difference -20 "$(level "$work/$part.wav")")"
	done
	sox -R -m -v 1 "$work/rumble-even.wav" -v 1 "$work/clatter-even.wav" "$work/engine.wav"
	# The level of the voice is that of the breaths, without the silence between them. All is 6 dB
	# softer than the voice alone, to leave room.
	wanted=$(difference "$(level "$work"/voice*.wav)" "$noise + 6")
	sox -R "$work/engine.wav" "$work/idle.wav" gain "$(difference "$wanted" "$(level "$work/engine.wav")")"
	sox -R "$work/spoken.wav" "$work/softer.wav" gain -6
	sox -R -m -v 1 "$work/softer.wav" -v 1 "$work/idle.wav" "$work/mixed.wav"
	mv "$work/mixed.wav" "$work/spoken.wav"

	short=${voice#en-}
	name=$id-heard-${short//+/}-$speed-$noise ctm=$folder/heard/$name.ctm
	how=("voice $voice, $speed words a minute, engine $noise dB below it, $(printf %.1f "$seconds") seconds")
	mkdir -p "$folder/heard"
	cp "$work/ref.txt" "$folder/heard/$id.ref.txt"
fi

pocketsphinx_continuous -infile "$work/spoken.wav" -time yes \
	-lm "$work/domain.lm" -dict "$work/domain.dict" >"$work/heard.txt" 2>"$work/log.txt" ||
	{ tail -n 5 "$work/log.txt" >&2; exit 1; }
"$program" ctm "$name" "${how[@]}" <"$work/heard.txt" >"$work/heard.ctm"
mv "$work/heard.ctm" "$ctm"

"$(dirname "$0")/score.sh" "$work/ref.txt" "$ctm"
echo "spoken: $seconds seconds"
