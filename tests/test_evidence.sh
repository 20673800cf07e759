#!/bin/bash
# Tests of tests/evidence.sh, on an evidence file and reports of their own. A line a check, then the line of sums.
set -u
cd "$(dirname "$0")/.." || exit 1
room=$(mktemp -d)
trap 'rm -rf "$room"' EXIT
passed=0 failed=0
unset LINCTUS_SEEDS LINCTUS_TAKES LINCTUS_ONLY
export LINCTUS_EVIDENCE=$room/EVIDENCE.md LINCTUS_REPORT=$room/report logs=$room/logs
mkdir "$logs"

cat >"$LINCTUS_EVIDENCE" <<'END'
What stands around the tables stays.
<!-- runs: written by tests/evidence.sh note -->
| Takes | 5 | 2001-01-01 | a machine | `make takes` |
<!-- end -->
<!-- nearest: written by make evidence -->
old
<!-- end -->
<!-- figures: written by make evidence -->
old
<!-- end -->
END

cat >"$room/good" <<'END'
Tone        | dip, to 18 kHz: error                                              |     0.093892 dB       | at most 0.25           | requirement                      | ok
Tone        | click |of a bell|                                                  |   -90.490000 dB       | at most -60            | Someone 1999                     | ok
Loudness    | K coefficients off the table                                       |   8.8818e-16          | at most 1e-10          | BS.1770 table, 48 kHz [T]        | ok
Plate       | T30 off the control                                                |       -7.609 %        | 0 +-10                 | ISO 3382-1 T30 [M]               | ok
Singer      | peak of breath noise                                               |         1634 Hz       | 1650 +-300             | phonetics                        | ok
Suite       | takes                                                              |           12          | -                      | -                                | noted
Suite       | takes                                                              |           13          | -                      | -                                | noted
Suite       | costliest block                                                    |          2.4 times    | -                      | -                                | timed
Suite       | memory                                                             |         4096 bytes    | at most 1e+06          | requirement                      | ok here
END

# report SED...: what was measured, other than in the good one.
report() { sed "$@" "$room/good" >"$LINCTUS_REPORT"; }
compare() { tests/evidence.sh >"$room/out" 2>&1; }
says() { grep -qF -- "$1" "$room/out"; }
holds() { grep -qxF -- "$1" "$LINCTUS_EVIDENCE"; }
check() { # WHAT COMMAND...
    if "${@:2}"; then passed=$((passed + 1)); else failed=$((failed + 1)) && echo "FAILED: $1" && cat "$room/out"; fi
}
fits() { compare && says "1 passed, 0 failed, 0 skipped"; }
skips() { compare && says "0 passed, 0 failed, 1 skipped"; }
differs() { ! compare && says "$1" && says "make evidence" && says "0 passed, 1 failed, 0 skipped"; }

report -e ''
check "without a table there is nothing to compare" skips
check "writes" tests/evidence.sh write "$LINCTUS_REPORT" >"$room/out"
check "a figure to three digits" holds '| Tone | dip, to 18 kHz: error | 0.0939 dB | at most 0.25 | requirement |'
check "a bar within a cell" holds '| Tone | click \|of a bell\| | -90.5 dB | at most -60 | Someone 1999 |'
check "the last bits" holds '| Loudness | K coefficients off the table | under 1e-6 | at most 1e-10 | BS.1770 table, 48 kHz [T] |'
check "thousands" holds '| Singer | peak of breath noise | 1630 Hz | 1650 ± 300 | phonetics |'
check "a tolerance" holds '| Plate | T30 off the control | -7.61 % | 0 ± 10 | ISO 3382-1 T30 [M] |'
check "a figure that comes twice" holds '| Suite | takes (2) | 13 | - | - |'
check "the nearest" holds '| Plate | ISO 3382-1 T30 [M] | 1 | T30 off the control: -7.61 % (0 ± 10) |'
check "the text around" holds 'What stands around the tables stays.'
none_of() { ! grep -qE "$1" "$LINCTUS_EVIDENCE"; }
check "nothing old, and nothing of the machine" none_of '^old|costliest|memory'

check "compares" fits
report -e 's/0.093892/0.093954/' -e 's/-90.490000/-90.556/' -e 's/8.8818e-16/3.1e-09/' -e 's/2.4 times/3.2 times/'
check "a tenth of a step past the rounding is let pass" fits
report -e 's/0.093892/0.093981/'
check "a digit" differs 'Tone: dip, to 18 kHz: error: 0.094 dB, not 0.0939 dB'
report -e 's/1634/1637/'
check "a digit of thousands" differs 'peak of breath noise: 1640 Hz, not 1630 Hz'
report -e 's/8.8818e-16/0.0000021/'
check "the last bits, grown" differs 'K coefficients off the table: 2.1e-06, not under 1e-6'
report -e 's/-7.609/ 7.609/'
check "a sign" differs 'T30 off the control: 7.61 %, not -7.61 %'
report -e 's/0.25 /0.26 /'
check "a limit" differs 'limit at most 0.26'
report -e 's/0.093892 dB/0.093892 LU/'
check "a unit" differs '0.0939 LU, not 0.0939 dB'
report -e 's/T30 off/T20 off/'
check "a new figure" differs 'not there yet: Plate: T20 off the control: -7.61 %'
report -e '/Plate/d'
check "a figure that is gone" differs 'no longer measured: Plate: T30 off the control'
echo '[  SKIPPED ] the_plate' >"$logs/test_plate.log"
check "what was skipped need not be there" fits
check "and is told" says '1 were not measured'
rm "$logs/test_plate.log"
echo 1 >"$logs/test_tone.status"
check "after a failure nothing is compared" skips
rm "$logs/test_tone.status"
LINCTUS_SEEDS=3 check "with other seeds neither" skips
sed -i 's/^On .*:$/On another machine:/' "$LINCTUS_EVIDENCE"
check "on another machine neither" skips

: >"$room/empty"
refuses() { ! tests/evidence.sh write "$room/empty" >"$room/out" 2>&1; }
check "no report, nothing written" refuses
tests/evidence.sh note "make takes" "Takes" "6"
tests/evidence.sh note "make more" "More" "7"
check "a longer run in the place of the one before" none_of '\| 5 \|'
check "with its date" grep -qE "^\| Takes \| 6 \| $(date +%Y)-[0-9-]+ \| .* \| .make takes. \|\$" "$LINCTUS_EVIDENCE"
check "and a new one" grep -q '^| More | 7 | ' "$LINCTUS_EVIDENCE"

echo "$passed passed, $failed failed, 0 skipped"
[ "$failed" -eq 0 ]
