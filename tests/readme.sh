#!/bin/sh
# README's chapter of controls comes from the descriptors: tests/readme.sh write | check
set -eu
cd "$(dirname "$0")/.."
begin='<!-- controls: written by make readme -->'
end='<!-- end of controls -->'
order="check trim tone compressor esses plate"
files=$(for name in $order; do [ -f "ttl/$name.ttl" ] && echo "ttl/$name.ttl"; done)
for file in ttl/*.ttl; do
    name=$(basename "$file" .ttl)
    [ "$name" = linctus ] && continue
    case " $order " in *" $name "*) ;; *) files="$files $file" ;; esac
done
new=$(mktemp)
trap 'rm -f "$new"' EXIT
# shellcheck disable=SC2086
{
    sed "/^$begin/q" README.md
    ${AWK:-awk} -f ttl/readme.awk $files
    echo
    sed -n "/^$end/,\$p" README.md
} >"$new"
case ${1:-} in
write) cat "$new" >README.md ;;
check)
    if cmp -s "$new" README.md; then
        echo "README.md: its controls are those of ttl/"
    else
        echo "README.md does not hold the controls of ttl/: run make readme"
        exit 1
    fi
    ;;
*) echo "usage: tests/readme.sh write|check" && exit 2 ;;
esac
