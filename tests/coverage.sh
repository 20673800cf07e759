#!/bin/sh
# Line and branch coverage of common-dsp and plugins from the counters of a finished test run: tests/coverage.sh BUILD
# Prints a row a file and the sums, then every line and branch that no test reached, unless tests/uncovered.txt names it with its
# reason ("file | text of the line | reason"). Exit status 1 when under 95 % of the lines or anything unnamed is left.
set -u
build=$1
command -v gcovr >/dev/null || { echo "gcovr is not installed"; exit 1; }
gcovr --root . --filter 'common-dsp/' --filter 'plugins/' --exclude-unreachable-branches --exclude-throw-branches \
    --txt "$build/coverage.txt" --csv "$build/coverage.csv" --json "$build/coverage.json" "$build" || exit 1
gcovr --add-tracefile "$build/coverage.json" --root . --branches >"$build/coverage-branches.txt"
cat "$build/coverage.txt"
tail -n 4 "$build/coverage-branches.txt"
perl tests/uncovered.pl "$build/coverage.json" tests/uncovered.txt
