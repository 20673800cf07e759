#!/bin/sh
# `make mutate` draws what it says it draws: operators, constants, statements, clamps, ranges, units and hints, and nothing of comments or
# strings; a name in its list of equivalent mutants that no longer stands in the code is an error.
set -u
cd "$(dirname "$0")/.."
passed=0
failed=0

verdict() { # NAME EXIT-STATUS
    if [ "$2" -eq 0 ]; then
        passed=$((passed + 1))
        echo "[       OK ] $1"
    else
        failed=$((failed + 1))
        echo "[  FAILED  ] $1"
    fi
}

# mutants NAME TEXT: every mutant of a text, a line each, "from -> to", sorted
mutants() {
    NAME=$1 TEXT=$2 perl -Itests/mutate -MSites -e '
        my %whole = Sites::whole_names($ENV{TEXT});
        print join(" -> ", map { s/\s+/ /gr } @$_{qw(from to)}), "\n" for Sites::of_file($ENV{NAME}, $ENV{TEXT}, \%whole)' |
        LC_ALL=C sort
}

draws() { # WHAT NAME TEXT EXPECTED
    [ "$(mutants "$2" "$3")" = "$(printf '%s\n' "$4" | LC_ALL=C sort)" ]
    verdict "$1" $?
}

draws "comments, strings and includes are left alone" x.c '#include "a-1.h" /* 2 + 2 */
// x = 4;
const char *s = "5 * 6";' ''
draws "a constant moves by 10 %, a small whole one by 1" x.c 'double f(void) { return g(2.5f, 40, 3); }' '2.5f -> 2.25f
2.5f -> 2.75f
40 -> 36
40 -> 44
3 -> 2
3 -> 4'
draws "an operator turns into its opposite" x.c 'void f(void) { return a * b - c; }' '* -> /
- -> +'
draws "between whole numbers the edge moves" x.c 'void f(int n, int i) { return i < n; }' '< -> <='
draws "between others the comparison turns round" x.c 'void f(double x, double y) { return x < y; }' '< -> >'
draws "a statement is left out, a declaration is not" x.c 'void f(void)
{
    double y = g();
    x = y;
}' 'x = y -> '
draws "a clamp is left out or turned round" x.c 'void f(void) { return fmin(x, y); }' 'fmin -> fmax
fmin(x, y) -> (x)'
draws "Turtle: ranges, units, hints" x.ttl '		lv2:portProperty pprops:logarithmic ;
		lv2:maximum 20.0 ;
		units:unit units:hz ;
' ' lv2:portProperty pprops:logarithmic ;  -> 
20.0 -> 18.0
20.0 -> 22.0
hz -> khz'

room=$(mktemp -d)
trap 'rm -rf "$room"' EXIT
cp -r tests/mutate common-dsp plugins ttl "$room"
mkdir "$room/tests"
mv "$room/mutate" "$room/tests"
printf '%s\n' 'common-dsp/units.h | no such line | none either | a reason' >"$room/tests/equivalent.txt"
(cd "$room" && N=1 SEED=1 perl tests/mutate/mutate.pl 2>&1) | grep -q 'units.h does not hold: no such line'
verdict "a stale entry of the list is an error" $?

echo "$passed passed, $failed failed, 0 skipped"
[ "$failed" -eq 0 ]
