#!/bin/sh
# Installs, on Debian, what a command of the Makefile uses. Run it as root: tests/packages.sh demo|check|cross|all
#   demo    the build and `make demo`
#   check   that and `make check`, its hosts too (and make hosts, sanitize, validate, mutate)
#   cross   that and `make cross`: compilers for other machines, and what runs their programs
#   all     that and `make coverage`, fuzz, lint, valgrind and bench
set -eu
export DEBIAN_FRONTEND=noninteractive

demo="build-essential pkg-config mawk lv2-dev liblilv-dev libsndfile1-dev"
# The validators; the test framework; an independent loudness meter; recorded and spoken voices.
tests="lilv-utils sordi libcmocka-dev libebur128-dev flite espeak-ng supercollider-common pocketsphinx-testdata binutils
    ktuberling-data fillets-ng-data-nl asterisk-core-sounds-it-g722 praat ffmpeg"
# Real hosts (lv2apply is in lilv-utils), and the header for playing into jalv.
hosts="lv2file ffmpeg gstreamer1.0-tools gstreamer1.0-plugins-base gstreamer1.0-plugins-good gstreamer1.0-plugins-bad jalv jackd2
    libjack-jackd2-dev"
cross="clang gcc-i686-linux-gnu libc6-dev-i386-cross gcc-s390x-linux-gnu libc6-dev-s390x-cross gcc-mingw-w64-x86-64 qemu-user wine64"
rest="gcovr perl clang-format clang-tidy cppcheck valgrind sox"

case ${1:-} in
demo) packages=$demo ;;
check) packages="$demo $tests $hosts" ;;
cross) packages="$demo $tests $hosts $cross" ;;
all) packages="$demo $tests $hosts $cross $rest" ;;
*)
    echo "usage: tests/packages.sh demo|check|cross|all"
    exit 2
    ;;
esac

apt-get update -qq
# shellcheck disable=SC2086
apt-get install -y -qq --no-install-recommends $packages >/dev/null
