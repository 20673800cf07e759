#!/bin/bash
# The demo shows what it says: tests/test_demo.sh runs it and compares what Check and Esses tell of its take with the
# truth that the singer wrote, and README's picture, tests/harness/demo.svg, with what the demo's report draws.
# `tests/test_demo.sh write` writes that picture anew. LINCTUS_BUILD: the build to run. It ends with a line of sums.
set -u
cd "$(dirname "$0")/.." || exit 1
build=$(cd "${LINCTUS_BUILD:-build}" && pwd) || exit 1
picture=tests/harness/demo.svg
passed=0 failed=0
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT

ok() { # WHAT, after the command that it is about
    if [ $? -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "demo: $1: failed"
    fi
}

ln -s "$build/singer" "$build/render" "$place"
tests/harness/demo.sh "$place" >"$place/said" 2>&1
ok "it runs"
page=$place/demo/report.html truth=$place/demo/raw.txt table=$place/demo/report.txt
LC_ALL=C awk -f tests/harness/picture.awk "$page" >"$place/demo.svg"
ok "its report has a picture"
if [ "${1:-}" = write ]; then
    [ $failed -eq 0 ] && cp "$place/demo.svg" "$picture" && echo "$picture is written"
    exit
fi

# Two files that differ in numbers alone, by 1 or less: another compiler's last digit may move a line by a tenth.
near() { # FILE FILE
    LC_ALL=C awk '
        function next_number(line) { return match(line, /[0-9]+(\.[0-9]+)?/) }
        { getline other <file
          while (next_number($0)) {
              at = RSTART; n = RLENGTH; a = substr($0, at, n); before = substr($0, 1, at - 1); $0 = substr($0, at + n)
              if (!next_number(other) || substr(other, 1, RSTART - 1) != before) exit 1
              b = substr(other, RSTART, RLENGTH); other = substr(other, RSTART + RLENGTH)
              if (a - b > 1 || b - a > 1) exit 1
          }
          if ($0 != other) exit 1 }
        END { if ((getline other <file) > 0) exit 1 }' file="$2" "$1"
}
near "$picture" "$place/demo.svg" && near "$place/demo.svg" "$picture"
ok "README's picture is what the demo draws (make picture writes it)"

# Seconds at which there is a pop, by the picture: its width is the take's 30 s.
pops() { grep -A1 '>Popping' "$place/demo.svg" | grep -o 'M[0-9.]* 0.0' | awk '{ print substr($1, 2) * 30 / 1000 }'; }
# Seconds of the filled dots of the panel about esses, which run from 34 to 350 across.
caught() {
    grep -o 'class="dot caught" d="[^"]*"' "$page" | grep -o 'M[0-9.]*' | awk '{ print (substr($1, 2) + 3 - 34) / 316 * 30 }'
}
# Each time of the first list has one of the second no more than FROM before it and TO after it.
met() { # FROM TO TIMES...; the second list is standard input
    awk -v from="$1" -v to="$2" -v wanted="${*:3}" '
        { at[NR] = $1 }
        END { n = split(wanted, time, " ")
              for (i = 1; i <= n; i++) { found = 0
                  for (k in at) if (at[k] >= time[i] - from && at[k] <= time[i] + to) found = 1
                  if (!found) { print "demo: nothing at " time[i] " s"; exit 1 } }
              exit n == 0 }'
}
# shellcheck disable=SC2046
pops | met 0 0.17 $(awk '$1 == "plosive" && $4 > 0 { print $2 }' "$truth")
ok "each pop is where the singer put it"
# shellcheck disable=SC2046
caught | met 0 0.1 $(awk '$1 == "sibilant" && $4 > 0 { print $2 }' "$truth")
ok "each sibilant that was raised is caught"
awk '$1 == "hiss" { hiss = $5 } FNR != NR && sub(/.*a noise floor of /, "") { floor = $1 + 0 }
     END { exit !(floor - hiss < 0.5 && hiss - floor < 0.5) }' "$truth" "$table"
ok "the noise that Check tells is the hiss that the singer added"
for hz in 330 820; do
    awk -v hz=$hz 'sub(/.*a resonance at /, "") && $2 ~ /Hz/ && $1 > hz / 1.12 && $1 < hz * 1.12 { found = 1 }
                   END { exit !found }' "$table"
    ok "the boxy place at $hz Hz is found"
done

echo "$passed passed, $failed failed, 0 skipped"
[ $failed -eq 0 ]
