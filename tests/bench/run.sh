#!/bin/sh
# Measures speed: our chain beside bare FFTW, SciPy and liquid-dsp, on one core, turn by turn, and how many
# instructions a look takes. Installs what it needs, builds in build-bench. Passes or fails nothing.
# usage: run.sh [ROUNDS]
set -eu
cd "$(dirname "$0")/../.."

rounds=${1:-7}
passes=3
build="build-bench"
out=$build/measured

sh tools/install-packages.sh valgrind
mkdir -p "$out"
rm -f "$out"/*.txt "$out"/callgrind.*

if [ -f "$build/build.ninja" ]; then reconfigure=--reconfigure; else reconfigure=; fi
# shellcheck disable=SC2086
if ! meson setup $reconfigure "$build" --buildtype=release >"$out/build.txt" ||
	! ninja -C "$build" tests/bench/bench_chain tests/bench/bench_liquid >>"$out/build.txt"; then
	tail -n 40 "$out/build.txt" >&2
	exit 1
fi

# The last core: the first has the interrupts. The system's Python is the one that has SciPy.
core="taskset -c $(($(nproc) - 1))"
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
chain=$build/tests/bench/bench_chain
samples=$out/air.cu8
look=$($chain samples "$samples")

echo "processor: $(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1); load before: $(cut -d' ' -f1-3 /proc/loadavg)"
echo "compiler: $(${CC:-cc} --version | head -n 1)"
echo "Only the ratios count: nanoseconds are this machine's, today."
echo

# The first round plans patiently, which takes up to a minute; later ones know.
round=0
while [ $round -lt "$rounds" ]; do
	$core "$chain" time $passes "$out/wisdom" >>"$out/chain.txt"
	$core $build/tests/bench/bench_liquid "$samples" "$look" $passes >>"$out/liquid.txt"
	$core /usr/bin/python3 tests/bench/bench_scipy.py "$samples" "$look" $passes >>"$out/scipy.txt"
	round=$((round + 1))
done
/usr/bin/python3 tests/bench/table.py times "$out"
echo "load after: $(cut -d' ' -f1-3 /proc/loadavg)"
echo

# count NAME FUNCTION WORDS...: instructions inside FUNCTION
count() {
	name=$1 function=$2
	shift 2
	valgrind -q --tool=callgrind --collect-atstart=no --toggle-collect="$function" \
		--callgrind-out-file="$out/callgrind.$name" "$chain" "$@" >/dev/null 2>"$out/valgrind.txt" || {
		cat "$out/valgrind.txt" >&2
		return 1
	}
}
for hop in air fine broadcast; do
	count $hop ear_listen listen $hop
done
for bins in 1920 3840; do
	for plan in estimate estimate-apart patient patient-apart; do
		count $bins-$plan bare_run bare $bins $plan "$out/wisdom"
	done
done
/usr/bin/python3 tests/bench/table.py counts "$out"
