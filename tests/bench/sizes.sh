#!/bin/sh
# How large surveys of the invented town become, of what, and what --check foretells: nights of 12 hours with rests and
# without, of all bands and of some, the same night again and again in one file. Half an hour of computing, of which
# that without rests is a third. Passes or fails nothing. tests/bench/sizes.sh [BUILD]
set -eu
root=$(cd "$(dirname "$0")/../.." && pwd)
build=${1:-$root/build-bench}
[ -d "$build" ] || meson setup --buildtype=release "$build" "$root" >/dev/null
ninja -C "$build" daemon/bandcensusd >/dev/null
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT

daemon() {
	"$build/daemon/bandcensusd" --config "$folder/night.conf" --source "town:$root/config/harlow-ferry.conf" "$@"
}

# part TABLE: how many, and kB with its index
part() {
	sqlite3 -readonly "$folder/night.survey" "SELECT (SELECT count(*) FROM $1) || ' rows ' || (sum(pgsize) / 1000) || ' kB'
		FROM dbstat WHERE name IN ('$1', '$1_order')"
}

# sweeps to a rest, its seconds, nights, bands
while read -r spell rest nights bands; do
	sed -e "s/^sweeps_per_spell = .*/sweeps_per_spell = $spell;/" -e "s/^rest = .*/rest = \"$rest s\";/" \
		-e "s/^survey = .*/survey = ( $bands );/" \
		-e "s,bands-harlow-ferry.conf,$root/config/bands-harlow-ferry.conf," \
		"$root/config/harlow-ferry-night.conf" >"$folder/night.conf"
	echo "after $spell sweeps a rest of $rest s; bands: ${bands:-all}"
	daemon --check | sed -n -e 's/^hops: [0-9]*, covering/ /p' -e 's/^them each/  each/p' -e 's/^survey: about/  foretold:/p'
	for night in $(seq "$nights"); do
		daemon --start "2026-03-$((night + 3))T20:00:00Z" --for "12 h" --survey "$folder/night.survey" 2>/dev/null
		echo "  night $night: $(($(stat -c %s "$folder/night.survey") / 1000)) kB;" \
			"coverage $(part coverage), activity $(part activity), transmission $(part transmission)," \
			"strip $(part strip), setting $(part setting)"
	done
	rm -f "$folder"/night.survey*
done <<'ROWS'
1 1190 3
1 300 1
3 90 3
1 20 1
3 10 1
1 0 1
1 1190 1 "air"
3 90 1 "air", "marine"
3 90 1 "fire", "police", "ems", "rescue"
3 90 1 "business"
ROWS
