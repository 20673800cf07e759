#!/bin/sh
# Tests of what judges the tests: tests/run.sh and tests/limits.sh, given programs and figures made for it. A line a check, then the
# line of sums.
set -u
here=$(cd "$(dirname "$0")" && pwd)
room=$(mktemp -d)
trap 'rm -rf "$room"' EXIT
unset LINCTUS_REPORT LINCTUS_SEEDS LINCTUS_ONLY LINCTUS_LAST LINCTUS_TIMES LINCTUS_PATIENCE
passed=0
failed=0

program() { # NAME STATUS [LINE]: prints the line, ends with the status
    printf '#!/bin/sh\nprintf "%%s\\n" "%s"\nexit %s\n' "${3:-}" "$2" >"$room/$1"
    chmod +x "$room/$1"
}
judged() { # TEXT WANTED STATUS: what the last run came to
    if [ "$3" = "$status" ] && grep -qx -e "$2" "$room/said"; then
        passed=$((passed + 1)) && echo "ok      $1"
    else
        failed=$((failed + 1)) && echo "FAILED  $1: wanted \"$2\" and status $3, got status $status:" && cat "$room/said"
    fi
}
run() {
    "$here/run.sh" "$@" >"$room/said" 2>&1
    status=$?
}

# ---- run.sh ----
program good 0 '[  PASSED  ] 2 test(s).'
program sums 0 '1 passed, 0 failed, 3 skipped'
program skips 0 '[  SKIPPED ] 1 test(s), listed below:'
program bad 1 '[  FAILED  ] 1 test(s), listed below:'
program dies 139 ''
program none 0 '[  PASSED  ] 0 test(s).'
program silent 0 ''

run 2 "$room/good" "$room/sums"
judged "tests are added up" "3 passed, 0 failed, 3 skipped" 0
run 2 "$room/skips"
judged "a program that skips all its tests is no failure" "0 passed, 0 failed, 1 skipped" 0
run 2 "$room/good" "$room/bad"
judged "a failed test" "2 passed, 1 failed, 0 skipped" 1
run 2 "$room/good" "$room/dies"
judged "a program that dies is a failed test" "2 passed, 1 failed, 0 skipped" 1
judged "and says how" "FAILED: dies (exit status 139)" 1
run 2 "$room/good" "$room/none"
judged "a program without a test is a failed test" "2 passed, 1 failed, 0 skipped" 1
judged "and says so" "FAILED: none (it ran no test)" 1
run 2 "$room/good" "$room/silent"
judged "so is one that counts nothing" "FAILED: silent (it ran no test)" 1
run 2 "$room/good" "$room/missing"
judged "a missing program is a failed test" "2 passed, 1 failed, 0 skipped" 1
judged "and says which" "FAILED: missing (there is no such program)" 1
printf '#!/bin/sh\nexec sleep 60\n' >"$room/hangs" && chmod +x "$room/hangs"
LINCTUS_PATIENCE=1 run 2 "$room/good" "$room/hangs"
judged "a program that hangs is stopped, and a failed test" "2 passed, 1 failed, 0 skipped" 1
judged "and says so" "FAILED: hangs (exit status 124: it was stopped, after 1 seconds at most)" 1
run 2
judged "no program at all" "0 passed, 1 failed, 0 skipped" 1

# ---- limits.sh ----
figure() { # VALUE UNIT LIMIT [SOURCE]
    printf '%-11s | %-66s | %12s %-8s | %-22s | %-32s | %s\n' Part "some figure" "$1" "$2" "$3" "${4:-ours}" ok >"$room/report"
    "$here/limits.sh" "$room/report" >"$room/said" 2>&1
    status=$?
}
near() {
    figure "$@"
    judged "near enough: $*" "1 passed, 0 failed, 0 skipped" 0
}
wide() {
    figure "$@"
    judged "too wide: $*" "0 passed, 1 failed, 0 skipped" 1
}
near 0.05 dB "at most 1"
wide 0.049 dB "at most 1"
near 0 dB "at most 0.01"
wide 6e-9 dB "at most 0.25"
near -95 dB "at most -70"
wide -95 dB "at most -60"
near -180 dB "at most -120"
wide -180 dB "at most -110"
near -0.4 dB "at most 0.5"
near 95 % "at least 5"
wide 95 % "at least 4"
wide 3 "" "at least 0"
near -0.003 dB "at least -0.06"
wide -0.003 dB "at least -0.07"
near 101 Hz "100 +-20"
wide 101 Hz "100 +-21"
near 100 Hz "100 +-0.1"
wide 100 Hz "100 +-0.2"
near 0 takes "at most 1"
wide 0 takes "at most 2"
near 0 "" "at most 1e-6"
wide 0 "" "at most 1e-5"
near 10 LU "10 +-1" "EBU Tech 3342; wide: its tolerance"
wide 10 LU "10 +-1" "EBU Tech 3342; wide:"
printf '' >"$room/report"
"$here/limits.sh" "$room/report" >"$room/said" 2>&1
status=$?
judged "no figures are no success" "0 passed, 1 failed, 0 skipped" 1
printf 'Part | some figure | 1 | - | - | noted\n' >"$room/report"
"$here/limits.sh" "$room/report" >"$room/said" 2>&1
status=$?
judged "nor are figures without limits" "0 passed, 1 failed, 0 skipped" 1
LINCTUS_SEEDS=1 "$here/limits.sh" "$room/report" >"$room/said" 2>&1
status=$?
judged "other takes are no measure for limits: that is a skip" "0 passed, 0 failed, 1 skipped" 0
LINCTUS_REPORT=$room/report LINCTUS_LAST=$here/limits.sh run 1 "$room/good"
judged "run.sh has the limits judged" "2 passed, 1 failed, 0 skipped" 1

echo "$passed passed, $failed failed, 0 skipped"
[ "$failed" = 0 ]
