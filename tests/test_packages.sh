#!/bin/bash
# Tests of tests/packages.sh, and of the commands that README prints: as root on a machine without sudo, as a user with it,
# as one without. dpkg, apt-get, sudo, id and make are stand-ins that note how they were called, alone on PATH with the few
# tools that the script needs: nothing is installed, nobody is asked for a password. A line a check, then the line of sums.
set -u
cd "$(dirname "$0")/.." || exit 1
room=$(mktemp -d)
trap 'rm -rf "$room"' EXIT
passed=0 failed=0

mkdir "$room/debian" "$room/sudo" "$room/bare"
for tool in sh sed tr env cat; do
    ln -s "$(command -v $tool)" "$room/bare/$tool"
    ln -s "$(command -v $tool)" "$room/debian/$tool"
done

fake() { # FOLDER NAME: the script comes from standard input
    { printf '#!/bin/sh\n'; cat; } >"$room/$1/$2"
    chmod +x "$room/$1/$2"
}
fake debian id <<<'echo "${UID_NOW:?}"'
fake debian dpkg <<<'echo amd64'
# What the machine has: a line a package, "name architecture status". The real one complains of what it does not know.
# shellcheck disable=SC2016
fake debian dpkg-query <<'END'
status=0
shift 3
for package; do
    found=$(sed -n "/^$package /p" "${HAS:?}")
    if [ "$found" ]; then echo "$found"; else echo "dpkg-query: no packages found matching $package" >&2 && status=1; fi
done
exit $status
END
# shellcheck disable=SC2016
fake debian apt-get <<'END'
echo "apt-get as $UID_NOW ${DEBIAN_FRONTEND:-}: $*" >>"${CALLS:?}"
[ "$UID_NOW" = 0 ] && [ "${NETWORK:-up}" = up ]
END
# shellcheck disable=SC2016
fake debian make <<<'echo "make as $UID_NOW: $*" >>"${CALLS:?}"'
# shellcheck disable=SC2016
fake sudo sudo <<'END'
echo "sudo $*" >>"${CALLS:?}"
UID_NOW=0 exec "$@"
END

demo="build-essential pkg-config mawk lv2-dev libkissfft-dev liblilv-dev libsndfile1-dev libsoxr-dev"
everything() { sed -n 's/^[a-z]*="\(.*\)/\1/p; s/^    \([a-z].*\)/\1/p' tests/packages.sh | tr -d '"' | tr ' ' '\n' | sort -u; }
: >"$room/nothing"
everything | sed 's/$/ amd64 installed/' >"$room/all"
grep -v '^lv2-dev \|^mawk ' "$room/all" >"$room/some"
sed -e 's/^lv2-dev amd64/lv2-dev all/' -e 's/^mawk amd64/mawk i386/' -e 's/^\(pkg-config amd64\) installed/\1 config-files/' \
    "$room/all" >"$room/odd"

# on UID PATH HAS COMMAND...: the exit status; $said and $calls hold what came of it.
on() {
    local uid=$1 path=$2 has=$3
    shift 3
    : >"$room/calls"
    said=$(env -i PATH="$path" UID_NOW="$uid" HAS="$room/$has" CALLS="$room/calls" NETWORK="${network:-up}" \
        sh -c "$*" 2>&1)
    status=$?
    calls=$(cat "$room/calls")
}
check() { # TEXT CONDITION...
    local text=$1
    shift
    if "$@"; then
        passed=$((passed + 1)) && echo "ok      $text"
    else
        failed=$((failed + 1))
        printf 'FAILED  %s\n    exit status %s\n    said: %s\n    calls: %s\n' "$text" "$status" "$said" "$calls"
    fi
}
ended() { [ "$status" -eq "$1" ] && [ "$calls" = "${2:-}" ]; }
says() { case $said in *"$1"*) ;; *) return 1 ;; esac; }
silent_on() { ! says "$1"; }

debian=$room/debian
with_sudo=$debian:$room/sudo
update="apt-get as 0 : update -qq"
install="apt-get as 0 noninteractive: install -y -qq --no-install-recommends"

on 1000 "$debian" all tests/packages.sh demo
check "everything is there: a user without sudo needs no root and no network" ended 0
on 0 "$debian" all tests/packages.sh all
check "everything is there: root installs nothing" ended 0
on 0 "$debian" nothing tests/packages.sh demo
check "root without sudo installs all of it" ended 0 "$update
$install $demo"
check "and says so" says "installing what is missing: $demo"
check "without a word of sudo" silent_on sudo
on 0 "$with_sudo" some tests/packages.sh demo
check "root with sudo does not use it, and installs only what is missing" ended 0 "$update
$install mawk lv2-dev"
on 1000 "$with_sudo" some tests/packages.sh demo
check "a user with sudo raises the two calls of apt-get, nothing else" ended 0 "sudo apt-get update -qq
$update
sudo env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends mawk lv2-dev
$install mawk lv2-dev"
check "and says so" says "installing, with sudo, what is missing: mawk lv2-dev"
on 1000 "$debian" some tests/packages.sh demo
check "a user without sudo: nothing is tried" ended 1
check "and it says what to do" says "As root: apt-get install mawk lv2-dev"
on 0 "$debian" odd tests/packages.sh demo
check "removed, or there for another architecture, is missing; belonging to none is not" ended 0 "$update
$install pkg-config mawk"
network=down on 0 "$debian" nothing "tests/packages.sh demo && make demo"
check "no network: it fails at once, and make is not reached" ended 1 "$update"
on 0 "$room/bare" nothing tests/packages.sh demo
check "no Debian: it says what is needed" says "what these packages of it hold, then go on with make: $demo"
check "and fails" ended 1
on 0 "$debian" all tests/packages.sh
check "no word: how it is used" ended 2

# To the letter.
mapfile -t commands < <(sed -n '/^```sh$/,/^```$/p' README.md | grep '&&')
check "README prints two commands" [ "${#commands[@]}" -eq 2 ]
for command in "${commands[@]}"; do
    goal=${command##* }
    on 0 "$debian" nothing "$command"
    check "\"$command\" as root without sudo" grep -q "^make as 0: $goal\$" "$room/calls"
    on 1000 "$with_sudo" nothing "$command"
    check "\"$command\" as a user with sudo: make stays the user's" grep -q "^make as 1000: $goal\$" "$room/calls"
    on 1000 "$debian" all "$command"
    check "\"$command\" as a user without sudo, everything there" ended 0 "make as 1000: $goal"
done

echo "$passed passed, $failed failed, 0 skipped"
[ "$failed" -eq 0 ]
