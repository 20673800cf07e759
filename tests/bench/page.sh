#!/bin/sh
# Puts the tables of the last make bench into tests/BENCH.md, between the two lines that mark their place: tests/bench/page.sh FILE
set -eu
cd "$(dirname "$0")/../.."
page=tests/BENCH.md
[ -s "$1" ] || { echo "$1: there is none; make bench writes it"; exit 1; }
awk -v tables="$1" '
    /^<!-- end -->/ { within = 0 }
    !within
    /^<!-- bench:/ { within = 1; print ""; while ((getline line <tables) > 0) print line; print "" }
' "$page" >"$page.new"
mv "$page.new" "$page"
echo "$page: $(grep -c '^|' "$1") rows"
