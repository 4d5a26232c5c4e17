#!/bin/sh
# Night after night in the invented town, with what a year brings: the receiver drops off the bus, the computer's
# clock is stepped, the daemon is killed. Of each night: no hour goes unlooked at without a reason in the file, memory
# stays flat, the file stays below what --check foretold, and `bandcensus check` finds nothing. A survey a week.
# Where a kill falls within a second depends on the machine; all else on the seed.
# usage: BANDCENSUSD=PROGRAM BANDCENSUS=PROGRAM soak.sh SOURCE_ROOT
# BANDCENSUS_NIGHTS: how many, 2 when not given; BANDCENSUS_SOAK_SEED: which faults
set -u
: "${BANDCENSUSD:?names no program}" "${BANDCENSUS:?names no program}"
root=${1:?usage: soak.sh SOURCE_ROOT}
nights=${BANDCENSUS_NIGHTS:-2}
seed=${BANDCENSUS_SOAK_SEED:-1}
first=2026-02-22                # a Sunday: a week ends at its midnight
dir=$(mktemp -d) || exit 1
running=
trap '[ -z "$running" ] || kill -9 "$running" 2>/dev/null; rm -rf "$dir"' EXIT
export TZ=UTC LC_ALL=C

command -v sqlite3 >/dev/null || { echo "not ok 1 # SKIP sqlite3 is missing"; exit 0; }
echo "# seed $seed, $nights nights"

# random N: a whole number from 0 to N - 1 in $drawn. The high bits of Lehmer's generator modulo 2^31 - 1.
state=$((seed % 2147483646 + 1))
random() {
	state=$((state * 48271 % 2147483647))
	drawn=$((state / 64 % $1))
}

clock() { printf '%02d:%02d' $((($1 / 60 + 20) % 24)) $(($1 % 60)); }    # minutes after 20:00

# A sweep each twenty minutes: three looks an hour, and a night takes seconds.
sed -e 's/^sweeps_per_spell = .*/sweeps_per_spell = 1;/' -e 's/^rest = .*/rest = "1190 s";/' \
	-e "s,bands-harlow-ferry.conf,$root/config/bands-harlow-ferry.conf," \
	"$root/config/harlow-ferry-night.conf" >"$dir/night.conf"

# town LOST_FROM LOST_UNTIL CLOCK_AT STEP_S: tonight's
town() {
	sed -e "s/what = \"lost\"; from = \"[^\"]*\"; until = \"[^\"]*\"/what = \"lost\"; from = \"$(clock "$1")\"; until = \"$(clock "$2")\"/" \
		-e "s/what = \"clock\"; from = \"[^\"]*\"; step = \"[^\"]*\"/what = \"clock\"; from = \"$(clock "$3")\"; step = \"$4 s\"/" \
		"$root/config/harlow-ferry.conf" >"$dir/town.conf"
}

# watch START FOR KILL_AFTER: one run; killed after so many hours, 0: not. Leaves VmHWM in kB after two hours in
# $early, at the end in $peak.
watch() {
	"$BANDCENSUSD" --config "$dir/night.conf" --source "town:$dir/town.conf" --seed "$seed" --start "$1" --for "$2" \
		--folder "$dir/surveys" 2>"$dir/log" &
	running=$!
	peak=0 early=0 killed=0
	while kill -0 "$running" 2>/dev/null; do
		now=$(sed -n 's/^VmHWM:[^0-9]*\([0-9]*\).*/\1/p' "/proc/$running/status" 2>/dev/null)
		peak=${now:-$peak} hours=$(grep -c 'hour done' "$dir/log")
		if [ "$hours" -le 2 ]; then early=$peak; fi
		if [ "$3" -gt 0 ] && [ "$hours" -ge "$3" ]; then
			kill -9 "$running" && killed=1
			break
		fi
		[ -n "$now" ] || break          # it has ended, and waits for us
		sleep 0.05
	done
	wait "$running" 2>/dev/null
	status=$?
	running=
}

# Of the night's week and, where a run began after Sunday's midnight, of the next one.
sql() {
	other=$dir/surveys/$again_week.survey
	sqlite3 -readonly "$dir/surveys/$week.survey" "ATTACH 'file:$other?mode=ro' AS again;
		CREATE TEMP VIEW runs AS SELECT 1 file, * FROM main.run UNION ALL SELECT 2, * FROM again.run;
		CREATE TEMP VIEW covered AS SELECT 1 file, * FROM main.coverage UNION ALL SELECT 2, * FROM again.coverage;
		CREATE TEMP VIEW incidents AS SELECT * FROM main.incident UNION ALL SELECT * FROM again.incident; $1"
}

# Bands and hours of the night without a look, but for those in which an incident says why, or a run had died.
unexplained() {
	sql "WITH RECURSIVE hours(at) AS (SELECT $from_s UNION ALL SELECT at + 3600 FROM hours WHERE at + 3600 < $until_s),
		spans AS (SELECT at_us / 1000000 a, max(until_us, at_us) / 1000000 b FROM incidents
			  WHERE what IN ('lost', 'warm-up', 'deaf', 'handed', 'stopped')
			UNION ALL SELECT (SELECT max(c.hour) FROM covered c WHERE c.run = r.id AND c.file = r.file) / 1000000,
				(SELECT min(n.start_us) FROM runs n WHERE n.start_us > r.start_us) / 1000000
				FROM runs r WHERE r.end_us = 0)
		SELECT count(*) FROM hours, main.band AS d WHERE NOT EXISTS
			(SELECT 1 FROM covered c WHERE c.band = d.band AND c.hour = at * 1000000 AND c.looks > 0)
			AND NOT EXISTS (SELECT 1 FROM spans WHERE a < at + 3600 AND b > at)"
}

