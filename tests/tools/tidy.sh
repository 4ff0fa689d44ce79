#!/bin/sh
# clang-tidy on the last argument, the others being compiler flags; silent when there is nothing.
eval "file=\${$#}"
flags=
while [ $# -gt 1 ]; do
    flags="$flags '$1'"
    shift
done
eval "set -- $flags"
# shellcheck disable=SC2154 # set by the first eval
clang-tidy --quiet "$file" -- "$@" 2> /dev/null
