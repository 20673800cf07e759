#!/bin/sh
# The demo: a faulty take of the invented singer, or a person's own recording, through the whole chain.
#   tests/harness/demo.sh BUILD [VOCAL] [VOICE]
# Makes BUILD/demo with mixed.wav, report.txt and report.html in it (the singer's take is raw.wav there), and prints the report. Nothing that is there is touched: where
# BUILD/demo is taken it is BUILD/demo-2, and so on, so VOCAL may be anything, a file of an earlier demo too. A run that fails leaves
# nothing, and its exit status is render's. A take without a voice is done like any other, and the last words say so: status 0.
set -eu
build=$1
vocal=${2:-}
voice=${3:-}

demo=$build/demo
number=1
until mkdir "$demo" 2>/dev/null; do
    if [ ! -e "$demo" ] && [ ! -L "$demo" ]; then
        echo "demo: $demo: this folder cannot be made" >&2
        exit 1
    fi
    number=$((number + 1))
    demo=$build/demo-$number
done
trap 'rm -rf "$demo"' EXIT
trap 'exit 1' HUP INT TERM

if [ -z "$vocal" ]; then
    voice=${voice:-mezzo}
    # Recorded too quietly and too close in a lively, boxy room; phrases that differ; some esses that explode. Not in every
    # take they stand out: a soft one, or one in a soft phrase, is an ordinary one once it is raised. In this one they do.
    "$build/singer" --voice "$voice" --seed 10 --seconds 30 --gain -13 --uneven 5 --boxy 330:7:3 --boxy 820:5:4 \
        --esses 14:0.3 --pops 2 --breath -28 --hiss -52 --room 0.35:-16 "$demo/raw.wav"
    echo "A faulty take of the invented singer: quiet, uneven, boxy, some esses too loud. Its truth is in $demo/raw.txt." \
        >"$demo/report.txt"
    echo >>"$demo/report.txt"
    vocal=$demo/raw.wav
else
    : >"$demo/report.txt"
fi
status=0
"$build/render" ${voice:+--voice "$voice"} -o "$demo/mixed.wav" --report "$demo/report.html" -- "$vocal" \
    >>"$demo/report.txt" || status=$?
[ "$status" = 0 ] || [ "$status" = 13 ] || exit "$status" # 13: no voice was heard
trap - EXIT
cat "$demo/report.txt"
echo
echo "Look at $demo/report.html, in a browser: it shows the take and its mix, and plays both at one loudness."
echo "Listen to $vocal and $demo/mixed.wav. The mix can be much louder than the take: turn down before you play it."
if [ "$status" = 13 ]; then
    echo "No voice was heard in this take, so no plug-in learned from it: mixed.wav was made with presets or defaults as they are."
fi
