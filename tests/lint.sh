#!/bin/sh
# Static analysis, clean or not at all: clang-format, clang-tidy, cppcheck and gcc's -fanalyzer over every C file: tests/lint.sh BUILD
# (the bundle's generated headers have to be there). Each tool that is missing is a failure: it has to run.
set -u
build=$1
jobs=${JOBS:-$(nproc 2>/dev/null || echo 2)}
# shellcheck disable=SC2046
set -- $(git ls-files '*.c' 2>/dev/null || find common-dsp plugins tests -name '*.c')
flags="-std=c11 -D_POSIX_C_SOURCE=200809L -Icommon-dsp -Iplugins/shell -I$build/gen -Itests -Itests/harness -Itests/singer
    $(pkg-config --cflags lv2 lilv-0 sndfile)"
status=0

say() { # NAME EXIT-STATUS
    if [ "$2" -eq 0 ]; then echo "$1: clean"; else echo "$1: not clean"; status=1; fi
}

for tool in clang-format clang-tidy cppcheck gcc; do
    command -v "$tool" >/dev/null || { echo "$tool is not installed"; exit 1; }
done

clang-format --dry-run --Werror "$@" $(git ls-files '*.h' 2>/dev/null)
say clang-format $?

# shellcheck disable=SC2086
printf '%s\n' "$@" | xargs -P "$jobs" -n 8 sh -c 'clang-tidy --quiet "$@" -- '"$(echo $flags)"' 2>/dev/null' sh
say clang-tidy $?

cppcheck --quiet --std=c11 --enable=warning,performance,portability --inline-suppr --suppress=missingIncludeSystem --suppress=invalidFunctionArg \
    --error-exitcode=1 -j "$jobs" -Icommon-dsp -Iplugins/shell -I"$build/gen" -Itests -Itests/harness -Itests/singer "$@"
say cppcheck $?

# shellcheck disable=SC2086
output=$(printf '%s\n' "$@" | xargs -P "$jobs" -I{} gcc $flags -O2 -fanalyzer -Wall -Wextra -c -o /dev/null {} 2>&1)
printf '%s' "$output"
[ -z "$output" ]
say "gcc -fanalyzer" $?
exit $status
