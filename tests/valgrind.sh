#!/bin/sh
# Memcheck over the plug-in tests, and over the unit tests that are quick: tests/valgrind.sh BUILD
# Any invalid read or write, any branch on memory nobody has written, any block left behind fails it. The longest of it is listed
# first; each line is a test program and, for those that loop over the bundle, the tests of it that are run (the text is a part
# of their names). Left out: test_realtime and test_allocation, which put their own allocator in valgrind's place (and a
# seccomp filter kills valgrind); what needs minutes natively (test_chain, test_render, the processors' unit tests): `make sanitize`
# runs all of that.
set -u
build=$1
jobs=${JOBS:-$(nproc 2>/dev/null || echo 2)}
command -v valgrind >/dev/null || { echo "valgrind is not installed"; exit 1; }
logs=$(mktemp -d)
trap 'rm -rf "$logs"' EXIT
export build logs

xargs -P "$jobs" -d '\n' -I{} sh -c '
    line=$1 program=${1%%:*} only=
    case $line in *:*) only=${line#*:} ;; esac
    log=$logs/$(echo "$line" | tr -c "a-z0-9\n" _)
    LINCTUS_BUILD=$build LINCTUS_ONLY=$only valgrind -q --error-exitcode=99 --leak-check=full \
        --errors-for-leak-kinds=definite,indirect,possible --show-leak-kinds=definite,indirect,possible \
        --suppressions=tests/valgrind.supp --log-file="$log.memcheck" "$build/tests/$program" >"$log.out" 2>&1
    status=$?
    if [ $status = 0 ] && [ ! -s "$log.memcheck" ]; then
        echo "$line: clean ($(sed -n "s/^\[  PASSED  \] \([0-9]*\) test.*/\1/p" "$log.out" | tail -1) tests)"
        exit 0
    fi
    echo "$line: not clean (exit status $status)"
    cat "$log.memcheck"
    tail -20 "$log.out"
    touch "$logs/failed"
    exit 1' sh {} <<END
plugins/test_fuzz
plugins/test_bundle:port may be missing
plugins/test_bundle:works in place
plugins/test_bundle:bypass is exact
plugins/test_bundle:damaged samples count
plugins/test_bundle:jumping about
plugins/test_bundle:without activate
plugins/test_bundle:runs of nothing
plugins/test_bundle:one buffer
plugins/test_session:damage takes out
plugins/test_session:a live restore
plugins/test_session:a folder does
plugins/test_session:without a map
plugins/test_state
plugins/test_handover
plugins/test_odd_hosts
plugins/test_descriptors
unit/test_true_peak
unit/test_trim_memory
unit/test_voice_level
unit/test_levels
unit/test_build_up
unit/test_sos
unit/test_design
unit/test_envelope
unit/test_gain_move
unit/test_hum
unit/test_fade
unit/test_smooth
unit/test_delay
unit/test_decay
unit/test_tally
unit/test_units
unit/test_learned
END
if [ -e "$logs/failed" ]; then echo "valgrind: not clean"; exit 1; fi
echo "valgrind: clean"
