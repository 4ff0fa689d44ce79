#!/usr/bin/env bash
# What the unit tests reach of the pure rooms: lines and branches, room by room. Asserts are left
# out: their other side is a fault of the programmer that no test may take. So are the branches of a
# switch: each of its cases has a line of its own, and it has a side for numbers outside its enum.
# Fails when a line or branch of src/ride/safety.c or more than a tenth of a room's lines is not.
# Usage: coverage.sh BUILD ROOM...
set -eu
cd "$(dirname "$0")/../.."
build=$1
shift
report=$build/coverage.json
gcovr --root . --exclude-unreachable-branches --exclude-throw-branches \
    --exclude-lines-by-pattern '.*\bassert\(.*' --exclude-branches-by-pattern '\s*switch \(.*' \
    --filter "src/($(IFS='|'; echo "$*"))/" \
    --json-summary "$report" --txt "$build/coverage.txt" "$build/src" > /dev/null
python3 - "$report" "$@" <<'PYTHON'
import json
import sys

FLOOR_PERCENT = 90
WHOLE = "src/ride/safety.c"

files = {entry["filename"]: entry for entry in json.load(open(sys.argv[1]))["files"]}
failed = False


def share(entries, what):
    covered = sum(entry[what + "_covered"] for entry in entries)
    total = sum(entry[what + "_total"] for entry in entries)
    return covered, total, 100 * covered / total if total else 100


def tell(name, entries, floor, what_counts):
    global failed
    parts = {what: share(entries, what) for what in ("line", "branch")}
    is_low = any(parts[what][2] < floor for what in what_counts) or not entries
    failed |= is_low
    print("  %s %-18s lines %5d of %5d, %5.1f %%   branches %5d of %5d, %5.1f %%" %
          ("FAILED  " if is_low else "COVERAGE", name, *parts["line"], *parts["branch"]))


for room in sys.argv[2:]:
    tell(room, [entry for name, entry in files.items() if name.startswith(f"src/{room}/")],
         FLOOR_PERCENT, ["line"])
tell(WHOLE, [files[WHOLE]] if WHOLE in files else [], 100, ["line", "branch"])
sys.exit(failed)
PYTHON
