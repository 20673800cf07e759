#!/bin/bash
# Builds the suite with other compilers and for other machines, and runs it there: tests/cross.sh (from `make cross`, which sets CROSS,
# the folder for it all).
#
#   gcc, clang        this machine: the unit tests and the checks against publications, and every plug-in
#   musl              the same with another C library, whose libm differs too
#   i686, s390x       32-bit x86, and big-endian: the same where the machine runs their programs itself, else under qemu-user
#   aarch64, armhf    64-bit and 32-bit ARM: likewise
#   windows           every plug-in as a DLL under wine; the bundle stays in CROSS/windows/linctus.lv2
#
# Every plug-in plays a take at its defaults, learning, and has to give what gcc's gives for this machine; mathematical libraries differ
# in their last digits, so the difference has a limit. Programs that would take long under an emulator are left out, which is a
# skip each; so is a target whose compiler is not there (tests/packages.sh cross installs them). Speech is not
# read on foreign machines: the tests that need it skip. A line a target and set, then the line of sums.
set -u
cross=${CROSS:-build/cross}
make=${MAKE:-make}
jobs=${JOBS:-2}
targets=${TARGETS:-gcc clang musl i686 s390x aarch64 armhf windows}
limit=-80   # dB of the peak: ours
patience=${PATIENCE:-8} # CPU seconds a program may take on this machine, for it to be run under an emulator
unset LINCTUS_REPORT MAKEFLAGS MFLAGS
export LINCTUS_PATIENCE=10800 # emulated, a program takes some twenty times as long
mkdir -p "$cross/include"
cross=$(cd "$cross" && pwd)
passed=0 failed=0 skipped=0

sum() { # PASSED FAILED SKIPPED TEXT
    passed=$((passed + $1)) failed=$((failed + $2)) skipped=$((skipped + $3))
    echo "$4: $1 passed, $2 failed, $3 skipped"
}
wanted() { case " $targets " in *" $1 "*) ;; *) return 1 ;; esac; }
has() { command -v "$1" >/dev/null; }

# Headers that belong to no machine, away from this one's libc.
ln -sfn "$(dirname "$(dirname "$(echo '#include <lv2/core/lv2.h>' | cpp -M 2>/dev/null | grep -o '/[^ ]*lv2/core/lv2.h' | head -n 1)")")" "$cross/include/lv2"
ln -sf "$(echo '#include <cmocka.h>' | cpp -M 2>/dev/null | grep -o '/[^ ]*cmocka.h' | head -n 1)" "$cross/include/cmocka.h"

# The test framework for another of Debian's architectures, or its source, comes from Debian's archive into the build folder. apt works
# on lists of its own there, so nothing is added to this system. (A list that does not come is no matter as long as the packages do.)
apt_room() { # FOLDER ARCHITECTURE
    mkdir -p "$1/lists/partial" "$1/cache/archives/partial" "$1/parts" && : >"$1/status" || return
    cat >"$1/conf" <<END
APT::Architecture "$2";
APT::Architectures { "$2"; };
APT::Sandbox::User "$(id -un)";
Dir::State "$1";
Dir::State::Lists "$1/lists";
Dir::State::status "$1/status";
Dir::Cache "$1/cache";
END
}
cmocka_for() { # ARCHITECTURE
    local apt=$cross/apt-$1 package
    [ -e "$cross/cmocka-$1/libcmocka.so" ] && return
    mkdir -p "$cross/cmocka-$1" && apt_room "$apt" "$1" || return
    (cd "$apt" && export APT_CONFIG=$apt/conf && { apt-get update -qq; apt-get download -qq libcmocka0 libcmocka-dev; }) >"$apt/log" 2>&1 || return
    for package in "$apt"/*.deb; do dpkg -x "$package" "$apt/unpacked" || return; done
    cp -a "$apt"/unpacked/usr/lib/*/libcmocka.so* "$cross/cmocka-$1/" && rm -rf "$apt"
}
# Where sources come from: this system's lists, of sources instead of packages.
source_room() { # FOLDER
    local apt=$1 file
    apt_room "$apt" "$(dpkg --print-architecture)" || return
    cat >>"$apt/conf" <<END
Dir::Etc::sourcelist "$apt/sources.list";
Dir::Etc::sourceparts "$apt/parts";
END
    cat /etc/apt/sources.list /etc/apt/sources.list.d/*.list 2>/dev/null | sed -n 's/^deb /deb-src /p' >"$apt/sources.list"
    for file in /etc/apt/sources.list.d/*.sources; do
        [ ! -e "$file" ] || sed 's/^Types:.*/Types: deb-src/' "$file" >"$apt/parts/$(basename "$file")" || return
    done
}
# Debian's libcmocka wants Debian's libc: for another it is compiled, one file.
cmocka_built() { # NAME COMPILER
    local apt=$cross/apt-$1 have=()
    [ -e "$cross/cmocka-$1/libcmocka.a" ] && return
    mkdir -p "$cross/cmocka-$1" && source_room "$apt" || return
    mapfile -t have < <(printf -- '-DHAVE_%s\n' MALLOC_H INTTYPES_H SIGNAL_H STRINGS_H GCC_THREAD_LOCAL_STORAGE CLOCK_REALTIME SIGLONGJMP \
        STRSIGNAL STRUCT_TIMESPEC)
    (cd "$apt" && export APT_CONFIG=$apt/conf && { apt-get update -qq; apt-get source -qq --download-only cmocka; } && tar -xf cmocka_*.orig.tar.?z &&
        $2 -O2 -D_GNU_SOURCE "${have[@]}" -I"$(echo cmocka-*/include)" -c -o cmocka.o cmocka-*/src/cmocka.c) >"$apt/log" 2>&1 || return
    ar rcs "$cross/cmocka-$1/libcmocka.a" "$apt/cmocka.o" && rm -rf "$apt"
}

