#!/bin/sh
# Static analysis, clean or not at all: clang-format, clang-tidy, cppcheck and gcc's -fanalyzer over every C file: tests/lint.sh BUILD
# (the bundle's generated headers have to be there). Each tool that is missing is a failure: it has to run.
set -u
build=$1
jobs=${JOBS:-$(nproc 2>/dev/null || echo 2)}
# shellcheck disable=SC2046
set -- $(git ls-files '*.c' 2>/dev/null || find common-dsp plugins tests -name '*.c')
includes="-Icommon-dsp -Iplugins/shell -I$build/gen -Itests -Itests/harness -Itests/singer"
flags="-std=c11 -D_POSIX_C_SOURCE=200809L $includes $(pkg-config --cflags lv2 kissfft-float lilv-0 sndfile | tr -d '\n')"
status=0

say() { # NAME EXIT-STATUS
    if [ "$2" -eq 0 ]; then echo "$1: clean"; else echo "$1: not clean"; status=1; fi
}

# each_file COMMAND FILE...: runs `COMMAND` on every file, some at once. It sees $file; $model, which makes assertions
# known (tests/analysed.h) where there are some; $outside, where the code is no part of a plug-in; and $vectors, where it
# works with rows of vectors (common-dsp/four.h) or with what lies behind a struct that came out of a function (the two
# tests), which gcc 12's analyzer takes for uninitialized whatever was stored.
each_file() {
    command=$1
    shift
    printf '%s\n' "$@" | xargs -P "$jobs" -I{} sh -c '
        file={} model= outside= vectors=
        case $file in */test_*.c | tests/ambience.c) model="-D_DEFAULT_SOURCE=1 -include tests/analysed.h" ;; esac
        case $file in tests/*) outside=yes ;; esac
        case $file in */plate_*.c | */plain_plate*.c | */sibilance.c | */sibilance_ears_*.c | */plain_sibilance_ears.c | */rest_bands.c | */rest_bands_walk_avx2.c | */plain_rest_bands.c | */plain_four.c | */test_four.c | */test_stft.c | */test_rests_down.c | */rows.c | */rows_avx2.c | */plain_rows.c | */narrow_rows.c | */plain_svf_block.c | */compressor_gain.c | */vowels.c | */vowel_*.c) vectors=yes ;; esac
        '"$command"
}

for tool in clang-format clang-tidy cppcheck gcc; do
    command -v "$tool" >/dev/null || { echo "$tool is not installed"; exit 1; }
done

# shellcheck disable=SC2046
clang-format --dry-run --Werror "$@" $(git ls-files '*.h' 2>/dev/null || find common-dsp plugins tests -name '*.h')
say clang-format $?

# Errors go to stdout, the count of what was not shown to stderr.
each_file "clang-tidy --quiet \$file -- $flags \$model 2>/dev/null" "$@"
say clang-tidy $?

cppcheck --quiet --std=c11 --enable=warning,performance,portability --inline-suppr --suppress=missingIncludeSystem --suppress=invalidFunctionArg \
    --error-exitcode=1 -j "$jobs" $includes "$@"
say cppcheck $?

# -Wanalyzer-malloc-leak stays off for tests and tools: gcc 12 loses sight of memory that a function stores behind a
# pointer to a struct, as the singer's takes, the harness's descriptions and the tests' sounds are. Leaks there are found by
# running: `make sanitize` and `make valgrind`.
output=$(each_file "gcc $flags \$model \${outside:+-Wno-analyzer-malloc-leak} \${vectors:+-Wno-analyzer-use-of-uninitialized-value -Wno-analyzer-shift-count-overflow} -O2 -fanalyzer -fanalyzer-verbosity=0 -Wall -Wextra -c -o /dev/null \$file" "$@" 2>&1)
[ -z "$output" ] || printf '%s\n' "$output"
[ -z "$output" ]
say "gcc -fanalyzer" $?
exit $status
