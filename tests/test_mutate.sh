#!/bin/sh
# `make mutate` draws what it says it draws: operators, constants, statements, clamps, ranges, units and hints, and nothing of comments or
# strings; a name in its list of equivalent mutants that no longer stands in the code is an error. What fails on a mutant
# counts only where it passes on the tree as it is.
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


# A tree as it is and a mutant, each with a program that is a line of shell.
trial="$room/trial"
mkdir -p "$trial/clean/tests/unit" "$trial/clean/out/tests/unit" "$trial/mutant/out/tests/unit"
for part in Makefile README.md common-dsp plugins ttl presets; do mkdir -p "$trial/clean/$part"; done
program() { # TREE LINE-OR-NONE
    rm -f "$trial/$1/out/tests/unit/test_x"
    [ "$2" != none ] || return 0
    printf '#!/bin/sh\n%s\n' "$2" >"$trial/$1/out/tests/unit/test_x"
    chmod +x "$trial/$1/out/tests/unit/test_x"
}

noticed() { # WHAT LINE-AS-IT-IS LINE-OF-THE-MUTANT EXPECTED
    echo "$1" >"$trial/clean/tests/unit/test_x.c" # another program each time
    program clean "$2"
    program mutant "$3"
    said=$(ROOM=$trial perl -Itests/mutate -MTrial -e '
        ($Room::room, $Room::look) = ($ENV{ROOM}, 1);
        Cover::note_long("tests/unit/test_x");
        print eval { Trial::fails("$Room::room/mutant", {program => "tests/unit/test_x"}) ? "noticed" : "lives" } // $@' 2>&1)
    case $said in *"$4"*) true ;; *) echo "$said"; false ;; esac
    verdict "$1" $?
}

noticed "what passes on the mutant does not notice it" "exit 0" "exit 0" lives
noticed "what fails on the mutant alone notices it" "exit 0" "exit 1" noticed
noticed "what fails without it too is an error" "exit 1" "exit 1" "fails on the tree as it is"
noticed "a program that stands still has noticed it" "exit 0" "sleep 1000" noticed
noticed "a program that crashes without it too is an error" 'kill -9 $$' "exit 1" "fails on the tree as it is"
noticed "a program that is not there is an error" none none "fails on the tree as it is"

# On a busy machine the limit ends a program though fewer CPU seconds are counted than it has.
mkdir -p "$trial/counted/out/tests/unit" "$trial/counted/tests"
echo "long" >"$trial/clean/tests/unit/test_x.c"
program counted 'kill -9 $$'
ROOM=$trial perl -Itests/mutate -MTrial -e '$Room::room = $ENV{ROOM}; Cover::measure("tests/unit/test_x");
    exit(defined Cover::seconds("tests/unit/test_x"))'
verdict "what the limit ends is long, whatever was counted" $?

echo "$passed passed, $failed failed, 0 skipped"
[ "$failed" -eq 0 ]
