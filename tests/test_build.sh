#!/bin/bash
# Tests of the Makefile, on copies of the tree: what a changed setting builds anew, that builds are equal to the bit wherever they
# stand, that `make -s` is silent, that render is left out where its libraries are not there, and the archives of `make dist`.
# A line a check, then the line of sums.
set -u
cd "$(dirname "$0")/.." || exit 1
room=$(mktemp -d)
trap 'rm -rf "$room"' EXIT
passed=0 failed=0 skipped=0

# make in an environment of its own: the settings of the make that runs this are not ours.
clean_make() { env -i PATH="$PATH" HOME="$room/home" LC_ALL=C make "$@"; }
check() { # TEXT COMMAND...: the command has to succeed
    local text=$1
    shift
    if "$@" >"$room/check" 2>&1; then
        passed=$((passed + 1)) && echo "ok      $text"
    else
        failed=$((failed + 1)) && echo "FAILED  $text" && head -n 20 "$room/check"
    fi
}
skip() { skipped=$((skipped + 1)) && echo "skipped $1"; }
same() { diff -rq "$1" "$2"; }
says() { grep -q -e "$1" "$room/said" || { cat "$room/said" && return 1; }; }
not() { ! "$@"; }

# The build whose tests these are, where no setting made it another than plain make's; else one of our own.
first=${LINCTUS_BUILD:-build}
clean_make -q BUILD="$first" bundle >/dev/null 2>&1 || first=$room/first

# A tree that was never in git: what an archive holds.
check "make dist" clean_make BUILD="$first" DIST="$room/dist" dist
version=$(basename "$room"/dist/linctus-*-*.tar.gz | sed 's/^linctus-\([0-9.]*\)-.*/\1/')
check "the archives are named by the Makefile's version" grep -qx "VERSION := $version" Makefile
mkdir -p "$room/a/very/long/folder" "$room/home/.lv2"
tar -xzf "$room/dist/linctus-$version.tar.gz" -C "$room/a/very/long/folder"
ln -s "$room/a/very/long/folder/linctus-$version" "$room/link"
tree=$room/a/very/long/folder/linctus-$version

# ---- archives ----
if [ -e .git ]; then
    git ls-files | while IFS= read -r file; do [ ! -e "$file" ] || echo "$file"; done | LC_ALL=C sort >"$room/tracked"
    (cd "$tree" && find . -type f | sed 's,^\./,,' | LC_ALL=C sort) >"$room/packed"
    check "the source archive holds what git knows of" diff "$room/tracked" "$room/packed"
else
    skip "the source archive holds what git knows of: this is no git work tree"
fi
# Through a symbolic link, another build folder, other modes and times, outside git.
chmod -R go-rwx "$tree"
find "$tree" -exec touch -d '2024-02-29 12:00' {} +
(cd "$room/link" && umask 077 && clean_make BUILD=out dist) >"$room/said" 2>&1
check "an unpacked source archive builds outside git" says "linctus-$version.tar.gz"
check "both archives are equal to the bit to those made here" same "$room/dist" "$tree/out/dist"
tar -xzf "$tree"/out/dist/linctus-"$version"-*.tar.gz -C "$room/home/.lv2"
cp LICENSE "$tree/out/linctus.lv2/"
check "the bundle's archive unpacked in ~/.lv2 is the bundle and its licence" same "$tree/out/linctus.lv2" "$room/home/.lv2/linctus.lv2"
rm "$tree/out/linctus.lv2/LICENSE"
check "and everything in it can be read by anybody" [ -z "$(find "$room/home/.lv2/linctus.lv2" -type f ! -perm -444)" ]
if command -v lv2ls >/dev/null; then
    LV2_PATH=$room/home/.lv2 lv2ls >"$room/said"
    check "a host finds the plug-ins there" says '^urn:linctus:trim-stereo$'
else
    skip "a host finds the plug-ins there: lv2ls is not installed"
fi
clean_make -C "$tree" -s BUILD=out SOURCE_DATE_EPOCH=86400 dist >/dev/null
tar -tvzf "$tree/out/dist/linctus-$version.tar.gz" --utc >"$room/said"
check "SOURCE_DATE_EPOCH dates them" says ' 1970-01-02 00:00 linctus-.*/Makefile$'

# ---- builds ----
check "the library is equal to the bit wherever it is built" cmp "$first/libcommon-dsp.a" "$tree/out/libcommon-dsp.a"
check "no path of this machine is in what is built" not grep -rlF --include='*.so' --include='*.a' -e "$room" -e "$PWD" "$tree/out"

