#!/bin/sh
# Runs test programs, some at once, prints what each printed, and ends with a line of sums:
#   tests/run.sh JOBS PROGRAM...
# Exit status 0 when none failed. A skipped test is counted apart.
set -u
jobs=$1
shift
logs=$(mktemp -d)
trap 'rm -rf "$logs"' EXIT
export logs

run_one='
name=$(basename "$1")
"$1" >"$logs/$name.log" 2>&1
echo $? >"$logs/$name.status"
printf "%s\n" "== $name" ; cat "$logs/$name.log"'
printf '%s\n' "$@" | xargs -P "$jobs" -I{} sh -c "{ $run_one; } >\"\$logs/\$(basename {}).out\" 2>&1; cat \"\$logs/\$(basename {}).out\"" sh {}

# cmocka prints "[  PASSED  ] 3 test(s)." and the like; a program that died without counting is one failure.
count() {
    cat "$logs"/*.log | sed -n "s/^\[  $1  *\] *\([0-9][0-9]*\) test(s).*/\1/p" | awk '{ n += $1 } END { print n + 0 }'
}
passed=$(count PASSED)
failed=$(count FAILED)
skipped=$(count SKIPPED)
broken=0
for program in "$@"; do
    name=$(basename "$program")
    status=$(cat "$logs/$name.status" 2>/dev/null || echo "not run")
    [ "$status" = 0 ] && continue
    grep -q '^\[  FAILED  \]' "$logs/$name.log" 2>/dev/null || failed=$((failed + 1))
    echo "FAILED: $name (exit status $status)"
    broken=1
done
grep -h '^\[  SKIPPED *\] [a-z]' "$logs"/*.log | sort -u
echo "$passed passed, $failed failed, $skipped skipped"
[ "$broken" = 0 ] && [ "$failed" = 0 ]
