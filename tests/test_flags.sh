#!/bin/sh
# A build whose flags let the compiler take every sample for finite stops, and says why: make refuses the flags, and the
# library does where they come another way. CC: the compiler; it ends with a line of sums, as tests/run.sh wants it.
set -u
cd "$(dirname "$0")/.." || exit 1
cc=${CC:-cc}
passed=0
failed=0

# What the command says on its way to failing holds the text.
refuses() { # WHAT TEXT COMMAND...
    what=$1 text=$2
    shift 2
    if said=$("$@" 2>&1 </dev/null); then
        echo "flags: $what: not refused"
    else
        case $said in
        *"$text"*)
            passed=$((passed + 1))
            return
            ;;
        esac
        echo "flags: $what: refused, but not by saying why: $said"
    fi
    failed=$((failed + 1))
}

# make hands its own variables on to what it runs; they are not meant for these.
unset MAKEFLAGS MFLAGS MAKEOVERRIDES
for flag in -ffast-math -Ofast -ffinite-math-only -funsafe-math-optimizations -mdaz-ftz; do
    refuses "make OPT=$flag" "cannot be built with $flag" make -n BUILD=build/flags "OPT=-O2 $flag" bundle
    refuses "make CFLAGS=$flag" "cannot be built with $flag" make -n BUILD=build/flags "CFLAGS=$flag" bundle
    refuses "make LDFLAGS=$flag" "cannot be built with $flag" make -n BUILD=build/flags "LDFLAGS=$flag" bundle
done
for flag in -ffast-math -Ofast -ffinite-math-only; do
    # shellcheck disable=SC2086
    refuses "$cc $flag" "tell NaN and infinity from sound" $cc -std=c11 "$flag" -Icommon-dsp -fsyntax-only common-dsp/fade.c
done
# shellcheck disable=SC2086
if $cc -std=c11 -O2 -Icommon-dsp -fsyntax-only common-dsp/fade.c; then passed=$((passed + 1)); else failed=$((failed + 1)); fi
echo "$passed passed, $failed failed, 0 skipped"
[ "$failed" = 0 ]
