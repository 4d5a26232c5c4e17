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
all="settings files survey rows verbs licences typed sigmf recording options guard values town ring"
# shellcheck disable=SC2086
[ $# -gt 0 ] || set -- $all

if ! [ -d "$build" ]; then
	CC=clang meson setup "$build" -Db_sanitize=address,undefined -Db_lundef=false -Dwerror=false --optimization 1 \
		-Dc_args=-fsanitize=fuzzer-no-link >/dev/null || exit 1
fi
libraries="tools/page/libpages.a tools/libtooling.a tools/plan/libplanning.a daemon/libdaemon.a store/libstore.a dsp/libdsp.a"
# shellcheck disable=SC2086
ninja -C "$build" $libraries >"$build/fuzz.log" 2>&1 || { tail -n 40 "$build/fuzz.log"; exit 1; }
mkdir -p "$build/found"

# The sources of a target besides its own; what is one program's own is built anew. Text gets a mutator that knows
# cells and values.
besides() {
	made="tests/fuzz_made.c tests/fuzz_log.c tests/fuzz_folder.c tests/fuzz_sqlite.c"
	case $1 in
	licences|typed) echo tests/fuzz_table.c tests/fuzz_cells.c ;;
	settings|files|sigmf|town) echo tests/fuzz_cells.c ;;
	recording) echo tests/fuzz_folder.c ;;
	survey) echo tests/fuzz_readers.c tests/fuzz_folder.c tests/fuzz_sqlite.c ;;
	rows) echo "tests/fuzz_readers.c $made" ;;
	verbs)
		echo "$made tools/command.c tools/verbs.c tools/telling.c tools/workshop.c"
		for verb in channels check compare plan rasters rehearse report status; do echo "tools/cmd_$verb.c"; done
		;;
	options) echo tools/command.c tools/verbs.c ;;
	esac
}

# Where the words stand that a target's readers know: what is in quotes there is its dictionary.
spoken() {
	case $1 in
	settings) echo store/settings.c store/field.c tests/fuzz_settings.c ;;
	files) echo store/bandplan.c store/field.c store/station.c store/town.c store/town_read.c tools/receiver_read.c \
		tools/interests_read.c store/timetable.c ;;
	town) echo store/town_read.c store/field.c ;;
	licences) echo tools/licences_read.c tools/megahertz.c ;;
	typed) echo tools/typed_read.c tools/megahertz.c tools/plan/ticks.c dsp/band.c ;;
	sigmf|recording) echo daemon/sigmf.c ;;
	options) echo tools/command.c daemon/options.c store/options.c store/moment.c ;;
	values) echo dsp/freq.c store/settings.c store/moment.c ;;
	esac
}

dictionary() {
	# shellcheck disable=SC2046
	grep -ohE '"[A-Za-z0-9_ .:/;=,+-]{1,32}"' $(spoken "$1") /dev/null | sort -u >"$build/fuzz-$1.dict"
}

compile() {
	# shellcheck disable=SC2046,SC2086
	clang -g -O1 -std=gnu11 -fsanitize=fuzzer,address,undefined -fno-sanitize-recover=undefined -D_GNU_SOURCE \
		-DFUZZER_DRIVES -I. -o "$build/fuzz_$1" "tests/fuzz_$1.c" $(besides "$1") \
		-Wl,--start-group $(for l in $libraries; do echo "$build/$l"; done) -Wl,--end-group \
		-lconfig -ljansson -lsqlite3 -lz -lpng -lfftw3f -lrtlsdr -lmicrohttpd -lm -lpthread || return 1
	dictionary "$1"
}

# libconfig 1.5 loses the text it was reading at a syntax error, so leaks are not looked for where it reads.
# A survey's smallest file is eight pages long, so what is tried must have room. Half of the sanitizer's time is in
# remembering who asked for memory and in keeping back what was freed: it remembers two calls and keeps 16 MB.
search() {
	leaks=1 most=4096
	case $1 in
	settings|town) leaks=0 ;;
	files) leaks=0 most=20000 ;;
	rows|verbs|ring) most=400 ;;
	survey) most=200000 ;;
	esac
	words=$build/fuzz-$1.dict
	[ -s "$words" ] || words=        # libFuzzer takes an empty one for a broken one
	mkdir -p "$build/corpus-$1"
	ASAN_OPTIONS=detect_leaks=$leaks:malloc_context_size=2:quarantine_size_mb=16 \
		UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1 \
		"$build/fuzz_$1" -max_total_time="$seconds" -max_len=$most -timeout=60 -rss_limit_mb=2048 -print_final_stats=1 \
		${words:+-dict="$words"} -artifact_prefix="$build/found/$1-" "$build/corpus-$1" "tests/corpus/$1" \
		>"$build/fuzz-$1.log" 2>&1
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
