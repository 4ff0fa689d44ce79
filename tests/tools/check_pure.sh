#!/bin/sh
# Refuses a call out of the pure rooms to anything but themselves, a few string functions of the C
# library and mathematics: no clock, no heap, no file, no socket, no locale.
# Usage: check_pure.sh BUILD ROOM...
set -eu
build=$1
shift
outside='^(memcpy|memmove|memset|memcmp|memchr|strlen|strcmp|strncmp|strchr|__assert_fail|__stack_chk_fail|__mem(cpy|set|move)_chk|exp|pow|sqrt|fabs|fmax|fmin|floor|hypot|round|log|cos|sin|sincos|atan|erfc)$'
objects=$(for room in "$@"; do find "$build/src/$room" -name '*.o'; done)
# shellcheck disable=SC2086 # a list of files on purpose
own=$(nm --defined-only -g $objects | awk 'NF == 3 {print $3}' | sort -u)
status=0
for object in $objects; do
    for symbol in $(nm -u "$object" | awk '{print $2}'); do
        echo "$own" | grep -qx "$symbol" && continue
        echo "$symbol" | grep -qE "$outside" && continue
        echo "$object: a pure room may not call $symbol" >&2
        status=1
    done
done
exit $status
