#!/bin/sh
# How long (CPU), and in how much memory, merged nights are read: tests/bench/nights.sh [BUILD]
# Invented nights (tests/bench/bench_nights.c), merged, then read by the built bandcensus.
set -eu
root=$(cd "$(dirname "$0")/../.." && pwd)
build=${1:-$root/build}
[ -d "$build" ] || meson setup "$build" "$root" >/dev/null
ninja -C "$build" tests/bench/bench_nights tools/bandcensus >/dev/null
tool=$build/tools/bandcensus
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT

# seconds of CPU and megabytes of a command
cost() {
	/usr/bin/time -o "$folder/cost" -f '%U %S %M' "$@" >/dev/null
	awk '{ printf "%7.2f s %4d MB", $1 + $2, $3 / 1024 }' "$folder/cost"
}

echo 'nights channels   overs  file MB  merge            channels         plan             status           report            its MB'
for row in '1 1350 24000' '10 1350 24000' '30 1350 24000' '1 13500 24000' '10 13500 24000' '30 13500 24000' '30 27000 24000'; do
	set -- $row
	rm -f "$folder"/*.survey
	"$build/tests/bench/bench_nights" "$folder" "$1" "$2" "$3"
	merge=$(cost "$tool" merge "$folder/all.survey" "$folder"/night-*.survey)
	size=$(awk -v n="$(stat -c %s "$folder/all.survey")" 'BEGIN { printf "%.1f", n / 1e6 }')
	channels=$(cost "$tool" channels "$folder/all.survey")
	plan=$(cost "$tool" plan "$folder/all.survey" --receiver "$root/config/receiver-1000.conf")
	status=$(cost "$tool" status "$folder/all.survey")
	report=$(cost "$tool" report "$folder/all.survey" --output "$folder/page")
	page=$(awk -v n="$(stat -c %s "$folder/page/report.html")" 'BEGIN { printf "%.1f", n / 1e6 }')
	printf '%6d %8d %7d %8s  %s %s %s %s %s %6s\n' "$1" "$2" "$(($1 * $3))" "$size" "$merge" "$channels" "$plan" "$status" "$report" "$page"
done
