#!/bin/sh
# Every bench, and the size of the program. Each figure is of this run on this machine; what stands
# beside it is measured in the same run, so that ratios mean something where times do not.
# Usage: run.sh BUILD
set -eu
build=$1
benches=$build/tests/bench
program=$build/afterset
profile=profiles/20-10x8.profile

# Sockets have short paths, and the store shall be measured on a real disk: below the build.
folder=$(mktemp -d "$build/bench.XXXXXX")
trap 'rm -rf "$folder"' EXIT
export XDG_DATA_HOME="$PWD/$folder" XDG_CONFIG_HOME="$PWD/$folder"
mkdir "$folder/afterset"
echo "experienced yes" > "$folder/afterset/rider" # else the first rides are eased

printf '%-40s %12s  %-10s %s\n' '' figure aim beside
"$benches/bench_block"
"$benches/bench_rehearse"
"$benches/bench_decode"
"$benches/bench_latency" "$program" "$profile" "$folder"
"$benches/bench_latency" "$program" "$profile" "$folder" --unrecorded
"$benches/bench_program" "$program" "$profile"
"$benches/bench_screen" "$program" "$profile"
# A device that takes everything at once: what is measured is this program.
echo 'pcm.!default { type null }' > "$folder/alsa.conf"
ALSA_CONFIG_PATH="$PWD/$folder/alsa.conf" "$benches/bench_sound"
"$benches/bench_store" "$folder"
"$benches/bench_half_year"
"$benches/bench_history" "$program" "$folder"
"$benches/bench_hold"
strip -o "$folder/stripped" "$program"
printf '%-40s %9s kB\n' 'the program, stripped' "$(($(wc -c < "$folder/stripped") / 1000))"
