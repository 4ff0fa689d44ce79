#!/bin/sh
# run_unit.sh PROGRAM: runs a unit test. One line, with how many tests passed and its time; what a
# failed one printed. PROGRAM.log keeps it. A program in which no test passed has failed.
set -u
begun=$(date +%s)
"$1" > "$1.log" 2>&1
status=$?
seconds=$(($(date +%s) - begun))
if [ "$status" -eq 0 ] && said=$(awk '$2 == "PASSED" { passed += $4 } / in all$/ { more = ", " $0 }
        END { printf "%d passed%s", passed, more; exit passed == 0 }' "$1.log"); then
    printf '  TEST    %-52s %4d s  %s\n' "$1" "$seconds" "$said"
else
    printf '  FAILED  %-52s %4d s  status %d\n' "$1" "$seconds" "$status"
    sed 's/^/    /' "$1.log"
    exit 1
fi
