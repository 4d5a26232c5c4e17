#!/bin/sh
# Shows the main job without a dongle: installs what is needed, builds, surveys
# a shortened night in an invented town and prints the plan for the shelf set.
# The pages beside it are for a browser.
set -eu

root=$(cd "$(dirname "$0")/.." && pwd)
build=$root/build
out=${1:-$root/build/harlow-ferry}

sh "$root/tools/install-packages.sh"
[ -f "$build/build.ninja" ] || meson setup "$build" "$root" >"$root/.setup.log" 2>&1 || {
	cat "$root/.setup.log"
	exit 1
}
rm -f "$root/.setup.log"
ninja -C "$build" daemon/bandcensusd tools/bandcensus

mkdir -p "$out"
rm -f "$out"/night.survey*
echo
echo "A night in Harlow Ferry, an invented town, 20:00 to 08:00:"
"$build/daemon/bandcensusd" --config "$root/config/harlow-ferry-night.conf" \
	--source "town:$root/config/harlow-ferry.conf" --seed 1 \
	--survey "$out/night.survey" --truth "$out/truth.csv"
"$build/tools/bandcensus" plan "$out/night.survey" \
	--receiver "$root/config/receiver-400.conf" \
	--interests "$root/config/interests.conf" --output "$out"
"$build/tools/bandcensus" report "$out/night.survey" \
	--receiver "$root/config/receiver-400.conf" \
	--interests "$root/config/interests.conf" --output "$out"
cat "$out/plan.txt"
echo
echo "The survey:  $out/night.survey"
echo "The plan:    $out/plan.txt (and plan.html to print, plan.csv, plan.json)"
echo "The night:   $out/report.html, its pictures and channels"
echo "The truth:   $out/truth.csv, what the town really sent"
echo "Look closer: $build/tools/bandcensus channels $out/night.survey"
