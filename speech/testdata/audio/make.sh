#!/bin/bash
# Speaks the phrases of the tests with synthetic voices, each cut by sox to begin and end with
# sound, and prints the list that the tests read. By hand, from any folder; no test runs it:
#
#	speech/testdata/audio/make.sh >speech/testdata/audio/phrases.tsv
#
# Needs espeak-ng and sox, and ffmpeg with flite for one of the voices (Debian: espeak-ng sox ffmpeg).
set -euo pipefail
cd "$(dirname "$0")"

# speak NAME VOICE SPEED WORDS: a voice of espeak-ng, or flite's slt where VOICE says so.
speak() {
	local name=$1 voice=$2 speed=$3 words=$4
	if [ "$voice" = flite-slt ]; then
		ffmpeg -v error -f lavfi -i "flite=voice=slt:text='$words'" -f wav -
	else
		espeak-ng -v "$voice" -s "$speed" --stdout "$words"
	fi | sox --ignore-length -t wav - -D -r 16000 -b 16 -c 1 -t wav - norm -3 |
		# What is quieter than 1 % of full scale, 37 dB below the peak, at either end is not speech.
		sox --ignore-length -t wav - -D "$name.wav" silence 1 0.005 1% reverse silence 1 0.005 1% reverse
	printf '%s\t%s\t%s\t%s\n' "$name.wav" "$voice" "$speed" "$words"
}

speak shaft en-us 150 "my steering shaft is straight and tight"
speak hoses en-us+f3 160 "the hoses are not leaking"
speak tread en-gb+m3 170 "four thirty seconds of tread on the steer tires"
speak slack en-gb-scotland+f2 150 "slack adjuster and push rod"
speak springs en-us+m7 140 "springs"
speak governor en-us+f4 165 "the governor cuts out at one hundred twenty five"
speak loss en-gb-x-rp+m1 155 "we lost two pounds in one minute"
speak lights en-us+f1 175 "all lenses are clean and amber to the front"
speak yes en-us+m2 150 "yes"
speak bolts flite-slt - "no cracks and no missing bolts"
