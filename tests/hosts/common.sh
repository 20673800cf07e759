# What the scripts of this folder share; `build` and `room` are theirs. A line a check: ok, FAILED or skipped, then what.

verdict() { # STATUS TEXT
    if [ "$1" -eq 0 ]; then echo "ok      $2"; else echo "FAILED  $2"; fi
}
skip() { echo "skipped $1"; }
has() { command -v "$1" >/dev/null; }

# A host that hangs is a failed check, not a run without end. Two minutes: the slowest takes five seconds.
bound() { timeout --kill-after=5 120 "$@"; }

compare() { # LABEL OUTPUT REFERENCE TAIL
    local text
    text=$("$build/reference" compare "$2" "$3" "$4" 2>&1)
    verdict $? "$1: $text"
}

has_presets() { grep -q "^<$1:preset:alto>" "$build/linctus.lv2/manifest.ttl"; }
has_learn() { grep -q '"learn"' "$build/linctus.lv2/$1.ttl"; }

# A control that is heard, for each plug-in: a host that drops it gives other audio.
setting() {
    case $1 in
    *:trim* | *:chain*) echo "hand_trim=-3.5" ;;
    *:tone*) echo "air_lift=5.5" ;;
    *:compressor*) echo "makeup=2.5" ;;
    *:esses*) echo "catch_above=1.5" ;;
    *:phrase*) echo "most_up=2" ;;
    *:rests*) echo "noise_down=25" ;;
    *:floor*) echo "works_from=300" ;;
    *:plate*) echo "decay=1.5" ;;
    *) echo "enabled=1" ;;
    esac
}

# The harness's own: the plug-in's output for these settings, in NAME.wav.
reference() { # URI IN NAME SETTING...
    local uri=$1 in=$2 name=$3
    shift 3
    "$build/reference" run "$build/linctus.lv2" "$uri" "$in" "$room/$name.wav" 256 "$@" || verdict 1 "$name: reference"
}
