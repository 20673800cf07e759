#!/bin/sh
# Sees to it, on Debian, that what a command of the Makefile uses is installed: tests/packages.sh demo|check|ci|cross|all
#   demo    the build, `make demo` and `make dist`
#   check   that and `make check`, its hosts too (and make hosts, sanitize, validate)
#   ci      that and what .ci/run runs besides: `make lint` and `make sanitize-quick`
#   cross   what check has and `make cross`: compilers for other machines, and what runs their programs
#   all     all of that and `make coverage`, fuzz, valgrind and bench
# Where nothing is missing it needs neither root nor the network. What is missing it installs: root does so directly,
# anybody else through sudo, and it says so first.
set -eu

demo="build-essential pkg-config mawk lv2-dev libkissfft-dev liblilv-dev libsndfile1-dev libsoxr-dev"
# The validators; the test framework; an independent loudness meter; a browser for the report; recorded and spoken voices.
tests="lilv-utils sordi libcmocka-dev libebur128-dev chromium flite espeak-ng supercollider-common pocketsphinx-testdata binutils
    ktuberling-data fillets-ng-data-nl asterisk-core-sounds-it-g722 praat ffmpeg"
# Real hosts (lv2apply is in lilv-utils), and the header for playing into jalv.
hosts="lv2file ffmpeg gstreamer1.0-tools gstreamer1.0-plugins-base gstreamer1.0-plugins-good gstreamer1.0-plugins-bad jalv jackd2
    libjack-jackd2-dev"
ci="perl clang-format clang-tidy cppcheck"
cross="clang gcc-i686-linux-gnu libc6-dev-i386-cross gcc-s390x-linux-gnu libc6-dev-s390x-cross gcc-aarch64-linux-gnu
    libc6-dev-arm64-cross gcc-arm-linux-gnueabihf libc6-dev-armhf-cross musl-tools gcc-mingw-w64-x86-64 qemu-user wine64"
rest="gcovr valgrind sox"

case ${1:-} in
demo) packages=$demo ;;
check) packages="$demo $tests $hosts" ;;
ci) packages="$demo $tests $hosts $ci" ;;
cross) packages="$demo $tests $hosts $cross" ;;
all) packages="$demo $tests $hosts $ci $cross $rest" ;;
*)
    echo "usage: tests/packages.sh demo|check|ci|cross|all"
    exit 2
    ;;
esac

# All on one line.
# shellcheck disable=SC2086
packages=$(echo $packages)
command -v dpkg-query >/dev/null || {
    echo "tests/packages.sh: this is no Debian. Install by hand what these packages of it hold, then go on with make: $packages" >&2
    exit 1
}

# A package counts as installed where it is there for this machine's own architecture, or belongs to none.
own=$(dpkg --print-architecture)
# shellcheck disable=SC2086
installed=$(dpkg-query -W -f '${Package} ${Architecture} ${db:Status-Status}\n' $packages 2>/dev/null |
    sed -n -e "s/ $own installed\$//p" -e 's/ all installed$//p' | tr '\n' ' ')
missing=
for package in $packages; do
    case " $installed" in *" $package "*) ;; *) missing="$missing $package" ;; esac
done
if [ -z "$missing" ]; then
    echo "tests/packages.sh: everything for $1 is installed"
    exit 0
fi

if [ "$(id -u)" -eq 0 ]; then
    raise=
    echo "tests/packages.sh: installing what is missing:$missing"
elif command -v sudo >/dev/null; then
    raise=sudo
    echo "tests/packages.sh: installing, with sudo, what is missing:$missing"
else
    echo "tests/packages.sh: only root can install what is missing, and sudo is not there. As root: apt-get install$missing" >&2
    exit 1
fi
$raise apt-get update -qq
# shellcheck disable=SC2086
$raise env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null
