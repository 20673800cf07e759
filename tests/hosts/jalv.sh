#!/bin/bash
# Every plug-in in jalv, all at once, on a JACK server of its own without hardware: tests/hosts/jalv.sh URI... (from run.sh, which
# prepares `room`). build/feed plays a file into all of them and records, frame for frame (see feed.c).
#
# Each plug-in runs twice, on hold:
# - with the state of a session, which jalv takes at its start (-l), and a control set while it runs;
# - with a factory preset that jalv's own command loads while it runs, and a control set after it. jalv 1.6 without a window loses a
#   preset's control values if the plug-in can take state while it runs (state:threadSafeRestore): it hands them to its
#   window. So this one is a copy of the bundle that does not say so, for which jalv pauses and sets them itself.
set -u
# shellcheck source=tests/hosts/common.sh
. "$(dirname "$0")/common.sh"
for tool in jackd jalv; do has $tool || { skip "jalv       all: $tool is not installed"; exit; }; done
[ -x "$build/feed" ] || { skip "jalv       all: the JACK headers are not installed"; exit; }

export JACK_DEFAULT_SERVER=linctus-$$ JACK_NO_START_SERVER=1 JACK_NO_AUDIO_RESERVATION=1
mkdir -p "$room/jalv" "$room/paused"
cp -r "$build/linctus.lv2" "$room/paused/"
sed -i 's/ , state:threadSafeRestore//' "$room"/paused/linctus.lv2/*.ttl

# -r: no real-time rights asked for.
jackd -n "$JACK_DEFAULT_SERVER" -r -d dummy -r 48000 -p 1024 >"$room/jackd.log" 2>&1 &
jack=$!
hosts=()
fifos=()
# jalv quits at the end of its commands. The server goes last: a client whose server is being stopped can wait for it for minutes,
# or for good. So nothing here waits without end, and what does not go is killed.
finish() {
    for fifo in "${fifos[@]}"; do exec {fifo}>&-; done
    gone 10 "${hosts[@]}" || kill -KILL "${hosts[@]}" 2>/dev/null
    kill $jack 2>/dev/null
    gone 10 $jack || kill -KILL $jack 2>/dev/null
}
gone() { # SECONDS PID...: whether all of them end within that time
    local until=$((SECONDS + $1)) pid
    shift
    for pid in "$@"; do
        while kill -0 "$pid" 2>/dev/null; do
            [ $SECONDS -lt $until ] || return 1
            sleep 0.1
        done
    done
}
trap finish EXIT
deadline=$((SECONDS + 60))
until jack_lsp >/dev/null 2>&1; do
    [ $SECONDS -lt $deadline ] && kill -0 $jack 2>/dev/null || { verdict 1 "jalv       all: jackd does not start"; exit; }
    sleep 0.1
done

# Starts jalv and gives it commands on its standard input, which stays open: at its end jalv quits.
host() { # CLIENT LV2_PATH URI COMMANDS OPTION...
    local client=$1 path=$2 uri=$3 commands=$4 fifo
    shift 4
    mkfifo "$room/jalv/$client.commands"
    LV2_PATH=$path jalv -x -n "$client" "$@" "$uri" <"$room/jalv/$client.commands" >"$room/jalv/$client.log" 2>&1 &
    hosts+=($!)
    exec {fifo}>"$room/jalv/$client.commands"
    fifos+=("$fifo")
    printf '%s\n' "$commands" >&"$fifo"
}

clients=()
for uri in "$@"; do
    name=${uri#urn:linctus:}
    set_to=$(setting "$uri")
    set_it="set ${set_to%=*} ${set_to#*=}"
    hold=()
    has_learn "$name" && hold=(-c learn=0)
    load=()
    [ -d "$room/saved/$name" ] && load=(-l "$room/saved/$name") && hold=()
    host "$name" "$LV2_PATH" "$uri" "$set_it" "${hold[@]}" "${load[@]}"
    clients+=("$name")
    has_presets "$uri" || continue
    has_learn "$name" && hold=(-c learn=0)
    host "$name-preset" "$room/paused" "$uri" "presets
preset $uri:preset:alto
$set_it" "${hold[@]}"
    clients+=("$name-preset")
done

# The control's echo is the last thing each prints.
for client in "${clients[@]}"; do
    uri=urn:linctus:${client%-preset}
    set_to=$(setting "$uri")
    until grep -q "^> ${set_to%=*} = " "$room/jalv/$client.log" || [ $SECONDS -ge $deadline ]; do sleep 0.1; done
done
text=$(bound "$build/feed" "$room/stereo.wav" "$room/jalv" "${clients[@]}" 2>&1)
status=$?
[ $status -eq 0 ] || { verdict 1 "jalv       all: $text"; exit; }

for uri in "$@"; do
    name=${uri#urn:linctus:}
    case $name in *-stereo) in=$room/stereo.wav ;; *) in=$room/mono.wav ;; esac
    settings=() what=
    has_learn "$name" && settings=(learn=0)
    [ -d "$room/saved/$name" ] && settings=("$room/saved/$name/") && what=', a saved state'
    reference "$uri" "$in" "$name-jalv-reference" "${settings[@]}" "$(setting "$uri")"
    compare "jalv       $name$what, a control set" "$room/jalv/$name.wav" "$room/$name-jalv-reference.wav" 0
    has_presets "$uri" || continue
    settings=("4 Alto")
    has_learn "$name" && settings+=(learn=0)
    reference "$uri" "$in" "$name-jalv-preset-reference" "${settings[@]}" "$(setting "$uri")"
    compare "jalv       $name, a factory preset and a control set" "$room/jalv/$name-preset.wav" "$room/$name-jalv-preset-reference.wav" 0
done
