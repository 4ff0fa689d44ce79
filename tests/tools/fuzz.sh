#!/bin/sh
# Searches every program in FOLDER for SECONDS each, from the corpus in the tree. What is found
# beyond it stays in build/; an input that breaks something is kept in tests/fuzz/crashes.
# Usage: fuzz.sh FOLDER SECONDS
set -eu
cd "$(dirname "$0")/../.."
folder=$1
seconds=$2
mkdir -p tests/fuzz/crashes
status=0
for program in "$folder"/fuzz_*; do
    case $program in *.*) continue ;; esac
    name=$(basename "$program")
    name=${name#fuzz_}
    found=$folder/found/$name
    log=$folder/$name.log
    mkdir -p "$found"
    if "$program" -max_total_time="$seconds" -timeout=10 -rss_limit_mb=1024 -verbosity=1 \
        -artifact_prefix="tests/fuzz/crashes/$name-" "$found" "tests/fuzz/corpus/$name" \
        > "$log" 2>&1; then
        printf '  FUZZ    %-16s %s\n' "$name" "$(grep '^Done ' "$log")"
    else
        status=1
        printf '  FAILED  %s: again with\n' "$name"
        sed -n 's/.*Test unit written to \(.*\)/    \1/p' "$log" | sed "s|^ *|    $program |"
        grep -E 'does not hold|ERROR|runtime error' "$log" | head -3
    fi
done
exit $status
