#!/bin/sh
# Proves the contracts in the sources with Frama-C's WP, and that no operation in them can go wrong
# at run time. Usage: prove.sh FILE...
set -eu
cd "$(dirname "$0")/../.."
[ -f "$HOME/.why3.conf" ] || why3 config detect > /dev/null 2>&1
status=0
for file in "$@"; do
    log=build/prove/$(basename "$file").log
    mkdir -p "$(dirname "$log")"
    # memcpy() sees octets as char, which the plain model does not.
    model=Typed
    grep -q 'memcpy(' "$file" && model=Typed+Cast
    frama-c -c11 -wp -wp-rte -wp-model "$model" -wp-prover z3,cvc4 -wp-timeout 30 -cpp-extra-args=-Iinclude "$file" \
        > "$log" 2>&1 || { tail -5 "$log"; exit 1; }
    # "Proved goals: N / N"; what is not proved is named in the log.
    proved=$(sed -n 's/.*Proved goals: *\([0-9]*\) *\/ *\([0-9]*\).*/\1 \2/p' "$log")
    printf '  PROVE   %s: %s of %s goals\n' "$file" "${proved% *}" "${proved#* }"
    if [ -z "$proved" ] || [ "${proved% *}" != "${proved#* }" ]; then
        grep -E 'Failed|Unknown' "$log" || true
        status=1
    fi
done
exit $status