# The library of transforms for any machine but this one is compiled too, from Debian's source, one file: a static one, so that
# nothing is needed beside a plug-in there. KISSFFT for make then stands in $kissfft.
kissfft_built() { # NAME COMPILER AR
    local room=$cross/kissfft-$1 apt=$cross/apt-kissfft
    kissfft="-I$cross/kissfft-source $room/libkissfft-float.a"
    [ -e "$room/libkissfft-float.a" ] && return
    if [ ! -e "$cross/kissfft-source/kiss_fft.c" ]; then
        mkdir -p "$cross/kissfft-source" && source_room "$apt" || return
        (cd "$apt" && export APT_CONFIG=$apt/conf && { apt-get update -qq; apt-get source -qq --download-only kissfft; } &&
            tar -xf kissfft_*.orig.tar.?z && cp "$(echo kissfft-*)"/*kiss_fft* "$cross/kissfft-source") >"$cross/kissfft.log" 2>&1 || return
        rm -rf "$apt"
    fi
    mkdir -p "$room"
    $2 -O2 -fPIC -Dkiss_fft_scalar=float -I"$cross/kissfft-source" -c -o "$room/kiss_fft.o" "$cross/kissfft-source/kiss_fft.c" >>"$cross/kissfft.log" 2>&1 || return
    "$3" rcs "$room/libkissfft-float.a" "$room/kiss_fft.o"
}
no_kissfft() { sum 0 0 1 "$1: Debian's source of kissfft could not be had or compiled for it ($cross/kissfft.log)"; }

# build NAME GOALS VARIABLE=VALUE... : false, after a line, where that fails.
build() {
    local name=$1 goals=$2
    shift 2
    # shellcheck disable=SC2086
    $make -j "$jobs" BUILD="$cross/$name" "$@" $goals >"$cross/$name.log" 2>&1 && return
    grep -m 5 -E 'error|Error|warning' "$cross/$name.log"
    sum 0 1 0 "$name: build ($cross/$name.log)"
    return 1
}

# Tests of a build, each through a small script that starts it and, on this machine, notes its CPU time.
unit_tests() { # NAME ''|emulated RUNNER...
    local name=$1 how=$2 program base run left=() sums
    shift 2
    rm -rf "$cross/$name/run" && mkdir -p "$cross/$name/run"
    for program in "$cross/$name"/tests/unit/test_* "$cross/$name"/tests/published/test_*; do
        base=$(basename "$program")
        run=$cross/$name/run/$base
        if [ -n "$how" ] && awk -v t="$(cat "$cross/gcc/run/$base.seconds" 2>/dev/null || echo 0)" -v p="$patience" 'BEGIN { exit !(t > p) }'; then
            left+=("$base")
            continue
        fi
        # shellcheck disable=SC2016
        printf '#!/bin/bash\nTIMEFORMAT=%%U\n{ time timeout 1200 %s 2>&3; } 3>&2 2>"$0.seconds"\n' "$(printf '%q ' "$@" "$program")" >"$run"
        chmod +x "$run"
    done
    mapfile -t programs < <(find "$cross/$name/run" -name 'test_*' -perm -u+x | sort)
    sums=$(tests/run.sh "$jobs" "${programs[@]}" 2>&1 | tee "$cross/$name-tests.log" | tail -n 1)
    # shellcheck disable=SC2046
    set -- $(echo "$sums" | sed 's/[^0-9 ]//g')
    [ $# -eq 3 ] || set -- 0 1 0
    grep '^FAILED' "$cross/$name-tests.log"
    grep -E '^\[  FAILED  \] [a-z]' "$cross/$name-tests.log" | sort -u
    sum "$1" "$2" "$(($3 + ${#left[@]}))" "$name: ${#programs[@]} test programs"
    [ ${#left[@]} -eq 0 ] || echo "    left out, over $patience s of CPU time here: ${left[*]}"
}

# Every plug-in of a build against gcc's for this machine.
plays() { # NAME SUFFIX RUNNER...
    local name=$1 suffix=$2 uri stem good=0 bad=0 text worst=
    shift 2
    mkdir -p "$cross/$name/out"
    for uri in $uris; do
        stem=${uri#urn:linctus:}
        text=$("$@" "$cross/$name/load${exe:-}" play "$cross/$name/linctus.lv2/${stem%-stereo}.$suffix" "$uri" "$cross/$stem.ports" "$cross/take.raw" \
            "$cross/$name/out/$stem.raw" 2>&1) &&
            text=$("$cross/gcc/load" compare "$cross/gcc/out/$stem.raw" "$cross/$name/out/$stem.raw" $limit)
        if [ $? -eq 0 ]; then good=$((good + 1)); else bad=$((bad + 1)); echo "FAILED $name $stem: $text"; fi
        worst="$worst$stem: $text
"
    done
    printf '%s' "$worst" >"$cross/$name-plays.log"
    text=$(sed -n 's/.*differs by \(-[0-9]*\) dB.*/\1/p' "$cross/$name-plays.log" | sort -n | tail -n 1)
    sum $good $bad 0 "$name: plug-ins play, $([ -n "$text" ] && echo "$text dB of the peak off gcc's at most" || echo "equal to gcc's to the bit")"
}

goals="unit-tests bundle"
dl="LOAD_LIBS=-ldl"

# ---- this machine ----
has gcc || { echo "gcc is not installed"; exit 1; }
build gcc "$goals $cross/gcc/load $cross/gcc/reference $cross/gcc/singer" CC=gcc WERROR=-Werror "$dl" || exit 1
"$cross/gcc/singer" --voice alto --seed 3 --rate 48000 --seconds 5 "$cross/take.wav" >"$cross/take.log" 2>&1 || exit 1
"$cross/gcc/reference" raw "$cross/take.wav" "$cross/take.raw" || exit 1
uris=$(sed -n 's/^<\(urn:linctus:[a-z-]*\)>$/\1/p' "$cross/gcc/linctus.lv2/manifest.ttl")
for uri in $uris; do "$cross/gcc/reference" ports "$cross/gcc/linctus.lv2" "$uri" >"$cross/${uri#urn:linctus:}.ports" || exit 1; done
mkdir -p "$cross/gcc/out"
plays gcc so
wanted gcc && unit_tests gcc ""

if ! wanted clang; then
    :
elif has clang; then
    build clang "$goals $cross/clang/load" CC=clang WERROR=-Werror "$dl" && { plays clang so; unit_tests clang ""; }
else
    sum 0 0 1 "clang: not installed"
fi

# What a build does without for another machine: the libraries that read sound files, and speech with them.
without=(LV2= SNDFILE= TEST_CFLAGS= EBUR128_LIBS= SPOKEN=tests/cross/spoken.c)

# ---- another C library ----
musl() {
    has musl-gcc || { sum 0 0 1 "musl: musl-gcc is not installed"; return; }
    kissfft_built musl musl-gcc ar || { no_kissfft musl; return; }
    local settings=(CC=musl-gcc KISSFFT="$kissfft" WERROR=-Werror "${without[@]}" CPPFLAGS="-I$cross/include" LDFLAGS="-L$cross/cmocka-musl" "$dl")
    build musl "bundle $cross/musl/load" "${settings[@]}" || return
    plays musl so
    cmocka_built musl musl-gcc || { sum 0 0 1 "musl: unit tests: no libcmocka for it ($cross/apt-musl/log)"; return; }
    build musl unit-tests "${settings[@]}" && unit_tests musl ""
}
wanted musl && musl

# ---- other processors ----
foreign() { # NAME TRIPLET DEBIAN-ARCHITECTURE QEMU FLAGS [FLAGS-OF-TESTS]
    local name=$1 triplet=$2 root=/usr/$2 runner loader how
    has "$triplet-gcc" || { sum 0 0 1 "$name: $triplet-gcc is not installed"; return; }
    kissfft_built "$name" "$triplet-gcc $5" "$triplet-ar" || { no_kissfft "$name"; return; }
    local settings=(CC="$triplet-gcc $5" KISSFFT="$kissfft" AR="$triplet-ar" WERROR=-Werror "${without[@]}" CPPFLAGS="-I$cross/include" LDFLAGS="-L$cross/cmocka-$3" "$dl")
    build "$name" "bundle $cross/$name/load" "${settings[@]}" || return
    loader=$(find "$root/lib" -maxdepth 1 \( -name 'ld-linux*' -o -name 'ld64.so.*' \) | head -n 1)
    local libraries=$root/lib:$cross/cmocka-$3
    # The machine itself, if it can; qemu-user else.
    if "$loader" --library-path "$libraries" "$cross/$name/load" >/dev/null 2>&1; [ $? -eq 1 ]; then
        runner=("$loader" --library-path "$libraries") how=
    elif has "$4"; then
        runner=("$4" -L "$root" -E "LD_LIBRARY_PATH=$libraries") how=emulated
    else
        sum 0 0 1 "$name: $4 is not installed"
        return
    fi
    plays "$name" so "${runner[@]}"
    cmocka_for "$3" || { sum 0 0 1 "$name: unit tests: no libcmocka for $3 ($cross/apt-$3/log)"; return; }
    build "$name" unit-tests "${settings[@]}" CFLAGS="${6:-}" || return
    unit_tests "$name" "$how" "${runner[@]}"
}
# x87 arithmetic keeps more digits than a float or a double has, as long as the compiler keeps a value in a register: results then
# depend on register pressure, and two passes over the same samples differ. SSE2 rounds each operation, as every other machine does.
wanted i686 && foreign i686 i686-linux-gnu i386 qemu-i386 "-msse2 -mfpmath=sse"
# With -std=c11 gcc works floats out in double for s390x, but not for the others: results depend on what is kept in a variable.
wanted s390x && foreign s390x s390x-linux-gnu s390x qemu-s390x -fexcess-precision=fast
# Debian 12's gcc for it ends with an internal error where it turns a loop of test_sos.c into vectors: the plug-ins have them.
wanted aarch64 && foreign aarch64 aarch64-linux-gnu arm64 qemu-aarch64 "" -fno-tree-loop-vectorize
wanted armhf && foreign armhf arm-linux-gnueabihf armhf qemu-arm ""

# ---- Windows ----
windows() {
    local triplet=x86_64-w64-mingw32 wine
    has $triplet-gcc || { sum 0 0 1 "windows: $triplet-gcc is not installed"; return; }
    kissfft_built windows $triplet-gcc $triplet-ar || { no_kissfft windows; return; }
    # libgcc goes into the DLL: no other file is needed beside it. Warnings are let pass: its isfinite() of a double gives one.
    build windows "bundle $cross/windows/load" CC=$triplet-gcc KISSFFT="$kissfft" AR=$triplet-ar SO=dll LV2= CPPFLAGS="-I$cross/include" \
        LDFLAGS=-static-libgcc TEST_CFLAGS= SNDFILE= LOAD_LIBS= || return
    sum "$(find "$cross/windows/linctus.lv2" -name '*.dll' | wc -l)" 0 0 "windows: DLLs link"
    wine=$(PATH=$PATH:/usr/lib/wine command -v wine64) || { sum 0 0 1 "windows: wine64 is not installed"; return; }
    # A prefix of its own: no wine of yours is touched.
    export WINEPREFIX=$cross/wine WINEDEBUG=-all
    exe=.exe plays windows dll "$wine"
}
wanted windows && windows

echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
