#!/usr/bin/env bash
# Everything that can be said of the sources without running them. `make lint` sets the variables.
set -u
cd "$(dirname "$0")/../.." || exit 1
status=0
jobs=$(nproc)
flags=(-std=c11 -D_GNU_SOURCE "-DAFTERSET_VERSION=\"$VERSION\"" -Iinclude -Isrc -Itests
    -Ibuild/lint)
[ -n "$LIB_CFLAGS" ] && read -ra more <<< "$LIB_CFLAGS" && flags+=("${more[@]}")
mapfile -t sources < <(git ls-files 'src/*.c')
# Those of tests/prove are for Frama-C, whose header no compiler has.
mapfile -t tests < <(git ls-files 'tests/*.c' ':!tests/prove')
mapfile -t all < <(git ls-files '*.c' '*.h')
mapfile -t scripts < <(git ls-files | xargs grep -lE '^#!.*[ /](ba)?sh$')

step()
{
    local name=$1
    printf '  LINT    %s\n' "$name"
    shift
    "$@" || { status=1; printf '  FAILED  %s\n' "$name"; }
}
# shellcheck disable=SC2317 # step calls it
each()
{
    # each FILE... -- COMMAND...: the command once for each file, on every core
    local files=()
    while [ "$1" != -- ]; do files+=("$1"); shift; done
    shift
    printf '%s\0' "${files[@]}" | xargs -0 -n 1 -P "$jobs" "$@"
}

# Both compilers, no warning left. What -Weverything asks that this project does not want:
#   declaration-after-statement  C11 declares at first use
#   padded                       layout is not written to disk
#   covered-switch-default       a default after all cases guards against foreign numbers
#   switch-default               and its absence lets -Wswitch-enum find forgotten cases
#   disabled-macro-expansion     fires inside the C library's own macros
#   unsafe-buffer-usage          C has no other buffers
#   float-equal                  tests compare exact binary fractions on purpose
clang_off=(-Wno-declaration-after-statement -Wno-padded -Wno-covered-switch-default
    -Wno-disabled-macro-expansion -Wno-float-equal -Wno-unknown-warning-option
    -Wno-switch-default -Wno-unsafe-buffer-usage)
read -ra warnings <<< "${WARNINGS:?set by make lint}"

"$MAKE" -s MODE=release all || exit 1
mkdir -p build/lint
[ -d build/release/embedded ] && cp -r build/release/embedded build/lint/

step 'gcc -Werror' each "${tests[@]}" -- \
    gcc "${flags[@]}" "${warnings[@]}" -Werror -O2 -c -o /dev/null
step 'gcc -Werror -fanalyzer' each "${sources[@]}" -- \
    gcc "${flags[@]}" "${warnings[@]}" -Werror -O2 -fanalyzer -c -o /dev/null
step 'clang -Weverything' each "${sources[@]}" -- \
    clang "${flags[@]}" -Weverything "${clang_off[@]}" -Werror -O2 -fsyntax-only
step 'clang-tidy' each "${sources[@]}" -- \
    tests/tools/tidy.sh "${flags[@]}"
step 'cppcheck' cppcheck --std=c11 --enable=warning,style,performance,portability --inline-suppr \
    --suppressions-list=tests/tools/cppcheck.txt --error-exitcode=1 -q -j "$jobs" \
    -Iinclude -Isrc "${sources[@]}"
step 'clang-format' clang-format --dry-run -Werror "${all[@]}"
step 'shellcheck' shellcheck -e SC1091 "${scripts[@]}"
step 'manuals' mandoc -T lint -W warning src/man/*
step 'layers' tests/tools/check_layers.sh
# shellcheck disable=SC2086 # a list of rooms
step 'purity' tests/tools/check_pure.sh build/release $PURE
step 'sizes' tests/tools/check_sizes.sh
step 'loops' tests/prove/loops.py
exit $status
