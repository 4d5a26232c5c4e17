#!/bin/sh
# Which lines do the tests run? Builds so that each is counted, runs all tests, and prints lines and branches by
# folder, then each file of which less than nine lines in ten were run. FOLDER/missing.txt has the numbers of those
# that were not. Who is killed by a test tells before it dies (coverage_kill.c), but not who hangs deaf to signals,
# and who is killed by a shell. Two cases of bad_input fail, for another user may not write what was counted and says
# so; and a machine that is busy with other things makes tests with emulated dongles fail, for all is much slower.
# usage: coverage.sh [TEST...]        all when not given
# BANDCENSUS_COVERAGE_BUILD: the build folder, build-coverage when not given
set -u
cd "$(dirname "$0")/.." || exit 1
mkdir -p "${BANDCENSUS_COVERAGE_BUILD:-build-coverage}"
build=$(cd "${BANDCENSUS_COVERAGE_BUILD:-build-coverage}" && pwd)
log=$build/coverage.log

command -v gcovr >/dev/null || { echo "coverage.sh: there is no gcovr, which is a package of Debian's" >&2; exit 2; }
gcc -O1 -fPIC -D_GNU_SOURCE -Wall -Wextra -c -o "$build/coverage_kill.o" tests/coverage_kill.c || exit 1
if ! [ -e "$build/build.ninja" ]; then
	meson setup "$build" --buildtype=debug --optimization=1 -Db_coverage=true -Dwerror=false \
		-Dc_args=-fprofile-update=atomic \
		"-Dc_link_args=--coverage $build/coverage_kill.o -Wl,--wrap=kill,--wrap=raise,--wrap=_exit" >"$log" || exit 1
fi
ninja -C "$build" >"$log" 2>&1 || { tail -n 40 "$log"; exit 1; }
# What generators ran while building stays: their output is what tests look at.
find "$build" -name '*.gcda' -not -path '*/man/*' -delete

# Six times as long as usual: counting costs time, and files that all processes write to.
nice -n 10 meson test -C "$build" --no-rebuild -t 6 "$@" >"$log" 2>&1
failed=$?
grep -E '(FAIL|TIMEOUT|^Ok: |^Fail: )' "$log"

# The programs alone: to read what was counted of the tests themselves takes longer than all the rest.
count() { gcovr -j "$(nproc)" -r . -f dsp/ -f store/ -f daemon/ -f tools/ --json "$build/$1.json" "$build/$1" >>"$log" 2>&1; }
for folder in dsp store daemon tools; do
	count $folder || { tail -n 20 "$log"; exit 1; }
done
tell() { gcovr -r . -a "$build/dsp.json" -a "$build/store.json" -a "$build/daemon.json" -a "$build/tools.json" "$@" 2>>"$log"; }
tell --txt "$build/missing.txt"

tell --csv | awk -F, '
function share(part, whole) { return whole ? 100 * part / whole : 100 }
function told(name, run, lines, taken, branches) {
	return sprintf("%-28s %6d  %5.1f %%  %5.1f %%", name, lines, share(run, lines), share(taken, branches))
}
NR == 1 { next }
{ folder = $1; sub("/[^/]*$", "", folder) }
{ lines[folder] += $2; run[folder] += $3; branches[folder] += $5; taken[folder] += $6 }
share($3, $2) < 90 { poor[++n] = told($1, $3, $2, $6, $5) }
END {
	printf "%-28s %6s  %7s  %7s\n", "folder", "lines", "run", "branches"
	for (f in lines)
		print told(f, run[f], lines[f], taken[f], branches[f]) | "sort"
	close("sort")
	print "\nfiles below 90 %:"
	for (i = 1; i <= n; i++)
		print poor[i] | "sort"
}'
exit $failed