if command -v readelf >/dev/null; then
    late() { for so in "$first"/linctus.lv2/*.so; do readelf -d "$so" | grep -q BIND_NOW || echo "$so"; done; }
    check "every plug-in's symbols are found when it is loaded, not in its run()" [ -z "$(late)" ]
else
    skip "every plug-in's symbols are found when it is loaded: readelf is not installed"
fi

# ---- what is built anew ----
# A tree with our Makefile and Turtle, and next to nothing to compile: a plug-in, the shell, three modules of the library, one of
# which does not include what the others do. A build of it takes no time.
small=$room/small
mkdir -p "$small/ttl" "$small/plugins/shell" "$small/plugins/plate" "$small/presets" "$small/common-dsp"
cp "$tree/Makefile" "$small"
cp "$tree"/ttl/*.awk "$tree/ttl/linctus.ttl" "$tree/ttl/plate.ttl" "$small/ttl"
cp "$tree/presets/plate-places.ttl" "$small/presets"
echo 'int one(void); int two(void); int three(void);' >"$small/common-dsp/one.h"
printf '#include "one.h"\nint one(void) { return 1; }\n' >"$small/common-dsp/one.c"
printf '#include "one.h"\nint two(void) { return one() + 1; }\n' >"$small/common-dsp/two.c"
echo 'int three(void); int three(void) { return 3; }' >"$small/common-dsp/three.c"
printf '#include "one.h"\nint shell(void); int shell(void) { return two(); }\n' >"$small/plugins/shell/shell.c"
printf '#include "one.h"\nint plate(void); int plate(void) { return two(); }\n' >"$small/plugins/plate/plate.c"
objects=5 including=4

# after ARGUMENT...: what a build with them makes, a line a file in $room/said, its kind first; a second one has to make nothing.
after() {
    clean_make -C "$small" BUILD=out OPT=-O0 "$@" bundle >"$room/all" 2>&1
    sed -n 's/^  \([A-Z]*\)  *out\//\1 /p' "$room/all" >"$room/said"
}
made() { # KIND=NUMBER...
    local want
    for want in "$@"; do
        [ "$(grep -c "^${want%=*} " "$room/said")" -eq "${want#*=}" ] || { cat "$room/all" && return 1; }
    done
}
builds() { # TEXT "KIND=NUMBER..." ARGUMENT...
    local text=$1 kinds=$2
    shift 2
    after "$@"
    # shellcheck disable=SC2086
    check "$text" made $kinds
    after "$@"
    check "    and then nothing more" made CC=0 AR=0 LINK=0 MAKE=0
}
everything="CC=$objects AR=1 LINK=1 MAKE=4"
compiled="CC=$objects AR=1 LINK=1 MAKE=0"
linked="CC=0 AR=0 LINK=1 MAKE=0"
archived="CC=0 AR=1 LINK=1 MAKE=0"

builds "a first build makes everything" "$everything"
builds "other CFLAGS= compile all of it" "$compiled" CFLAGS="-DX='a b'"
builds "and so does their going away" "$compiled"
builds "another CC= compiles all of it" "$compiled" CC=gcc
builds "so does another OPT=" "$compiled" CC=gcc OPT="-O0 -g"
builds "and WARN=" "$compiled" CC=gcc WARN=-Wall
builds "another CPPFLAGS=" "$compiled" CPPFLAGS=-DY
builds "LDFLAGS= link" "$linked" CPPFLAGS=-DY LDFLAGS=-Wl,-O1
builds "another AR= archives" "$archived" CPPFLAGS=-DY LDFLAGS=-Wl,-O1 AR=gcc-ar
after
builds "another AWK= writes the Turtle and the ports' header" "AR=0 LINK=1 MAKE=4" AWK="$(command -v awk)"
after
touch "$small/common-dsp/one.h"
builds "a header that was edited compiles what includes it" "CC=$including AR=1 LINK=1 MAKE=0"
mv "$small/common-dsp/three.c" "$room"
builds "a source file that went makes the library anew" "$archived"
mv "$room/three.c" "$small/common-dsp"
builds "and one that came" "CC=0 AR=1 LINK=1 MAKE=0"
sed -i 's/^WARN .*/WARN := -Wall/' "$small/Makefile"
builds "an edited Makefile makes everything" "$everything"
check "make -q agrees that nothing is to do" clean_make -C "$small" BUILD=out OPT=-O0 -q bundle
cp -R "$small/out" "$room/before"
clean_make -C "$small" BUILD=out OPT=-O1 -n bundle >"$room/said"
check "make -n tells what another OPT= would compile" says "out/obj/common-dsp/three.o"
check "    and does nothing" same "$room/before" "$small/out"

# ---- silence, and what is left out ----
clean_make -C "$small" BUILD=out OPT=-O0 CFLAGS=-DZ -j2 -s bundle >"$room/said" 2>&1
check "make -s prints nothing" [ ! -s "$room/said" ]
check "without lilv, libsndfile and libsoxr plain make succeeds" clean_make -C "$small" BUILD=out OPT=-O0 PKG=false
clean_make -C "$small" BUILD=out OPT=-O0 PKG=false >"$room/said" 2>&1
check "    and says that render was left out" says '  build/render was left out: it needs lilv, libsndfile and libsoxr'
clean_make -C "$small" BUILD=out OPT=-O0 PKG=false -s >"$room/said" 2>&1
check "    but for make -s" [ ! -s "$room/said" ]
if pkg-config --exists lilv-0 sndfile; then
    clean_make -C "$tree" BUILD=out -n >"$room/said" 2>&1
    check "with them plain make builds render" says '  LINK  out/render'
else
    skip "with them plain make builds render: they are not installed"
fi

echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
