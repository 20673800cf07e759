#!/bin/bash
# Runs under the sanitizers the programs that `make check` was quickest with: tests/sanitize_quick.sh BUILD SECONDS VARIABLE=VALUE...
# From the quickest on, as long as all of them together took no more than SECONDS of CPU time there (BUILD/check-times.txt, which
# `make check` leaves). The rest is left out, a skip each. (From `make sanitize-quick`, which sets MAKE.)
set -u
build=$1 budget=$2
shift 2
times=$build/check-times.txt
[ -s "$times" ] || { echo "$times is not there: run make check first, it measures which programs are quick"; exit 1; }

# "run PROGRAM" or "left PROGRAM", relative to the build folder; scripts cannot be built in another way.
choice=$(sort -n "$times" | grep " $build/tests/" | awk -v budget="$budget" -v skip="$((${#build} + 1))" '
    { sum += $1; print (sum <= budget ? "run" : "left"), substr($2, skip + 1) }')
mapfile -t chosen < <(echo "$choice" | sed -n "s,^run ,$build/sanitize/,p")
mapfile -t left < <(echo "$choice" | sed -n 's,^left .*/,,p')

log=$build/sanitize-quick.log
${MAKE:-make} BUILD="$build/sanitize" HOSTS= BUILDING= TESTS="${chosen[*]}" "$@" check 2>&1 | tee "$log" | sed '$d'
status=${PIPESTATUS[0]}
echo "left out, as they take longest: ${left[*]:-none}"
sums=$(tail -n 1 "$log")
case $sums in
*' skipped')
    skipped=${sums##*failed, }
    echo "${sums%, *}, $((${skipped% skipped} + ${#left[@]})) skipped"
    ;;
*) echo "$sums" ;;
esac
exit "$status"
