#!/bin/sh
# Would the tests notice? Changes one place of a source at a time, builds, and runs the tests that answer for it
# (tests/mutate.table) until one fails. Works in a copy of what is committed, never here.
# usage: mutate.sh [COUNT [SEED [FILE...]]]      COUNT changes, 40 when not given; FILE of the table, all when not
# Four classes: turned (an operator or condition means the opposite), left out (a statement), edge (< made <=),
# number (one more, or half as much again). Edges and numbers are often the same program or a matter of taste; the
# others seldom.
# BANDCENSUS_MUTATE_BUILD: the folder for the copy and its builds, build-mutate when not given
# BANDCENSUS_MUTATE_CLASSES: only these, of "turned left edge number"
# BANDCENSUS_MUTATE_SANITIZE: not empty: built with the sanitizers, which notice reads past an end and leaks too
# BANDCENSUS_MUTATE_LONGEST: s; tests that take longer are not run, 15 when not given
set -u
cd "$(dirname "$0")/.." || exit 1
here=$PWD
count=${1:-40} seed=${2:-1}
[ $# -gt 0 ] && shift
[ $# -gt 0 ] && shift
classes=${BANDCENSUS_MUTATE_CLASSES:-turned left edge number} longest=${BANDCENSUS_MUTATE_LONGEST:-15}
mkdir -p "${BANDCENSUS_MUTATE_BUILD:-build-mutate}"
work=$(cd "${BANDCENSUS_MUTATE_BUILD:-build-mutate}" && pwd)
source=$work/source build=$work/build
options='-Doptimization=2 -Ddebug=false -Dwerror=false'
if [ -n "${BANDCENSUS_MUTATE_SANITIZE:-}" ]; then
	build=$build-sanitized options="$options -Db_sanitize=address,undefined -Db_lundef=false"
	export UBSAN_OPTIONS=halt_on_error=1
fi

row() { awk -v f="$1" '$1 == f { for (i = 2; i <= NF; i++) print $i }' tests/mutate.table; }
if [ $# -eq 0 ]; then
	# shellcheck disable=SC2046
	set -- $(awk '/^[a-z]/ { print $1 }' tests/mutate.table)
fi
for f in "$@"; do
	[ -n "$(row "$f")" ] || { echo "mutate.sh: $f has no row in tests/mutate.table" >&2; exit 2; }
done

# Fetched, not copied anew: what did not change is not built again.
[ -d "$source" ] || git clone -qns "$here" "$source" || exit 1
git -C "$source" fetch -q "$here" HEAD && git -C "$source" checkout -qf --detach FETCH_HEAD 2>/dev/null || exit 1
# shellcheck disable=SC2086
[ -d "$build" ] || meson setup "$build" "$source" $options >"$work/log" || exit 1

# "FILE LINE COLUMN LENGTH CLASS NEW" for every place that may be changed.
places() {
	for f in "$@"; do awk -v file="$f" -v classes="$classes" -f tests/mutate.awk "$source/$f"; done
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

object() { (cd "$build" && echo "$(dirname "$1")"/*.a.p/"$(basename "$1")".o); }
built() { ninja -C "$build" "$@" >"$work/log" 2>&1; }
passes() { (cd "$build" && timeout -k 5 "$2" "tests/test_$1" >"$work/said" 2>&1); }

# Those that are not too long, the quickest first, each with its limit: who hangs has noticed.
tests_of() {
	row "$1" | while read -r t; do grep " $t\$" "$work/times"; done | sort -n |
		awk '{ print $2, int($1 / 100) + 10 }'
}

allowed() { # FILE OLD NEW
	FILE=$1 OLD=$2 NEW=$3 awk '
	function plain(s) { gsub(/^[ \t]+|[ \t]+$/, "", s); return s }
	BEGIN { RS = ""; FS = "\n" }
	$1 == ENVIRON["FILE"] && plain($2) == ENVIRON["OLD"] && plain($3) == ENVIRON["NEW"] { found = 1 }
	END { exit !found }' tests/mutate.allowed
}

chosen "$@" >"$work/chosen"
files=$(cut -d ' ' -f 1 "$work/chosen" | sort -u)
rm -rf "$work/objects"
: >"$work/times"
all=$(for f in $files; do row "$f"; done | sort -u)
# shellcheck disable=SC2046
built $(for t in $all; do echo "tests/test_$t"; done) || { tail -n 20 "$work/log"; exit 1; }
for t in $all; do
	from=$(date +%s%N)
	passes "$t" "$longest"
	case $? in
	0) echo "$((($(date +%s%N) - from) / 1000000)) $t" >>"$work/times" ;;
	124) echo "not run, for it takes more than $longest s: $t" ;;
	*) echo "mutate.sh: test $t fails as it is"; tail -n 20 "$work/said"; exit 1 ;;
	esac
done
for f in $files; do
	mkdir -p "$work/objects/$(dirname "$f")" && cp "$build/$(object "$f")" "$work/objects/$f"
done
echo "seed $seed, $(places "$@" | wc -l) places ($classes), $(wc -l <"$work/chosen") of them;" \
	"$(git -C "$source" log -1 --format=%h)"

judge() { # FILE OLD NEW: as it lies in the copy
	if allowed "$@"; then echo allowed; return; fi
	if ! built "$(object "$1")"; then echo 'does not build'; return; fi
	if cmp -s "$build/$(object "$1")" "$work/objects/$1"; then echo 'same program'; return; fi
	tests_of "$1" >"$work/tests"
	[ -s "$work/tests" ] || { echo 'no test'; return; }
	while read -r t limit; do
		if ! built "tests/test_$t" || ! passes "$t" "$limit" </dev/null; then echo "killed by $t"; return; fi
	done <"$work/tests"
	echo SURVIVED
}

text() { sed -n "$2{s/^[ \t]*//;s/[ \t]*\$//;p;}" "$source/$1"; }
: >"$work/verdicts"
while read -r file line column length class new; do
	old=$(text "$file" "$line")
	cp "$source/$file" "$work/kept"
	NEW=$new awk -v line="$line" -v at="$column" -v n="$length" '
		NR == line { $0 = substr($0, 1, at - 1) ENVIRON["NEW"] substr($0, at + n) } { print }' \
		"$work/kept" >"$source/$file"
	verdict=$(judge "$file" "$old" "$(text "$file" "$line")")
	printf '%-20s %-7s %s:%s: %s\n%28s %s\n' "$verdict" "$class" "$file" "$line" "$old" '=>' "$(text "$file" "$line")"
	echo "$class $verdict" >>"$work/verdicts"
	cp "$work/kept" "$source/$file"
done <"$work/chosen"

awk -v classes="$classes" '{ n[$1, $2]++ }
END {
	split(classes, class, " ")
	for (i = 1; (c = class[i]) != ""; i++)
		printf "%-8s %3d killed, %3d SURVIVED, %3d allowed, %3d the same program, %3d did not build, %3d no test\n",
			c == "left" ? "left out" : c, n[c, "killed"], n[c, "SURVIVED"], n[c, "allowed"], n[c, "same"], n[c, "does"], n[c, "no"]
}' "$work/verdicts"
