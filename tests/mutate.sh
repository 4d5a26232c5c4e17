#!/bin/sh
# Would the tests notice? Changes one operator or number at a time in the planner and the detector, builds, and
# runs the tests that should fail. Works in a copy of what is committed, never here.
# usage: mutate.sh [COUNT [SEED [FILE...]]]      COUNT changes, 40 when not given; FILE of the table below, all when not
# BANDCENSUS_MUTATE_BUILD: the folder for the copy and its build, build-mutate when not given
set -u
cd "$(dirname "$0")/.." || exit 1
count=${1:-40} seed=${2:-1}
[ $# -gt 0 ] && shift
[ $# -gt 0 ] && shift
mkdir -p "${BANDCENSUS_MUTATE_BUILD:-build-mutate}"
work=$(cd "${BANDCENSUS_MUTATE_BUILD:-build-mutate}" && pwd)
limit=300                       # s for a test: who hangs has noticed

# A source, and the tests that answer for it, the likeliest first.
table='
dsp/detect.c              detect off_raster attribute
dsp/attribute.c           attribute detect off_raster
dsp/floor.c               floor detect
tools/plan/deal.c         slots plan stable
tools/plan/delay.c        choices plan
tools/plan/doubles.c      choices slots stable
tools/plan/everyday.c     together forecast plan
tools/plan/exact.c        exact compare
tools/plan/guess.c        guess plan
tools/plan/hazard.c       hazard plan
tools/plan/interval.c     interval occupancy
tools/plan/judge.c        plan suspect plan_rules choices
tools/plan/landing.c      landing plan
tools/plan/layout.c       plan plan_rules slots stable
tools/plan/occupancy.c    occupancy census
tools/plan/priority.c     choices plan
tools/plan/ranges.c       ranges stretches
tools/plan/rehearse.c     rehearse choices
tools/plan/slots.c        slots stable plan
tools/plan/stretches.c    stretches ranges
tools/plan/suspect.c      suspect baseline_suspect plan
tools/plan/ticks.c        ticks sheet
tools/plan/together.c     together forecast
'
tests_of() { echo "$table" | sed -n "s,^$1  *,,p"; }
if [ $# -eq 0 ]; then
	# shellcheck disable=SC2046
	set -- $(echo "$table" | awk 'NF { print $1 }')
fi
for f in "$@"; do
	[ -n "$(tests_of "$f")" ] || { echo "mutate.sh: $f has no row in the table" >&2; exit 2; }
done

rm -rf "$work/source"
mkdir "$work/source" && git archive HEAD | tar -x -C "$work/source" || exit 1
if ! [ -d "$work/build" ]; then meson setup "$work/build" "$work/source" -Doptimization=1 -Ddebug=false -Dwerror=false >"$work/log" || exit 1; fi

# Every place that may be changed: "FILE LINE COLUMN LENGTH NEW". Not in comments, preprocessor lines other than
# numbers that have a name, and lines with text in them.
places() {
	for f in "$@"; do
		awk -v file="$f" '
		BEGIN { n = split("< <= <= < > >= >= > == != != == && || || && + - - + * /", o, " ") }
		/^[ \t]*(\/\*|\*)/ || /"/ { inside = /\/\*/ && !/\*\//; next }
		inside { inside = !/\*\//; next }
		/^#/ && !/^#define [A-Z_0-9]+ +[-0-9(]/ { next }
		{
			code = $0
			sub(/\/\*.*/, "", code)
			for (i = 1; i < n; i += 2) {
				at = index(code, " " o[i] " ")
				if (at && !/^#/)
					print file, NR, at + 1, length(o[i]), o[i + 1]
			}
			rest = code; past = 0
			while (match(rest, /[^A-Za-z_0-9.][0-9]+(\.[0-9]+)?/)) {
				text = substr(rest, RSTART + 1, RLENGTH - 1)
				after = substr(rest, RSTART + RLENGTH, 1)
				if (after !~ /[A-Za-z_0-9.]/)
					print file, NR, past + RSTART + 1, RLENGTH - 1, text ~ /\./ ? text * 1.5 : text + 1
				past += RSTART + RLENGTH - 1
				rest = substr(rest, RSTART + RLENGTH)
			}
			inside = /\/\*/ && !/\*\//
		}' "$work/source/$f" | sed "s,$work/source/,,"
	done
}

# The first COUNT of them in an order that the seed alone decides.
chosen() {
	places "$@" | awk -v seed="$seed" -v count="$count" '
	{ row[NR] = $0 }
	END {
		state = seed % 2147483646 + 1
		for (i = NR; i > 1; i--) {
			state = state * 48271 % 2147483647
			k = int(state / 64) % i + 1
			t = row[i]; row[i] = row[k]; row[k] = t
		}
		for (i = 1; i <= NR && i <= count; i++)
			print row[i]
	}'
}

built() { # TEST...
	targets=
	for t in "$@"; do targets="$targets tests/test_$t"; done
	# shellcheck disable=SC2086
	ninja -C "$work/build" $targets >"$work/log" 2>&1
}

passes() { (cd "$work/build" && timeout -k 5 $limit "tests/test_$1" >/dev/null 2>&1); }

chosen "$@" >"$work/chosen"
# shellcheck disable=SC2046
# shellcheck disable=SC2013
all=$(for f in $(cut -d ' ' -f 1 "$work/chosen" | sort -u); do tests_of "$f"; done | tr ' ' '\n' | sort -u)
# shellcheck disable=SC2086
built $all || { tail -n 20 "$work/log"; exit 1; }
for t in $all; do
	passes "$t" || { echo "mutate.sh: test $t fails as it is"; exit 1; }
done
echo "seed $seed, $(places "$@" | wc -l) places, $count of them"

killed=0 survived=0 unbuilt=0
while read -r file line column length new; do
	cp "$work/source/$file" "$work/kept"
	awk -v line="$line" -v at="$column" -v n="$length" -v new="$new" '
		NR == line { $0 = substr($0, 1, at - 1) new substr($0, at + n) } { print }' "$work/kept" >"$work/source/$file"
	# shellcheck disable=SC2046
	set -- $(tests_of "$file")
	verdict=survived
	if built "$@"; then
		for t in "$@"; do
			if ! passes "$t"; then verdict="killed by $t"; break; fi
		done
	else
		verdict='does not build'
	fi
	case $verdict in
	killed*) killed=$((killed + 1)) ;;
	survived) survived=$((survived + 1)) ;;
	*) unbuilt=$((unbuilt + 1)) ;;
	esac
	printf '%-24s %s:%s: %s\n' "$verdict" "$file" "$line" "$(sed -n "${line}s/^[ \t]*//p" "$work/source/$file")"
	cp "$work/kept" "$work/source/$file"
done <"$work/chosen"
echo "$killed killed, $survived survived, $unbuilt did not build"
