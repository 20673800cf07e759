#!/bin/sh
# Installs, on Debian, what the build, the demo and the tests use; with an argument (any), also what `make coverage`,
# `make fuzz`, `make lint` and `make valgrind` need. Run it as root.
set -eu
export DEBIAN_FRONTEND=noninteractive

build="build-essential pkg-config mawk lv2-dev"
demo="liblilv-dev libsndfile1-dev"
# The validators; the test framework; an independent loudness meter; recorded and spoken voices.
check="lilv-utils sordi libcmocka-dev libebur128-dev flite espeak-ng supercollider-common pocketsphinx-testdata binutils"
more=${1:+"gcovr perl clang clang-format clang-tidy cppcheck valgrind"}

apt-get update -qq
# shellcheck disable=SC2086
apt-get install -y -qq --no-install-recommends $build $demo $check $more >/dev/null
