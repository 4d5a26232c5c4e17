#!/bin/sh
# Searches for input that breaks a promise: builds tests/fuzz_*.c with clang's libFuzzer under the address and
# undefined-behaviour sanitizers, and runs them two at a time. What breaks one is left in BUILD/found.
# usage: fuzz.sh [SECONDS [TARGET...]]   SECONDS each, 60 when not given; TARGET as in fuzz_TARGET.c, all when not
# BANDCENSUS_FUZZ_BUILD: the build folder, build-fuzz when not given
set -u
cd "$(dirname "$0")/.." || exit 1
seconds=${1:-60}
[ $# -gt 0 ] && shift
build=${BANDCENSUS_FUZZ_BUILD:-build-fuzz}
all="settings files survey licences typed sigmf recording options guard"
# shellcheck disable=SC2086
[ $# -gt 0 ] || set -- $all

if ! [ -d "$build" ]; then
	CC=clang meson setup "$build" -Db_sanitize=address,undefined -Db_lundef=false -Dwerror=false --optimization 1 \
		-Dc_args=-fsanitize=fuzzer-no-link >/dev/null || exit 1
fi
libraries="tools/libtooling.a tools/plan/libplanning.a daemon/libdaemon.a store/libstore.a dsp/libdsp.a"
# shellcheck disable=SC2086
ninja -C "$build" $libraries >"$build/fuzz.log" 2>&1 || { tail -n 40 "$build/fuzz.log"; exit 1; }
mkdir -p "$build/found"

# The sources of a target besides its own; what is one program's own is built anew.
besides() {
	case $1 in
	licences|typed) echo tests/fuzz_table.c ;;
	options) echo tools/command.c tools/verbs.c ;;
	esac
}

compile() {
	# shellcheck disable=SC2046,SC2086
	clang -g -O1 -std=gnu11 -fsanitize=fuzzer,address,undefined -fno-sanitize-recover=undefined -D_GNU_SOURCE -I. \
		-o "$build/fuzz_$1" "tests/fuzz_$1.c" $(besides "$1") \
		-Wl,--start-group $(for l in $libraries; do echo "$build/$l"; done) -Wl,--end-group \
		-lconfig -ljansson -lsqlite3 -lz -lpng -lfftw3f -lrtlsdr -lmicrohttpd -lm -lpthread
}

# libconfig 1.5 loses the text it was reading at a syntax error, so leaks are not looked for where it reads.
# A survey's smallest file is eight pages long, so what is tried must have room.
search() {
	leaks=1 most=4096
	case $1 in
	settings) leaks=0 ;;
	files) leaks=0 most=20000 ;;
	survey) most=200000 ;;
	esac
	mkdir -p "$build/corpus-$1"
	ASAN_OPTIONS=detect_leaks=$leaks UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1 \
		"$build/fuzz_$1" -max_total_time="$seconds" -max_len=$most -timeout=20 -rss_limit_mb=2048 -print_final_stats=1 \
		-artifact_prefix="$build/found/$1-" "$build/corpus-$1" "tests/corpus/$1" >"$build/fuzz-$1.log" 2>&1
	echo $? >"$build/fuzz-$1.status"
}

# "settings  ok  123456 inputs in 60 s, seed 17"
tell() {
	log=$build/fuzz-$1.log
	inputs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$log")
	cover=$(sed -n 's/.* cov: \([0-9]*\).*/\1/p' "$log" | tail -n 1)
	seed=$(sed -n 's/^INFO: Seed: *//p' "$log")
	said=ok
	if [ "$(cat "$build/fuzz-$1.status")" != 0 ]; then said=BROKEN bad=1; fi
	printf '%-10s %-6s %9s inputs in %s s, %s places reached, seed %s\n' "$1" "$said" "${inputs:-?}" "$seconds" "${cover:-?}" "$seed"
	if [ "$said" != ok ]; then
		grep -E 'broken promise|ERROR: |runtime error|Test unit written' "$log" | head -n 5
	fi
}

for t in "$@"; do
	[ -e "tests/fuzz_$t.c" ] || { echo "fuzz.sh: there is no tests/fuzz_$t.c, must be of: $all" >&2; exit 2; }
	compile "$t" || exit 1
done
bad=0
while [ $# -gt 0 ]; do
	search "$1" &
	first=$!
	if [ $# -gt 1 ]; then search "$2" & second=$!; else second=; fi
	wait "$first" ${second:+"$second"}
	tell "$1"
	shift
	if [ -n "$second" ]; then tell "$1"; shift; fi
done
exit $bad
