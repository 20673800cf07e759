#!/bin/bash
# Speed of every plug-in beside general tools on the same take, in the same run: tests/bench/run.sh BUILD
# CPU seconds (user and system) for 120 s of mono at 48 kHz, the least of three runs; the tools' file reading and writing counts in
# theirs, so that a row `file in, file out` tells what that alone costs.
set -u
build=$1
room=$build/bench-room
mkdir -p "$room"
take=$room/take.wav
"$build/singer" --voice tenor --seed 1 --rate 48000 --seconds 120 "$take" >/dev/null || exit 1
command -v sox >/dev/null && command -v ffmpeg >/dev/null || { echo "needs sox and ffmpeg"; exit 1; }

# row LABEL COMMAND...
row() {
    local label=$1 least=999999 took
    shift
    for _ in 1 2 3; do
        took=$( { TIMEFORMAT='%U %S'; time "$@" >/dev/null 2>&1; } 2>&1 | awk '{ print $1 + $2 }')
        least=$(awk -v a="$least" -v b="$took" 'BEGIN { print (b < a) ? b : a }')
    done
    awk -v l="$label" -v t="$least" 'BEGIN { printf "%-44s %8.3f s %8.0f x\n", l, t, (t > 0 ? 120 / t : 0) }'
}

echo "What                                         CPU for 120 s   times as fast as it plays   silence after it, beside it"
"$build/bench" "$build/linctus.lv2" "$take" || exit 1
echo
echo "General tools                                CPU for 120 s   times as fast as it plays"
row "SoX: file in, file out" sox "$take" -b 32 -e float "$room/out.wav"
row "SoX: gain" sox "$take" -b 32 -e float "$room/out.wav" gain -3
row "SoX: high-pass, three bells, shelf" sox "$take" -b 32 -e float "$room/out.wav" \
    highpass 100 equalizer 250 1q -4 equalizer 400 1q -4 equalizer 800 1q -4 treble 4 12000
row "SoX: compand" sox "$take" -b 32 -e float "$room/out.wav" compand 0.001,0.01 6:-24,-18 0 -90 0.005
row "SoX: reverb" sox "$take" -b 32 -e float "$room/out.wav" reverb
row "FFmpeg: file in, file out" ffmpeg -y -threads 1 -i "$take" -c:a pcm_f32le "$room/out.wav"
row "FFmpeg: high-pass, three bells, shelf" ffmpeg -y -threads 1 -i "$take" -c:a pcm_f32le \
    -af "highpass=100,equalizer=250:t=q:w=1:g=-4,equalizer=400:t=q:w=1:g=-4,equalizer=800:t=q:w=1:g=-4,treble=g=4:f=12000" "$room/out.wav"
row "FFmpeg: loudness measurement (ebur128)" ffmpeg -y -threads 1 -i "$take" -af ebur128=peak=true -f null -
row "build/render: the chain, listening and mixing" "$build/render" --voice tenor --replace "$take" -o "$room/mix.wav"
