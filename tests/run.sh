#!/bin/sh
# Runs test programs, some at once, prints what each printed, and ends with a line of sums:
#   tests/run.sh JOBS PROGRAM...
# The programs that LINCTUS_LAST names run when all others are done, one by one; they find what was printed in the folder $logs.
# Exit status 0 when none failed. A skipped test is counted apart. A program counts its tests as cmocka does, or ends with such a line itself.
# A program that is not there, or that ran no test at all, is a failure: it proves nothing and would look like success.
# One that takes longer than LINCTUS_PATIENCE (seconds; half an hour if it is not set) is stopped, and failed: a run always ends.
# The CPU time that each took goes to the file LINCTUS_TIMES, if that is set: a line each, seconds and program.
set -u
jobs=${1:-1}
[ $# -gt 1 ] || { echo "FAILED: no program to run"; echo "0 passed, 1 failed, 0 skipped"; exit 1; }
shift
logs=$(mktemp -d)
trap 'rm -rf "$logs"' EXIT
patience=${LINCTUS_PATIENCE:-1800}
export logs patience
# The C library (glibc) keeps what was freed: whole takes given back to the system and asked for anew, a page at a time, took a tenth
# of the programs' time.
export MALLOC_MMAP_THRESHOLD_=33554432 MALLOC_TRIM_THRESHOLD_=2000000000

run_one='
name=$(basename "$1")
timeout --foreground --kill-after=10 "$patience" "$1" >"$logs/$name.log" 2>&1
echo $? >"$logs/$name.status"
times >"$logs/$name.times"
printf "%s\n" "== $name" ; cat "$logs/$name.log"'
run_all() {
    printf '%s\n' "$@" | xargs -P "$jobs" -I{} sh -c "{ $run_one; } >\"\$logs/\$(basename {}).out\" 2>&1; cat \"\$logs/\$(basename {}).out\"" sh {}
}
run_all "$@"

# The second line of "times": what the shell's children took, user and system, as in 1m2.50s.
[ -z "${LINCTUS_TIMES:-}" ] || for program in "$@"; do
    awk -v program="$program" 'NR == 2 { gsub(/[ms]/, " "); printf "%.2f %s\n", 60 * $1 + $2 + 60 * $3 + $4, program }' \
        "$logs/$(basename "$program").times"
done >"$LINCTUS_TIMES"

for last in ${LINCTUS_LAST:-}; do
    run_all "$last"
    set -- "$@" "$last"
done

# cmocka prints "[  PASSED  ] 3 test(s)." and the like; a program that died without counting a failure is one failure.
count() { # LOG... : passed failed skipped
    sed -n 's/^\[  \([A-Z]*\)  *\] *\([0-9][0-9]*\) test(s).*/\1 \2/p
        s/^\([0-9]*\) passed, \([0-9]*\) failed, \([0-9]*\) skipped$/PASSED \1\nFAILED \2\nSKIPPED \3/p' "$@" |
        awk '{ n[$1] += $2 } END { print n["PASSED"] + 0, n["FAILED"] + 0, n["SKIPPED"] + 0 }'
}
broken=0
died=0
fails() { # PROGRAM WHY: one that died without counting a failure is a failed test
    case $(count "$logs/$1.log" 2>/dev/null) in *' 0 '*) died=$((died + 1)) ;; esac
    echo "FAILED: $1 ($2)"
    broken=1
}
for program in "$@"; do
    name=$(basename "$program")
    status=$(cat "$logs/$name.status" 2>/dev/null || echo "not run")
    if ! command -v "$program" >/dev/null 2>&1; then
        fails "$name" "there is no such program"
    elif [ "$status" = 124 ] || [ "$status" = 137 ]; then
        fails "$name" "exit status $status: it was stopped, after $patience seconds at most"
    elif [ "$status" != 0 ]; then
        fails "$name" "exit status $status"
    elif [ "$(count "$logs/$name.log")" = "0 0 0" ]; then
        fails "$name" "it ran no test"
    fi
done
# shellcheck disable=SC2046
set -- $(count "$logs"/*.log)
passed=$1
failed=$(($2 + died))
skipped=$3
grep -h -e '^\[  SKIPPED *\] [a-z]' -e '^skipped ' "$logs"/*.log | sort -u
echo "$passed passed, $failed failed, $skipped skipped"
[ "$broken" = 0 ] && [ "$failed" = 0 ]
