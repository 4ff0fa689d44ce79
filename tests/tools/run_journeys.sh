#!/usr/bin/env bash
# run_journeys.sh BUILD JOURNEY...: runs each journey in a home of its own, several at a time: they
# mostly wait. Those that say "# Takes minutes" start first.
#
# BUILD is the folder with release/afterset and asan/afterset. One line a journey, with its time;
# what a failed one printed; 'N passed, N failed' at the end. Exit status 1 when one failed.
# AFTERSET_JOURNEY_S: seconds one journey may take (300). AFTERSET_JOURNEYS_AT_ONCE: how many run
# beside each other (one more than there are cores). Homes are in memory where that can be:
# rides at many times the speed of riders must not wait for a disk as often.
set -u

if [ $# -lt 1 ] || [ ! -x "$1/release/afterset" ] || [ ! -x "$1/asan/afterset" ]; then
    echo "run_journeys.sh: '${1:-}' has no release/afterset and asan/afterset;" \
        "'make test' builds both" >&2
    exit 2
fi
AFTERSET_BUILD=$(cd "$1" && pwd)
export AFTERSET_BUILD
shift
longest_s=${AFTERSET_JOURNEY_S:-300}
at_once=${AFTERSET_JOURNEYS_AT_ONCE:-$(($(nproc) + 1))}
mapfile -t journeys < <(exec < /dev/null
    grep -l '^# Takes minutes' "$@"
    grep -L '^# Takes minutes' "$@")
[ "${#journeys[@]}" -eq $# ] || { echo "run_journeys.sh: no such journey, or none" >&2; exit 2; }
folder=$(mktemp -d /dev/shm/afterset-journeys.XXXXXX 2> /dev/null) ||
    folder=$(mktemp -d "${TMPDIR:-/tmp}/afterset-journeys.XXXXXX") || exit 2
trap 'rm -rf "$folder"' EXIT

# run_one FILE: leaves NAME.log and NAME.status in the folder.
run_one()
{
    local name home status begun=$SECONDS
    name=$(basename "$1")
    home=$folder/$name
    mkdir -p "$home"/{data,config,runtime,tmp}
    chmod 700 "$home/runtime"
    # timeout(1) makes a process group and ends all of it.
    HOME=$home XDG_DATA_HOME=$home/data XDG_CONFIG_HOME=$home/config XDG_RUNTIME_DIR=$home/runtime \
        TMPDIR=$home/tmp timeout -k 5 "$longest_s" "$1" > "$folder/$name.log" 2>&1 < /dev/null
    status=$?
    [ "$status" -ne 124 ] || echo "it took more than $longest_s s" >> "$folder/$name.log"
    echo "$status" > "$folder/$name.status"
    rm -rf "$home"
    if [ "$status" -eq 0 ]; then
        printf '  JOURNEY %-32s passed %4d s\n' "$name" $((SECONDS - begun))
    else
        printf '  JOURNEY %-32s FAILED %4d s\n' "$name" $((SECONDS - begun))
        sed 's/^/    /' "$folder/$name.log"
    fi
}

running=0
for journey in "${journeys[@]}"; do
    if [ "$running" -ge "$at_once" ]; then
        wait -n
        running=$((running - 1))
    fi
    run_one "$journey" &
    running=$((running + 1))
done
wait

passed=0
failed=0
for journey in "${journeys[@]}"; do
    if [ "$(cat "$folder/$(basename "$journey").status" 2> /dev/null)" = 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
    fi
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
