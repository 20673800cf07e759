#!/bin/bash
# Runs under the sanitizers the programs that `make check` was quickest with (from `make sanitize-quick`, which sets MAKE):
#   tests/sanitize_quick.sh BUILD SECONDS VARIABLE=VALUE...
# From the quickest on, as long as all of them together took no more than SECONDS of CPU time there (BUILD/check-times.txt,
# which `make check` leaves). The rest is left out, a skip each.
set -u
build=$1 budget=$2
shift 2
times=$build/check-times.txt
[ -s "$times" ] || { echo "$times is not there: run make check first, it measures which programs are quick"; exit 1; }

# "run PROGRAM" or "left PROGRAM", relative to the build folder. Scripts, and what has the thread sanitizer, are not built
# in another way.
choice=$(sort -n "$times" | grep " $build/tests/" | grep -v /threads/ | awk -v budget="$budget" -v skip="$((${#build} + 1))" '
    { sum += $1; print (sum <= budget ? "run" : "left"), substr($2, skip + 1) }')
mapfile -t chosen < <(echo "$choice" | sed -n "s,^run ,$build/sanitize/,p")
mapfile -t left < <(echo "$choice" | sed -n 's,^left .*/,,p')
[ ${#chosen[@]} -gt 0 ] || { echo "no program of $times takes less than $budget s: QUICK is too small"; exit 1; }

log=$build/sanitize-quick.log
is_sum='^[0-9]+ passed, [0-9]+ failed, [0-9]+ skipped$'
${MAKE:-make} BUILD="$build/sanitize" HOSTS= THREADS= BUILDING= EVIDENCE= TESTS="${chosen[*]}" "$@" check 2>&1 | tee "$log" | grep -vE "$is_sum"
status=${PIPESTATUS[0]}
sums=$(grep -E "$is_sum" "$log" | tail -n 1)
[ -n "$sums" ] || exit 1
echo "left out, as they take longest: ${left[*]:-none}"
skipped=${sums##*failed, }
echo "${sums%, *}, $((${skipped% skipped} + ${#left[@]})) skipped"
exit "$status"
