#!/bin/bash
# Makes the two archives of a version: tests/dist.sh OUT NAME MACHINE BUNDLE FILE...   (from `make dist`)
#   OUT/NAME.tar.gz           the source: unpack, make. In a git work tree what git knows of, else what stands there.
#   OUT/NAME-MACHINE.tar.gz   the bundle with its licence: unpack in ~/.lv2. FILEs are the bundle's.
# Both are equal to the bit whoever makes them, where and when: sorted, with one owner, one kind of mode and one time,
# SOURCE_DATE_EPOCH.
set -euo pipefail
out=$1 name=$2 machine=$3 bundle=$4
shift 4
mkdir -p "$out"

pack() { # ARCHIVE TAR-OPTION...
    local archive=$1
    shift
    LC_ALL=C tar --format=ustar --sort=name --owner=0 --group=0 --numeric-owner --mode=u=rwX,go=rX \
        --mtime="@$SOURCE_DATE_EPOCH" -c "$@" | gzip -9n >"$archive.part"
    mv "$archive.part" "$archive"
    echo "$archive"
}

sources() {
    if [ -e .git ]; then
        git ls-files
    else
        find README.md DEVELOPERS.md LICENSE Makefile plugins common-dsp ttl tests presets \
            .ci .clang-format .clang-tidy .gitignore -type f
    fi | LC_ALL=C sort | while IFS= read -r file; do if [ -e "$file" ]; then echo "$file"; fi; done
}

pack "$out/$name.tar.gz" --transform "s,^,$name/," -T <(sources)
mapfile -t files < <(printf 'linctus.lv2/%s\n' "$@" | LC_ALL=C sort)
pack "$out/$name-$machine.tar.gz" --transform 's,^LICENSE$,linctus.lv2/LICENSE,' LICENSE -C "$(dirname "$bundle")" "${files[@]}"
