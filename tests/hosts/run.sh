#!/bin/bash
# Runs every plug-in of the bundle in real hosts and compares what comes out with the harness: tests/hosts/run.sh BUILD
# Hosts: lv2apply, lv2file, FFmpeg's lv2 filter, GStreamer's LV2 elements, jalv. Ends with the line of sums; a host that is not installed is a
# skip and says so.
set -u
build=$(cd "$1" && pwd)
room=$build/hosts
rm -rf "$room"
mkdir -p "$room/lv2"
cp -r "$build/linctus.lv2" "$room/lv2/"
export LV2_PATH=$room/lv2
export GST_REGISTRY=$room/gst-registry.bin
passed=0 failed=0 skipped=0
reference=$build/reference

verdict() { # STATUS TEXT
    if [ "$1" -eq 0 ]; then passed=$((passed + 1)); echo "ok      $2"; else failed=$((failed + 1)); echo "FAILED  $2"; fi
}
skip() { skipped=$((skipped + 1)); echo "skipped $1"; }
has() { command -v "$1" >/dev/null; }

# check LABEL OUTPUT REFERENCE SKIP TAIL
check() {
    local text
    text=$("$reference" compare "$2" "$3" "$4" "$5" 2>&1)
    verdict $? "$1: $text"
}

"$build/singer" --voice alto --seed 3 --rate 48000 --seconds 6 "$room/mono.wav" >/dev/null || exit 1
sox "$room/mono.wav" -b 32 -e float "$room/stereo.wav" remix 1 1v0.5 || exit 1
frames=$(sox --info -s "$room/mono.wav")

plugins=$(sed -n 's/^<\(urn:linctus:[a-z-]*\)>$/\1/p' "$build/linctus.lv2/manifest.ttl")
has_presets() { grep -q "^<$1:preset:alto>" "$build/linctus.lv2/manifest.ttl"; }
# A control that is heard, for each plug-in: a host that drops it gives other audio.
setting() {
    case $1 in
    *:trim*) echo "hand_trim=-3.5" ;;
    *:tone*) echo "dip1_depth=-5.5" ;;
    *:compressor*) echo "makeup=2.5" ;;
    *:esses*) echo "catch_above=1.5" ;;
    *:plate*) echo "decay=1.5" ;;
    *) echo "enabled=1" ;;
    esac
}

