#!/bin/sh
# Keeps the figures in tests/EVIDENCE.md: tests/evidence.sh write REPORT puts those of REPORT there, which `make check` has
# written; without arguments it compares the report that LINCTUS_REPORT names with what stands there, as a test does.
# tests/evidence.sh note COMMAND WHAT RESULT writes the row of a longer run, with the date and the machine.
#
# Compared to the three digits that are printed: a figure may lie a tenth of a step past their rounding, so that one on the
# edge does not flip. Under 1e-6 it is a matter of the C library's last bits, and stands there as that. What depends on the machine (figure.h) is left out.
# Another machine or release has other speech, libraries and last bits: nothing is compared there, which is a skip.
set -eu
cd "$(dirname "$0")/.."
evidence=${LINCTUS_EVIDENCE:-tests/EVIDENCE.md}

machine() { (. /etc/os-release && echo "$(uname -m), $ID ${VERSION_ID:-}"); }

# rows REPORT: group, what was measured, value, unit, limit, source; tabs between, as EVIDENCE.md has them, sorted.
rows() {
    awk -F ' +[|] +' '
        function tidy(text) { gsub(/^ +| +$/, "", text); gsub(/\+-/, "± ", text); gsub(/[|]/, "\\|", text); return text }
        NF >= 6 && $6 !~ /timed|here/ {
            split(tidy($3), part, " ")
            key = tidy($1) "\t" tidy($2)
            if (++seen[key] > 1) key = key " (" seen[key] ")"
            printf "%s\t%s\t%s\t%s\t%s\n", key, part[1], part[2], tidy($4), tidy($5)
        }' "$1" | LC_ALL=C sort
}

# A figure as it is printed.
digits='function digits(x) { x += 0; return x == 0 ? "0" : x < 1e-6 && x > -1e-6 ? "under 1e-6" : x < 1e3 && x > -1e3 ? sprintf("%.3g", x) : sprintf("%.0f", sprintf("%.3g", x)) }'

# part NAME: puts what comes in between the two lines that mark the part.
part() {
    content=$(mktemp)
    cat >"$content"
    awk -v name="$1" -v content="$content" '
        /^<!-- end -->/ { within = 0 }
        !within
        index($0, "<!-- " name ":") == 1 { within = 1; while ((getline line <content) > 0) print line }
    ' "$evidence" >"$content.new"
    cat "$content.new" >"$evidence"
    rm -f "$content" "$content.new"
}

write() {
    [ -s "$1" ] || { echo "$1: there is none; make check writes it"; exit 1; }
    tests/report.sh "$1" | part nearest
    rows "$1" | awk -F '\t' -v machine="$(machine)" "$digits"'
        BEGIN { print "On " machine ":\n\n| part | figure | measured | limit | against |\n|---|---|---:|---|---|" }
        { printf "| %s | %s | %s%s | %s | %s |\n", $1, $2, digits($3), $4 ? " " $4 : "", $5, $6 }' | part figures
    echo "$evidence: $(rows "$1" | wc -l) figures"
}

# In the place of the row with the same command, or below all.
note() {
    row="| $2 | $3 | $(date +%Y-%m-%d) | $(machine) | \`$1\` |"
    awk -v row="$row" -v command="| \`$1\` |" '
        /^<!-- end -->/ && within { if (row) print row; within = 0 }
        within && substr($0, length($0) - length(command) + 1) == command { if (row) print row; row = ""; next }
        /^<!-- runs:/ { within = 1 }
        { print }
    ' "$evidence" >"$evidence.new"
    cat "$evidence.new" >"$evidence"
    rm -f "$evidence.new"
}

skip() {
    echo "skipped evidence.sh: $1"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
}

# What the programs that ran before left in $logs (run.sh): did one fail; did one skip a test?
failed() { cat "${logs:-/nowhere}"/*.status 2>/dev/null | grep -qv '^0$'; }
skipped() { grep -qs '^\[  SKIPPED' "${logs:-/nowhere}"/*.log; }

compare() {
    [ -z "${LINCTUS_SEEDS:-}${LINCTUS_TAKES:-}${LINCTUS_ONLY:-}" ] || skip "other takes than usual"
    grep -qxF "On $(machine):" "$evidence" || skip "$evidence is of another machine or release than $(machine)"
    ! failed || skip "a test failed"
    rows "$1" | awk -F '\t' -v gaps="$(skipped && echo 1 || echo 0)" "$digits"'
        # The step of the last of three digits.
        function step(x,   power) {
            for (power = 1e-8; power * 999.5 <= (x < 0 ? -x : x); power *= 10) { }
            return power
        }
        function near(x, printed,   off) {
            if (digits(x) == printed) return 1
            off = x - printed
            return printed !~ /under/ && (off < 0 ? -off : off) <= 0.6 * step(printed + 0)
        }
        function complain(text) { print text; ++wrong }
        NR == FNR {
            if (/^<!-- end -->/) within = 0
            if (within && /^[|] [^-]/ && split($0, cell, / [|] |^[|] | [|]$/) == 7 && cell[2] != "part") {
                key = cell[2] "\t" cell[3]; shown[key] = cell[4]; limit[key] = cell[5] "\t" cell[6]; ++stand
            }
            if (/^<!-- figures:/) within = 1
            next
        }
        {
            key = $1 "\t" $2; there[key] = 1; ++measured
            unit = $4 ? " " $4 : ""
            now = digits($3) unit
            if (!(key in shown)) { complain("not there yet: " $1 ": " $2 ": " now); next }
            length_of_number = length(shown[key]) - length(unit)
            same_unit = substr(shown[key], length_of_number + 1) == unit && (unit || shown[key] ~ /^(under )?[^ ]+$/)
            if (shown[key] != now && !(same_unit && near($3, substr(shown[key], 1, length_of_number))))
                complain($1 ": " $2 ": " now ", not " shown[key])
            else if (limit[key] != $5 "\t" $6) complain($1 ": " $2 ": limit " $5 " (" $6 "), not " limit[key])
        }
        END {
            for (key in shown)
                if (!(key in there)) {
                    if (gaps) ++missed
                    else { sub(/\t/, ": ", key); complain("no longer measured: " key) }
                }
            printf "tests/EVIDENCE.md: %d figures stand there, %d measured, %d not as they stand\n", stand, measured, wrong
            if (missed) printf "%d were not measured: a test was skipped\n", missed
            exit wrong > 0
        }' "$evidence" - && echo "1 passed, 0 failed, 0 skipped" && exit 0
    echo "If that is as it should be: make evidence, which takes the figures of this run"
    echo "0 passed, 1 failed, 0 skipped"
    exit 1
}

case ${1:-} in
write) write "$2" ;;
note) note "$2" "$3" "$4" ;;
'') compare "${LINCTUS_REPORT:?names no report}" ;;
*) echo "usage: tests/evidence.sh [write REPORT | note COMMAND WHAT RESULT]" && exit 2 ;;
esac
