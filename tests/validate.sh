#!/bin/sh
# Validates a bundle's Turtle against the installed LV2 specifications: tests/validate.sh build/linctus.lv2
# Both validators have to run, and neither may print a warning or an error.
set -u
bundle=$1
status=0

# verdict NAME OUTPUT EXIT-STATUS
verdict() {
    if [ "$3" -ne 0 ] || printf '%s\n' "$2" | grep -v '^Found 0 errors' | grep -qiE 'warning|error'; then
        printf '%s\n%s: not valid\n' "$2" "$1"
        status=1
    else
        printf '%s: %s, no warning\n' "$1" "$(printf '%s\n' "$2" | tail -n 1)"
    fi
}

for tool in lv2_validate sord_validate; do
    command -v "$tool" >/dev/null || { echo "$tool is not installed (packages lilv-utils, lv2-dev and sordi)"; exit 1; }
done

output=$(lv2_validate "$bundle"/*.ttl 2>&1)
verdict lv2_validate "$output" $?

specifications=$(find /usr/lib/lv2 /usr/lib/*/lv2 -name '*.ttl' 2>/dev/null)
# shellcheck disable=SC2086
output=$(sord_validate -l $specifications "$bundle"/*.ttl 2>&1)
verdict sord_validate "$output" $?
exit $status
