#!/bin/sh
# Speaks the sentences below with espeak-ng and writes them as unsigned bytes at 8 kS/s:
#   sh tests/data/make_voice.sh tests/data/voice_8k.u8
# Needs the Debian packages espeak-ng and sox. The result lies beside this file, so that tests need neither.
set -eu

out=$1
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT

n=10
# VOICE WORDS_A_MINUTE PITCH SENTENCE
say() {
	espeak-ng -v "$1" -s "$2" -p "$3" -w "$dir/$n.wav" "$4"
	sox "$dir/$n.wav" -r 8000 -c 1 "$dir/$n-8k.wav" norm -1
	n=$((n + 1))
}

say en-gb 160 40 'Control from four two, we are leaving the depot now, over.'
say en-us+f3 170 60 'Four two, understood. Your next delivery is at the north gate, ask for the keeper.'
say en-gb-scotland 150 30 'Harbour office, this is the pilot boat, entering the channel in about ten minutes.'
say en-gb+f2 175 65 'Pilot boat, thank you. Berth seven is clear, and the wind is north west, twelve knots.'
say en-us+m4 190 50 'Tower, glider three is ready for the tow on runway two six.'
say de+m2 160 35 'Werkstatt an Wagen neun, bitte melden Sie sich nach der Fahrt im Hof.'

sox "$dir"/*-8k.wav -t raw -e unsigned-integer -b 8 "$out" norm -1
