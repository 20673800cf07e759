#!/bin/sh
# Prints a line that stands for all that test programs are made of, and for what they are asked to do otherwise than
# usual: where it is the same, so is what they find. Documents, figures of earlier runs and what breaks the code in
# `make mutate` have no part in it.
set -eu
cd "$(dirname "$0")/.."
{
    find Makefile common-dsp plugins ttl presets tests -type f \
        ! -name '*.md' ! -path 'tests/mutate/*' ! -name equivalent.txt ! -name uncovered.txt |
        LC_ALL=C sort | tr '\n' '\0' | xargs -0 sha256sum
    echo "${LINCTUS_SEEDS:-} ${LINCTUS_TAKES:-} ${LINCTUS_ONLY:-} ${LINCTUS_VOICES:-}"
} | sha256sum | cut -c 1-16
