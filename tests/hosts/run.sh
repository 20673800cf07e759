#!/bin/bash
# Runs every plug-in of the bundle in real hosts and compares what comes out with the harness: tests/hosts/run.sh [BUILD]
# Hosts: lv2apply, lv2file, FFmpeg's lv2 filter, GStreamer's LV2 elements, jalv. Each plays with a control set by hand; those that load
# presets play with a factory preset, and with one that build/render saved, learned figures included. Ends with the line of sums; a
# host that is not installed is a skip and says so.
set -u
here=$(cd "$(dirname "$0")" && pwd)
build=$(cd "${1:-${LINCTUS_BUILD:-build}}" && pwd)
export build room=$build/hosts
export LV2_PATH=$room/lv2 GST_REGISTRY=$room/gst-registry.bin
jobs=${JOBS:-$(nproc 2>/dev/null || echo 2)}
rm -rf "$room"
mkdir -p "$room/lv2" "$room/lines"
cp -r "$build/linctus.lv2" "$room/lv2/"

# A take to play, a longer one to learn from, and the preset that a mix of it leaves.
{
    "$build/singer" --voice alto --seed 3 --rate 48000 --seconds 3 "$room/mono.wav" &&
        "$build/reference" stereo "$room/mono.wav" "$room/stereo.wav" &&
        "$build/singer" --voice alto --seed 3 --rate 48000 --seconds 15 "$room/long.wav" &&
        (cd "$room/lv2" && LV2_PATH='' "$build/render" --voice alto --save-preset Saved "$room/long.wav" -o "$room/mixed.wav")
} >"$room/prepare.log" 2>&1 || { cat "$room/prepare.log"; exit 1; }
frames=$("$build/reference" frames "$room/mono.wav")
export frames
# Each of its presets also the way a session is stored: a folder with a state.ttl.
for file in "$room"/lv2/Saved.lv2/*.ttl; do
    name=$(basename "$file" .ttl)
    mkdir -p "$room/saved/$name"
    cp "$file" "$room/saved/$name/state.ttl"
done
rmdir "$room/saved/manifest" 2>/dev/null || rm -rf "$room/saved/manifest"

# GStreamer's list of elements, made once, before several at a time would make it.
timeout 60 gst-inspect-1.0 urn-linctus-trim >/dev/null 2>&1
ffmpeg -hide_banner -filters 2>/dev/null | grep -q ' lv2 ' && export ffmpeg_has_lv2=1

plugins=$(sed -n 's/^<\(urn:linctus:[a-z-]*\)>$/\1/p' "$build/linctus.lv2/manifest.ttl")
printf '%s\n' "$plugins" | xargs -P "$jobs" -I{} sh -c '"$1" "$2" >"$room/lines/${2##*:}.batch" 2>&1; cat "$room/lines/${2##*:}.batch"' \
    sh "$here/batch.sh" {}
# shellcheck disable=SC2086
"$here/jalv.sh" $plugins 2>&1 | tee "$room/lines/jalv"

count() { cat "$room"/lines/* | grep -c "^$1 "; }
passed=$(count ok) failed=$(count FAILED) skipped=$(count skipped)
echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
