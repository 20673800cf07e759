#!/bin/sh
# Turns build/check-report.txt, which `make check` writes, into the first table of EVIDENCE.md: tests/report.sh [-a] [REPORT]
#
# A row for each group and source from outside (-a: our own requirements too): how many figures were checked, and the one
# that came nearest to its limit, or went past it, with what was measured and what was allowed. Figures without a limit
# are not in it.
set -eu
all=0
[ "${1:-}" = -a ] && { all=1; shift; }
report=${1:-build/check-report.txt}
[ -s "$report" ] || { echo "$report: there is none; make check writes it" >&2; exit 1; }

awk -F ' +[|] +' -v all="$all" '
    # How much of what its limit allows a figure takes up: 1 is the limit itself. Limits that are 0, or floors below 0,
    # leave no share to speak of: those figures rank last.
    function used(value, limit,   word, room) {
        split(limit, word, " ")
        if (limit ~ /^at most/)
            return word[3] > 0 ? value / word[3] : word[3] < 0 && value < 0 ? word[3] / value : 0
        if (limit ~ /^at least/)
            return value > 0 && word[3] > 0 ? word[3] / value : 0
        room = substr(word[2], 3)
        return room > 0 ? (value > word[1] ? value - word[1] : word[1] - value) / room : 0
    }
    # As tests/evidence.sh prints it.
    function digits(x) { x += 0; return x == 0 ? "0" : x < 1e-6 && x > -1e-6 ? "under 1e-6" : x < 1e3 && x > -1e3 ? sprintf("%.3g", x) : sprintf("%.0f", sprintf("%.3g", x)) }
    function tidy(text) { gsub(/^ +| +$/, "", text); gsub(/\+-/, "± ", text); gsub(/[|]/, "\\|", text); return text }

    function ours(source) { return source ~ /requirement|^ours|own (aim|truth|limit)|^our own|^design|^the same|^definition|^computed|^theory|^exact mapping|^own |^runs|^times|^bounded/ }

    NF >= 6 && $6 !~ /noted|timed/ && (all || !ours($5)) {
        group = tidy($1); source = tidy($5); sub(/; wide: .*/, "", source); sub(/; wide: .*/, "", source); value = $3; unit = ""
        if (split(tidy($3), part, " ") > 1) { value = part[1]; unit = " " part[2] }
        key = group SUBSEP source
        if (!(key in count)) { order[++rows] = key; worst[key] = -1 }
        ++count[key]
        if ($6 !~ /^ok/) ++outside[key]
        share = used(value + 0, $4)
        if (share > worst[key]) {
            worst[key] = share
            shown[key] = sprintf("%s: %s%s (%s)", tidy($2), digits(value), unit, tidy($4))
        }
    }
    END {
        print "| what | against | figures | nearest to its limit |"
        print "|---|---|---:|---|"
        for (i = 1; i <= rows; ++i) {
            split(order[i], part, SUBSEP)
            key = order[i]
            printf "| %s | %s | %d%s | %s |\n", part[1], part[2], count[key],
                outside[key] ? ", " outside[key] " outside" : "", shown[key]
        }
    }
' "$report" | { IFS= read -r head; IFS= read -r rule; printf '%s\n%s\n' "$head" "$rule"; LC_ALL=C sort; }
