#!/bin/bash
# What every plug-in and the chain cost, beside general tools on the same take in the same run: tests/bench/run.sh BUILD NARROW
# NARROW: a build with vectors of four floats only (common-dsp/wide.h), as a plain x86-64 processor gets them; the five are raced
# with both. Writes BUILD/bench.txt, in tables, and prints it. Times are CPU time, the least of some runs; those of the tools are
# user and system time without what they take for a tenth of a second of the same take. Instructions are callgrind's, which counts
# the same on every run. All else that is raced is run in turns, so that what else the machine does falls on all alike.
set -eu
build=$1
narrow=$2
room=$build/bench-room
seconds=${SECONDS_OF_TAKE:-20}
rounds=${ROUNDS:-5}
bundle=$build/linctus.lv2
mkdir -p "$room"
rm -f "$room"/*.out* "$room"/*.txt

for tool in sox ffmpeg; do command -v $tool >/dev/null || { echo "needs $tool: tests/packages.sh all installs it"; exit 1; }; done
sing() { "$build/singer" --voice tenor --seed 1 --rate "$1" --seconds "$2" "$room/$3.wav" >/dev/null; }
sing 48000 120 long
sing 48000 "$seconds" take
sing 96000 "$seconds" take96
sing 48000 8 brief
sox -V1 "$room/long.wav" "$room/short.wav" trim 0 0.1

# seconds FILE COMMAND...: user and system time; FILE stands for TAKE in the command.
seconds() {
    local file=$1
    shift
    { TIMEFORMAT='%U %S'; time "${@/#TAKE/$file}" >/dev/null 2>&1; } 2>&1 | awk '{ print $1 + $2 }'
}

# tool NAME COMMAND...: adds a line to $room/race.txt, ns a frame of 120 s at 48 kHz.
tool() {
    local name=$1
    shift
    echo "$name|$(seconds "$room/long.wav" "$@") $(seconds "$room/short.wav" "$@")" |
        awk -F '[| ]' 'BEGIN { OFS = "|" } { n = NF; printf "%s|%.2f\n", substr($0, 1, index($0, "|") - 1), ($(n - 1) - $n) * 1e9 / (119.9 * 48000) }' \
        >>"$room/race.txt"
}

# ours BUILD VECTORS: adds what the five cost to $room/race.txt.
ours() {
    "$build/bench" race "$1/linctus.lv2" "$room/take.wav" |
        awk -F '|' -v vectors="$2" '{ print $1 ", " $3 ", " vectors "|" $6 }' >>"$room/race.txt"
}

for round in $(seq "$rounds"); do
    tool "SoX: low cut, three bells, shelf, compand, reverb" sox TAKE -n highpass 120 equalizer 250 1o -4 equalizer 390 1o -3 \
        equalizer 830 0.5o -5 treble 3 12000 compand 0.001,0.010 6:-60,-24,-14 0 -90 0 reverb 50
    tool "FFmpeg: low cut, three bells, shelf, compressor" ffmpeg -threads 1 -i TAKE -af \
        "highpass=f=120,equalizer=f=250:t=o:w=1:g=-4,equalizer=f=390:t=o:w=1:g=-3,equalizer=f=830:t=o:w=0.5:g=-5,treble=g=3:f=12000,acompressor=threshold=0.06:ratio=2.5:attack=1:release=10" \
        -f null -
    ours "$build" "the widest vectors"
    ours "$narrow" "vectors of four"
done
"$build/bench" pair "$bundle" "$room/take.wav" >"$room/pair.txt"
"$build/bench" rows "$bundle" "$room/take.wav" "$room/take96.wav" >"$room/rows.txt"
"$build/bench" blocks "$bundle" "$room/take.wav" >"$room/blocks.txt"
"$build/bench" memory "$bundle" "$room/take.wav" >"$room/memory.txt"
if command -v valgrind >/dev/null; then
    valgrind --tool=callgrind --instr-atstart=no --callgrind-out-file="$room/counts.out" \
        "$build/bench" counts "$bundle" "$room/brief.wav" >"$room/valgrind.log" 2>&1
    awk '/^desc: Trigger: Client Request: / { label = substr($0, 32) } /^(totals|summary): / { if (label) print label "|" $2; label = "" }' \
        "$room"/counts.out.* >"$room/counts.txt"
else
    echo "skipped: the instructions, without valgrind"
fi
touch "$room/counts.txt"

awk -v machine="$(uname -m), $(awk -F ': ' '/^model name/ { print $2; exit }' /proc/cpuinfo), $("${CC:-cc}" -dumpversion 2>/dev/null | sed 's/^/compiler /')" \
    -v eights="$(grep -cm 1 '^flags.* avx2' /proc/cpuinfo)" -f tests/bench/table.awk \
    "$room/race.txt" "$room/pair.txt" "$room/rows.txt" "$room/counts.txt" "$room/blocks.txt" "$room/memory.txt" >"$build/bench.txt"
cat "$build/bench.txt"
