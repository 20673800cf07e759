#!/bin/bash
# What `make install-render` puts under a prefix works from there: the program finds the bundle, its page of the manual is
# one that troff takes without a warning and names every option, the completion completes. `make uninstall` takes all of
# it away again. LINCTUS_BUILD: the build to install. It ends with a line of sums, as tests/run.sh wants it.
set -u
cd "$(dirname "$0")/.." || exit 1
build=${LINCTUS_BUILD:-build}
passed=0 failed=0 skipped=0
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
render=$place/bin/linctus-render

ok() { # WHAT, after the command that it is about
    if [ $? -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "install: $1: failed"
    fi
}

# make hands its own variables on to what it runs; they are not meant for these.
unset MAKEFLAGS MFLAGS MAKEOVERRIDES
make -s BUILD="$build" PREFIX="$place" install-render >"$place/said" 2>&1
ok "make install-render"
(cd / && "$render" --list | grep -q '^trim:')
ok "the program finds the bundle under its prefix"

options=$("$render" --help | sed -n 's/^  \(--[a-z-]*\).*/\1/p')
page=$place/share/man/man1/linctus-render.1
missing=$(for option in $options; do
    # The page has its hyphens escaped, so that they stay hyphens.
    grep '^\.B' "$page" | grep -qF -- "$(printf '%s' "$option" | sed 's/-/\\-/g')" || echo "$option"
done)
[ -n "$options" ] && [ -z "$missing" ]
ok "the manual names every option"
if command -v groff >/dev/null; then
    [ -z "$(groff -man -Tascii -ww -z "$page" 2>&1)" ]
    ok "the manual is sound troff"
else
    echo "install: no groff: the manual is not tried"
    skipped=$((skipped + 1))
fi

completes() { # EXPECTED WORD...: the last word is completed
    (
        local expected=$1
        shift
        # shellcheck source=/dev/null
        . "$place/share/bash-completion/completions/linctus-render"
        COMP_WORDS=("$render" "$@") COMP_CWORD=$#
        _linctus_render "$render"
        [ "${COMPREPLY[*]-}" = "$expected" ]
    )
    ok "completion of $*: $1"
}
completes "--advise" --adv
completes "Mezzo-soprano" --voice mez
completes "trim,tone" --stages trim,to
completes "" --voice xyz

make -s BUILD="$build" PREFIX="$place" uninstall >>"$place/said" 2>&1
[ -z "$(find "$place/bin" "$place/lib" "$place/share" ! -type d)" ]
ok "make uninstall"

echo "$passed passed, $failed failed, $skipped skipped"
[ $failed -eq 0 ]
