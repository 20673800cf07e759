#!/bin/bash
# One plug-in in the hosts that read and write files: tests/hosts/batch.sh URI (from run.sh, which prepares `room`)
set -u
# shellcheck source=tests/hosts/common.sh
. "$(dirname "$0")/common.sh"
uri=$1
name=${uri#urn:linctus:}
case $name in *-stereo) in=$room/stereo.wav ;; *) in=$room/mono.wav ;; esac
set_to=$(setting "$uri")
symbol=${set_to%=*} value=${set_to#*=}
log=$room/$name.log
reference "$uri" "$in" "$name" "$set_to"

if has lv2apply; then
    bound lv2apply -i "$in" -o "$room/$name-lv2apply.wav" -c "$symbol" "$value" "$uri" >>"$log" 2>&1
    compare "lv2apply   $name" "$room/$name-lv2apply.wav" "$room/$name.wav" 0
else skip "lv2apply   $name: not installed"; fi

# Its last block is full length with a stale tail.
tail=$((frames % 512 + 512))
if has lv2file; then
    bound lv2file -i "$in" -o "$room/$name-lv2file.wav" -p "$symbol:$value" "$uri" >>"$log" 2>&1
    compare "lv2file    $name" "$room/$name-lv2file.wav" "$room/$name.wav" $tail
    if has_presets "$uri"; then
        bound lv2file -i "$in" -o "$room/$name-preset.wav" -P "4 Alto" "$uri" >>"$log" 2>&1
        reference "$uri" "$in" "$name-preset-reference" "4 Alto"
        compare "lv2file    $name, a factory preset" "$room/$name-preset.wav" "$room/$name-preset-reference.wav" $tail
    fi
    if [ -d "$room/saved/$name" ]; then
        bound lv2file -i "$in" -o "$room/$name-saved.wav" -P Saved "$uri" >>"$log" 2>&1
        reference "$uri" "$in" "$name-saved-reference" "$room/saved/$name/"
        compare "lv2file    $name, a saved preset" "$room/$name-saved.wav" "$room/$name-saved-reference.wav" $tail
    fi
else skip "lv2file    $name: not installed"; fi

# FFmpeg has another kissfft in its process, that of libcodec2, which rounds in another way: the one that the plug-in was
# linked with goes first.
kissfft=$(ldd "$build/linctus.lv2/floor.so" 2>/dev/null | sed -n 's/.*=> \(.*kissfft[^ ]*\).*/\1/p')
if [ -n "${ffmpeg_has_lv2:-}" ]; then
    LD_PRELOAD=$kissfft bound ffmpeg -v error -y -i "$in" -af "lv2=p=${uri//:/\\\\:}:c=$symbol=$value" -c:a pcm_f32le "$room/$name-ffmpeg.wav" >>"$log" 2>&1
    compare "FFmpeg     $name" "$room/$name-ffmpeg.wav" "$room/$name.wav" 0
else skip "FFmpeg     $name: not installed, or without its lv2 filter"; fi

# GStreamer starts on-off controls at off. Its element hands on as many channels as it takes.
element=${uri//:/-}
if [ "$name" = plate ] || [ "$name" = chain ]; then
    skip "GStreamer  $name: mono in and stereo out is not for this host"
elif has gst-launch-1.0 && gst-inspect-1.0 "$element" >/dev/null 2>&1; then
    bound gst-launch-1.0 -q filesrc location="$in" ! wavparse ! audioconvert ! "$element" enabled=true "${symbol//_/-}=$value" ! \
        audioconvert ! audio/x-raw,format=F32LE ! wavenc ! filesink location="$room/$name-gst.wav" >>"$log" 2>&1
    compare "GStreamer  $name" "$room/$name-gst.wav" "$room/$name.wav" 0
elif has gst-launch-1.0; then
    verdict 1 "GStreamer  $name: no element $element"
else skip "GStreamer  $name: not installed"; fi
