#!/bin/sh
# Judges the limits in build/check-report.txt: tests/limits.sh [REPORT]
#
# A limit so wide that nothing could go wrong and still be noticed is no limit. The rule, written down here and nowhere
# else: a limit lies at most 20 times as far as what was measured, or as far as the floor of its unit where that is more.
#   at most L      L is at most 20 times the measured size; of a level in dB (below -6 dB, measured or allowed) 20 times
#                  is 26 dB, and -120 dB is near enough to nothing.
#   at least L     what was measured is at most 20 times L, or 26 dB over it where L is a level; where L is the little that
#                  something may fall short (-0.1 dB), that is at most 20 times the measured size.
#   E +-T          T is at most 20 times the distance of what was measured from E.
# Floors, for what measures 0 or nearly so: 0.01 dB (LU, LUFS, dB/s, dBTP too), 0.1 % (of E, where there is one; 1.8 cents
# or 0.018 semitones of a pitch), 1e-6 of full scale or of E where there is no unit, and one of whatever is counted.
#
# A figure says why its limit is wider in its source: "EBU Tech 3341; wide: the meter's tolerance there". A tolerance
# that somebody else wrote down is such a reason; our own, nearer, then stands beside it.
#
# Ends with a line of sums as tests/run.sh counts them; a report without figures is a failure.
set -eu
report=${1:-${LINCTUS_REPORT:-build/check-report.txt}}
if [ -n "${LINCTUS_SEEDS:-}${LINCTUS_ONLY:-}" ]; then
    echo "skipped limits: other takes, or some of the tests alone, measure something else than they were settled on"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
[ -s "$report" ] || { echo "$report: there is none; make check writes it"; echo "0 passed, 1 failed, 0 skipped"; exit 1; }

${AWK:-awk} -F ' *[|] +' '
    function size(x) { return x < 0 ? -x : x }
    function most(a, b) { return a > b ? a : b }
    function is_level(unit) { return unit ~ /^(dB|LU|LUFS|dBTP|dBFS)$/ }
    function floor_of(unit, around) {
        if (is_level(unit) || unit == "dB/s")
            return 0.01
        if (unit ~ /^%/ || unit == "points")
            return 0.1
        if (unit == "cents")
            return 1.8
        if (unit ~ /^(semitones|octaves)$/)
            return unit == "octaves" ? 0.0015 : 0.018
        if (unit ~ /^(samples|frames|takes|pops|bytes|sounds|steps)$/)
            return 1
        return around ? 0.001 * size(around) : 1e-6
    }
    # What may be allowed for what was measured, and what is.
    function too_wide(value, unit, limit,   word, allowed) {
        split(limit, word, " ")
        if (limit ~ /^at most/) {
            allowed = word[3]
            if (is_level(unit) && (allowed < -6 || value < -6))
                return allowed > most(value + 26.03, -120)
            return allowed > most(20 * size(value), floor_of(unit, 0))
        }
        if (limit ~ /^at least/) {
            allowed = word[3]
            if (is_level(unit) && size(allowed) >= 6)
                return value > allowed + 26.03
            if (allowed < 0 && value < -allowed)
                return -allowed > most(20 * size(value), floor_of(unit, 0))
            return value > most(20 * allowed, floor_of(unit, 0))
        }
        allowed = substr(word[2], 3) + 0
        return allowed > most(20 * size(value - word[1]), floor_of(unit, word[1])) * (1 + 1e-9)
    }

    NF >= 6 && $NF !~ /^(noted|timed)/ {
        ++figures
        unit = ""
        value = $3
        if (split($3, part, " ") > 1) { value = part[1]; unit = part[2] }
        wide = too_wide(value + 0, unit, $4)
        said = $5 ~ /; wide: [^ ]/
        reasons += said
        if (wide && !said) {
            ++bad
            printf "too wide: %s: %s: %s, limit %s\n", $1, $2, $3, $4
        }
    }
    END {
        printf "limits: %d figures, %d limits too wide, %d wide for a reason given\n", figures, bad, reasons
        if (!figures) bad = 1
        printf "%d passed, %d failed, 0 skipped\n", !bad, !!bad
        exit !!bad
    }
' "$report"
