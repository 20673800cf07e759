#!/bin/bash
# The repairs beside general tools that are meant for the same fault, on the same recorded voices, in one run: what each makes of
# them and what it costs. tests/bench/beside.sh BUILD; adds its tables to BUILD/bench.txt and prints them. Quality: means over the
# voices, each as tests/bench/beside/takes.h says. Cost: ns a frame, the least of some runs; of a tool user and system time without
# its start-up, of a plug-in CPU time on hold. Tools get more than the plug-ins know: the level of the noise, or the noise itself.
set -eu
build=$1
room=$build/bench-beside
voices=3
rounds=${ROUNDS:-3}
mkdir -p "$room"
rm -f "$room"/*.wav "$room"/*.txt
beside=$build/beside
for tool in sox ffmpeg; do command -v $tool >/dev/null || { echo "needs $tool: tests/packages.sh all installs it"; exit 1; }; done
LINCTUS_BUILD=$build "$beside" make "$room"

for v in $(seq 0 $((voices - 1))); do
    sox -V1 "$room/noise-$v.wav" -n noiseprof "$room/profile-$v.txt"
    LINCTUS_BUILD=$build "$beside" level "$v" >"$room/level-$v.txt"
done
sox -V1 "$room/floor-0.wav" "$room/long.wav" repeat 4
sox -V1 "$room/floor-0.wav" "$room/short.wav" trim 0 0.1
frames=$(soxi -s "$room/long.wav")

# filled COMMAND VOICE: %n stands for 12 dB under the voice's level in dB, which is 8 over the noise and served afftdn best of what
# was tried; %g for an amplitude 35 dB under the voice; %p for the profile of the noise.
filled() {
    awk -v command="$1" -v level="$(cat "$room/level-$2.txt")" -v profile="$room/profile-$2.txt" 'BEGIN {
        gsub(/%n/, sprintf("%.1f", level - 12), command); gsub(/%g/, sprintf("%.6f", 10 ^ ((level - 35) / 20)), command)
        gsub(/%p/, profile, command); print command }'
}

# worked TOOL COMMAND IN OUT VOICE
worked() {
    local command
    command=$(filled "$2" "$5")
    # shellcheck disable=SC2086
    case $1 in
        sox) sox -V1 "$3" -e floating-point -b 32 "$4" $command ;;
        ffmpeg) ffmpeg -nostdin -loglevel error -threads 1 -y -i "$3" -af "$command" -c:a pcm_f32le "$4" ;;
        render) rm -f "$4" && "$build/render" --bits float --voice none $command "$3" -o "$4" >/dev/null ;;
    esac
}

seconds() {
    local TIMEFORMAT='%U %S'
    { time worked "$@" >/dev/null 2>&1; } 2>&1 | awk '{ print $1 + $2 }'
}

# cost TOOL COMMAND: ns a frame
cost() {
    for round in $(seq "$rounds"); do
        echo "$(seconds "$1" "$2" "$room/long.wav" "$room/out.wav" 0) $(seconds "$1" "$2" "$room/short.wav" "$room/out.wav" 0)"
    done | awk -v frames="$frames" '{ took = ($1 - $2) * 1e9 / (frames - 4800); least = NR == 1 || took < least ? took : least } END { printf "%.1f", least }'
}

# row FAULT TOOL COMMAND NAME NS
row() {
    for v in $(seq 0 $((voices - 1))); do
        worked "$2" "$3" "$room/$1-$v.wav" "$room/out.wav" "$v"
        worked "$2" "$3" "$room/clean-$v.wav" "$room/still.wav" "$v"
        LINCTUS_BUILD=$build "$beside" judge "$1" "$v" "$room/out.wav" "$room/still.wav"
    done | awk -v name="$4" -v ns="$5" '{ a += $1; b += $2; c += $3 } END { printf "| %s | %s | %.1f | %.1f | %.2f |\n", name, ns, a / NR, b / NR, c / NR }'
}

# ours FAULT OPTIONS NAME [NS]: nothing where the bundle has no such plug-in.
ours() {
    [ -e "$build/linctus.lv2/$1.ttl" ] || return 0
    row "$1" render "$2" "$3" "${4-$("$beside" time "$build/linctus.lv2" "$1" "$room/$1-0.wav")}"
}

tool() { row "$1" "$2" "$3" "$4" "$(cost "$2" "$3")"; }

head() { printf '\n| %s | ns a frame | %s | %s | a clean take changes by, %% of its energy, phase counted |\n|---|---:|---:|---:|---:|\n' "$@"; }

{
    printf '\nBeside general tools: %s recorded voices, means.\n' "$voices"

    head "noise 20 dB under the voice, 10 dB asked for" "less noise in the rests, dB" "segmental signal to noise better by, dB"
    ours floor "--stages floor" "Floor"
    tool floor ffmpeg "afftdn=nr=10:nf=%n" "FFmpeg afftdn, told the noise's level"
    tool floor ffmpeg "anlmdn=s=3" "FFmpeg anlmdn, strength 3"
    tool floor sox "noisered %p 0.2" "SoX noisered, given the noise itself"

    head "hum of 50 Hz and its harmonics to 500 Hz, 20 dB under the voice" "hum and damage down by, dB" "down in the rests by, dB"
    ours hum "--stages hum" "Hum"
    notches=$(for k in 1 2 3 4 5 6 7 8 9 10; do printf 'bandreject=f=%d:t=h:w=2,' $((50 * k)); done)
    tool hum ffmpeg "${notches%,}" "FFmpeg, ten bandrejects 2 Hz wide, told the frequency"
    tool hum sox "$(for k in 1 2 3 4 5 6 7 8 9 10; do printf 'bandreject %d 2h ' $((50 * k)); done)" "SoX, the same"

    if [ -e "$build/linctus.lv2/ticks.ttl" ]; then
        head "30 clicks" "of them gone, %" "segmental signal to noise of the clicks better by, dB"
        ours ticks "--stages ticks" "Ticks"
        tool ticks ffmpeg "adeclick" "FFmpeg adeclick"
    fi

    head "a pop at every phrase" "bursts under 200 Hz down by, dB" "the voice's lows elsewhere change by, dB"
    ours pops "--stages pops" "Pops"
    tool pops ffmpeg "highpass=f=120" "FFmpeg highpass, 120 Hz"
    tool pops sox "highpass 120" "SoX highpass, 120 Hz"

    head "noise 45 dB under the voice and breath, 10 dB asked for" "less noise in the rests, dB" "word ends changed by less than 1 dB, %"
    ours rests "--stages rests" "Rests"
    tool rests ffmpeg "agate=threshold=%g:range=0.316:attack=5:release=150" "FFmpeg agate, told the level"

    head "phrases 5 dB up and down in turn" "from the faintest to the loudest then, dB" "the rest that is lifted most, dB"
    ours phrase "--repair phrase --stages trim --set trim.enabled=off" "render --repair phrase" ""
    ours phrase "--stages phrase" "Phrase"
    tool phrase ffmpeg "dynaudnorm=f=500:g=15" "FFmpeg dynaudnorm"
    tool phrase ffmpeg "speechnorm" "FFmpeg speechnorm"
} | tee "$room/table.txt"
cat "$room/table.txt" >>"$build/bench.txt"
