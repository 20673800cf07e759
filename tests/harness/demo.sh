#!/bin/sh
# The demo: a faulty take of the invented singer, or a person's own recording, through the whole chain.
#   tests/harness/demo.sh BUILD [VOCAL] [VOICE]
# Leaves raw.wav, mixed.wav and report.txt in BUILD/demo and prints the report. What lay there before stays until the new
# one is done: VOCAL may be one of those files, and a VOICE that does not exist costs nothing.
set -eu
build=$1
vocal=${2:-}
voice=${3:-}
demo=$build/demo
new=$demo/new
rm -rf "$new"
mkdir -p "$new"
trap 'rm -rf "$new"' EXIT
trap 'exit 1' HUP INT TERM

if [ -z "$vocal" ]; then
    voice=${voice:-mezzo}
    # Recorded too quietly and too close in a lively, boxy room; phrases that differ; some esses that explode.
    "$build/singer" --voice "$voice" --seed 7 --seconds 30 --gain -13 --uneven 5 --boxy 330:7:3 --boxy 820:5:4 \
        --esses 13:0.25 --pops 2 --breath -28 --hiss -52 --room 0.35:-16 "$new/raw.wav"
    echo "A faulty take of the invented singer: quiet, uneven, boxy, some esses too loud. Its truth is in $demo/raw.txt." \
        >"$new/report.txt"
else
    # A switched-off Trim returns its input to the bit: whatever the recording's format, raw.wav is the same audio.
    "$build/render" --float --stages trim --set trim.enabled=off -- "$vocal" "$new/raw.wav" >/dev/null
    echo "raw.wav is $vocal" >"$new/report.txt"
fi
echo >>"$new/report.txt"
"$build/render" ${voice:+--voice "$voice"} "$new/raw.wav" "$demo/mixed.wav" >>"$new/report.txt"
rm -f "$demo/raw.txt"
mv "$new"/* "$demo/"
rmdir "$new"
cat "$demo/report.txt"
echo
echo "Listen to $demo/raw.wav and $demo/mixed.wav. The mix can be much louder than the take: turn down before you play it."