for uri in $plugins; do
    name=${uri#urn:linctus:}
    case $name in *-stereo) in=$room/stereo.wav ;; *) in=$room/mono.wav ;; esac
    set_to=$(setting "$uri")
    symbol=${set_to%=*} value=${set_to#*=}
    "$reference" run "$build/linctus.lv2" "$uri" "$in" "$room/$name.wav" 256 "$set_to" || { verdict 1 "$name: reference"; continue; }

    if has lv2apply; then
        lv2apply -i "$in" -o "$room/$name-lv2apply.wav" -c "$symbol" "$value" "$uri" >"$room/log" 2>&1
        check "lv2apply   $name" "$room/$name-lv2apply.wav" "$room/$name.wav" 0 0
    else skip "lv2apply $name"; fi

    # Its last block is full length with a stale tail.
    if has lv2file; then
        rm -f "$room/$name-lv2file.wav"
        lv2file -i "$in" -o "$room/$name-lv2file.wav" -p "$symbol:$value" "$uri" >"$room/log" 2>&1
        check "lv2file    $name" "$room/$name-lv2file.wav" "$room/$name.wav" 0 $((frames % 512 + 512))
        has_presets "$uri" && {
        rm -f "$room/$name-preset.wav"
        lv2file -i "$in" -o "$room/$name-preset.wav" -P "4 Alto" "$uri" >"$room/log" 2>&1
        "$reference" run "$build/linctus.lv2" "$uri" "$in" "$room/$name-preset-reference.wav" 512 "4 Alto"
        check "lv2file    $name, a preset" "$room/$name-preset.wav" "$room/$name-preset-reference.wav" 0 $((frames % 512 + 512))
        }
    else skip "lv2file $name"; fi

    if has ffmpeg && ffmpeg -hide_banner -filters 2>/dev/null | grep -q ' lv2 '; then
        ffmpeg -v error -y -i "$in" -af "lv2=p=${uri//:/\\\\:}:c=$symbol=$value" -c:a pcm_f32le "$room/$name-ffmpeg.wav" >"$room/log" 2>&1
        check "FFmpeg     $name" "$room/$name-ffmpeg.wav" "$room/$name.wav" 0 0
    else skip "FFmpeg $name"; fi

    # GStreamer starts on-off controls at off. Its element hands on as many channels as it takes.
    element=${uri//:/-}
    if [ "$name" = plate ]; then skip "GStreamer $name: mono in and stereo out is not for this host"
    elif has gst-launch-1.0 && gst-inspect-1.0 "$element" >/dev/null 2>&1; then
        gst-launch-1.0 -q filesrc location="$in" ! wavparse ! audioconvert ! "$element" enabled=true "${symbol//_/-}=$value" ! \
            audioconvert ! audio/x-raw,format=F32LE ! wavenc ! filesink location="$room/$name-gst.wav" >"$room/log" 2>&1
        check "GStreamer  $name" "$room/$name-gst.wav" "$room/$name.wav" 0 0
    elif has gst-launch-1.0; then verdict 1 "GStreamer  $name: no element $element"
    else skip "GStreamer $name"; fi
done

# jalv plays in real time through a JACK server without hardware. A recording of the plug-in's output, taken while a player feeds
# it, has to lie somewhere in what the harness makes of the same file on hold; a machine too busy to keep up gets three tries.
jalv_audio() { # URI NAME IN
    local port_in port_out text
    sleep 1
    port_in=$(jack_lsp "$2:" | grep -m 1 ':in') port_out=$(jack_lsp "$2:" | grep -m 1 ':out')
    gst-launch-1.0 -q filesrc location="$room/mono.wav" ! wavparse ! audioconvert ! audioresample ! \
        jackaudiosink connect=0 client-name=player >"$room/player.log" 2>&1 &
    for _ in $(seq 30); do jack_lsp player: 2>/dev/null | grep -q player && break; sleep 0.1; done
    jack_connect player:out_player_1 "$port_in" 2>/dev/null || jack_connect "$(jack_lsp player: | head -n 1)" "$port_in"
    case $2 in *-stereo) jack_connect "$(jack_lsp player: | head -n 1)" "$2:in_right" ;; esac
    sleep 1
    timeout 20 jack_rec -f "$room/$2-jalv.wav" -d 2 -b 16 "$port_out" >"$room/rec.log" 2>&1
    kill %gst-launch-1.0 2>/dev/null
    text=$("$reference" near "$room/$2-hold.wav" "$room/$2-jalv.wav" -80)
    local status=$?
    echo "$text"
    return $status
}

jalv_one() { # URI NAME
    local set_to text status=1
    set_to=$(setting "$1")
    case $2 in *-stereo) sox "$room/mono.wav" -b 32 -e float "$room/both.wav" remix 1 1 2>/dev/null ;; *) cp "$room/mono.wav" "$room/both.wav" ;; esac
    local hold=
    grep -q '"learn"' "$build/linctus.lv2/$2.ttl" && hold=learn=0
    local preset=()
    has_presets "$1" && preset=("4 Alto")
    "$reference" run "$build/linctus.lv2" "$1" "$room/both.wav" "$room/$2-hold.wav" 256 "${preset[@]}" $hold "$set_to" >/dev/null
    for _ in 1 2 3; do
        { printf '%s\n%s\nset %s %s\ncontrols\nmonitors\n' "$(has_presets "$1" && printf 'presets\npreset %s:preset:alto' "$1")" "${hold:+set learn 0}" "${set_to%=*}" "${set_to#*=}"
          sleep 8; } | timeout 30 jalv -n "$2" "$1" >"$room/jalv-$2.log" 2>&1 &
        text=$(jalv_audio "$1" "$2")
        status=$?
        wait %% 2>/dev/null
        [ $status -eq 0 ] && break
    done
    verdict $status "jalv       $2, a preset and a control set: $text"
}

jalv_all() {
    jackd -r -d dummy -r 48000 -p 4096 >"$room/jackd.log" 2>&1 &
    local jack=$! tries=0
    until jack_lsp >/dev/null 2>&1 || [ $((tries += 1)) -gt 50 ]; do sleep 0.1; done
    for uri in $plugins; do jalv_one "$uri" "${uri#urn:linctus:}"; done
    kill $jack
    wait $jack 2>/dev/null
}
if has jackd && has jalv && has jack_rec && has gst-launch-1.0; then jalv_all; else skip "jalv"; fi

echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