# What the file tells of the faults that are not ours to miss.
told_lost() { sql "SELECT count(*) FROM incidents WHERE what = 'lost' AND at_us / 1000000 BETWEEN $from_s AND $until_s"; }
told_clock() { sql "SELECT count(*) FROM incidents WHERE what = 'clock' AND at_us / 1000000 BETWEEN $from_s - 900 AND $until_s + 900"; }

. "$root/tests/verdict.sh"

town 370 374 450 -40
foretold=$("$BANDCENSUSD" --config "$dir/night.conf" --source "town:$dir/town.conf" --check |
	sed -n 's/^survey: about \([0-9.]*\) MB.*/\1/p')
mkdir "$dir/surveys"
problem='' lowest=0 highest=0 growth=0 old_week='' in_week=0
echo "# night       week      runs  lost min  clock s  killed after h  of week's file  of foretold  VmHWM kB (2 h, end)"
n=0
while [ "$n" -lt "$nights" ]; do
	day=$(date -u -d "$first + $n days" +%Y-%m-%d)
	week=$(date -u -d "$day" +%G-W%V)
	from_s=$(date -u -d "$day 20:00" +%s) until_s=$(($(date -u -d "$day 20:00" +%s) + 43200))
	if [ "$week" != "$old_week" ]; then old_week=$week in_week=0; fi
	in_week=$((in_week + 1))
	random 600; lost=$((drawn + 30))                # minutes after 20:00
	random 80; away=$((drawn + 1))
	random 600; stepped=$((drawn + 60))
	random 1000; step=$((drawn - 500))
	random 3; kill_after=0
	if [ "$drawn" != 0 ]; then random 9; kill_after=$((drawn + 1)); fi
	town "$lost" $((lost + away)) "$stepped" "$step"
	runs=1 again_week=$week
	watch "${day}T20:00:00Z" "12 h" "$kill_after"
	night_early=$early night_peak=$peak
	if [ "$killed" = 1 ]; then
		# Somebody starts it again with the next minute that is not in the file.
		again=$(sql "SELECT max(max(hour) / 1000000 + 60, coalesce((SELECT max(at_us) FROM main.incident), 0) / 1000000) FROM main.coverage")
		again=$((again / 60 * 60 + 60))
		again_week=$(date -u -d "@$again" +%G-W%V)
		watch "$(date -u -d "@$again" +%Y-%m-%dT%H:%M:%SZ)" "$((until_s - again)) s" 0
		runs=2
		if [ "$peak" -gt "$night_peak" ]; then night_peak=$peak; fi
	fi
	size=$(cat "$dir/surveys/$again_week.survey"* | wc -c)         # what is in its log counts too
	share=$((size / 1000 / in_week / $(echo "$foretold" | tr -d .) ))       # kB a night over tenths of a MB: %
	missed=$(unexplained)
	echo "# $day  $week  $runs     $away        $step      $kill_after      $((size / 1000)) kB      $share %      $night_early $night_peak"
	if [ "$status" != 0 ]; then problem="$problem; $day: exit $status: $(tail -n 1 "$dir/log")"; fi
	if [ "$missed" != 0 ]; then problem="$problem; $day: $missed hours of bands are missed without a reason"; fi
	if [ "$runs" = 1 ] && [ "$(told_lost)" = 0 ]; then problem="$problem; $day: nothing tells of the lost receiver"; fi
	if [ "$runs" = 1 ] && [ "$step" -gt 5 ] && [ "$(told_clock)" = 0 ]; then problem="$problem; $day: nothing tells of the clock"; fi
	if [ "$share" -gt 100 ]; then problem="$problem; $day: the file has $share % of what was foretold"; fi
	if ! "$BANDCENSUS" check "$dir/surveys/$week.survey" >"$dir/check" 2>&1; then problem="$problem; $day: $(tail -n 1 "$dir/check")"; fi
	if [ "$lowest" = 0 ] || [ "$night_peak" -lt "$lowest" ]; then lowest=$night_peak; fi
	if [ "$night_peak" -gt "$highest" ]; then highest=$night_peak; fi
	if [ $((night_peak - night_early)) -gt "$growth" ]; then growth=$((night_peak - night_early)); fi
	n=$((n + 1))
done
verdict "nights are whole, or the file says why not" "${problem#; }"
problem=
# A night's work is of one size; what grows is what SQLite keeps of the file, at most its cache of 2 MB.
if [ $((highest - lowest)) -gt 6000 ]; then problem="from $lowest to $highest kB between nights"; fi
if [ "$growth" -gt 4000 ]; then problem="$growth kB more within a night"; fi
verdict "memory stays flat ($lowest to $highest kB, within a night $growth)" "$problem"
verdicts_end
