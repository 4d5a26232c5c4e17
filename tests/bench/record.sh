#!/bin/sh
# Measures the record: how a survey grows with channels and nights, what writing it costs, and how much goes to the
# disk, for invented busy nights of 12 hours. Builds in build-bench. Passes or fails nothing.
# usage: record.sh [FOLDER ON THE DISK TO MEASURE]
set -eu
cd "$(dirname "$0")/../.."

build=build-bench
if [ ! -f "$build/build.ninja" ]; then
	meson setup "$build" --buildtype=release >/dev/null
fi
ninja -C "$build" tests/bench/bench_record >/dev/null
place=$(mktemp -d "${1:-${TMPDIR:-/tmp}}/record.XXXXXX")
trap 'rm -rf "$place"' EXIT
for row in '1500 1' '6000 1' '13500 3' '24000 1'; do
	# shellcheck disable=SC2086
	set -- $row
	echo "$1 channels"
	"$build/tests/bench/bench_record" "$1" "$2" "$place/$1.survey"
done
