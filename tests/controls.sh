#!/bin/sh
# ttl/CONTROLS.md comes from the descriptors: tests/controls.sh write | check
set -eu
cd "$(dirname "$0")/.."
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
${AWK:-awk} -f ttl/controls.awk $files >"$new"
case ${1:-} in
write) cat "$new" >ttl/CONTROLS.md ;;
check)
    if cmp -s "$new" ttl/CONTROLS.md; then
        echo "ttl/CONTROLS.md: its controls are those of the descriptors"
    else
        echo "ttl/CONTROLS.md does not hold the controls of the descriptors: run make controls"
        exit 1
    fi
    ;;
*) echo "usage: tests/controls.sh write|check" && exit 2 ;;
esac
