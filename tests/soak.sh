#!/bin/sh
# Night after night in the invented town, with what a year brings: the receiver drops off the bus, the computer's
# clock is stepped, it sleeps for an hour, the disk is full for a while; the daemon is held up, told to stop, killed;
# a second one is begun beside it; it is begun again with a mistake in its settings, or with a file that was cut short.
# Of each night: no hour goes unlooked at without a reason in the file, memory stays flat, the file grows as
# --check foretold, whatever is refused is refused in one line, and `bandcensus check` finds nothing. A survey a week.
# The last night is a Sunday's, the one before that in which summer time begins where we are.
# Where a kill falls within a second depends on the machine; all else on the seed.
# usage: BANDCENSUSD=PROGRAM BANDCENSUS=PROGRAM soak.sh SOURCE_ROOT
# BANDCENSUS_NIGHTS: how many, 2 when not given; BANDCENSUS_SOAK_SEED: which faults
set -u
: "${BANDCENSUSD:?names no program}" "${BANDCENSUS:?names no program}"
root=$(realpath "${1:?usage: soak.sh SOURCE_ROOT}")

# A disk that may be filled needs mounts of our own.
if [ -z "${BANDCENSUS_SOAK_MOUNTS:-}" ]; then
	for more in '' --map-root-user; do
		# shellcheck disable=SC2086
		if unshare --mount $more true 2>/dev/null; then
			export BANDCENSUS_SOAK_MOUNTS=own
			exec unshare --mount $more sh "$0" "$root"
		fi
	done
fi

nights=${BANDCENSUS_NIGHTS:-2}
seed=${BANDCENSUS_SOAK_SEED:-1794}     # that one has each fault within two nights
last=2026-03-29
dir=$(mktemp -d) || exit 1
running=
clean_up() {
	[ -z "$running" ] || kill -9 "$running" 2>/dev/null && wait
	umount "$dir" 2>/dev/null
	rm -rf "$dir"
}
trap clean_up EXIT
export TZ=CET-1CEST,M3.5.0,M10.5.0/3 LC_ALL=C         # POSIX's way to say it, for where zones are not installed

command -v sqlite3 >/dev/null || { echo "not ok 1 # SKIP sqlite3 is missing"; exit 0; }
disk=
if [ -n "${BANDCENSUS_SOAK_MOUNTS:-}" ] && mount -t tmpfs -o size=64m tmpfs "$dir" 2>/dev/null; then disk=own; fi
echo "# seed $seed, $nights nights${disk:+, on a disk of their own}"

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
sed 's/^dwell = .*/dwell = "20 dB";/' "$dir/night.conf" >"$dir/mistaken.conf"

# town LOST_FROM LOST_UNTIL CLOCK_AT STEP_S: tonight's
town() {
	sed -e "s/what = \"lost\"; from = \"[^\"]*\"; until = \"[^\"]*\"/what = \"lost\"; from = \"$(clock "$1")\"; until = \"$(clock "$2")\"/" \
		-e "s/what = \"clock\"; from = \"[^\"]*\"; step = \"[^\"]*\"/what = \"clock\"; from = \"$(clock "$3")\"; step = \"$4 s\"/" \
		"$root/config/harlow-ferry.conf" >"$dir/town.conf"
}

bad() { problem="$problem; $day: $*"; }

# ---- what befalls one run ----

# daemon CONFIG START FOR [SURVEY]: becomes one, as a user would have it
daemon() {
	if [ $# = 3 ]; then set -- "$@" "$dir/surveys" folder; fi
	exec "$BANDCENSUSD" --config "$dir/$1" --source "town:$dir/town.conf" --seed "$seed" --start "$2" --for "$3" \
		--"${5:-survey}" "$4"
}

# refused WHY CODE WORDS CONFIG [SURVEY]: it does not begin, and says so in one line
refused() {
	why=$1 wanted=$2 words=$3 config=$4
	shift 4
	(daemon "$config" "${day}T20:00:00Z" "1 h" "$@" 2>"$dir/refusal")
	code=$?
	if [ "$code" != "$wanted" ]; then bad "$why: exit $code, not $wanted"; fi
	if [ "$(wc -l <"$dir/refusal")" != 1 ] || ! grep -q "$words" "$dir/refusal"; then
		bad "$why: it says $(head -c 300 "$dir/refusal")"
	fi
}

do_kill() { kill -9 "$running" && ended='kill'; }
do_term() { kill -TERM "$running" && ended='term'; }
do_second() { refused 'a second daemon' 1 'another program is writing it' night.conf; }
do_pause() {
	kill -STOP "$running"
	sleep 0.2
	kill -CONT "$running"
}
do_full() { head -c 1G /dev/zero >"$dir/filler" 2>/dev/null; }
do_free() { rm -f "$dir/filler"; }

# What is due, of "HOUR:WHAT ...", ascending, in $plan.
befall() {
	while [ -n "$plan" ] && [ -z "$ended" ] && [ "$hours" -ge "${plan%%:*}" ]; do
		next=${plan%% *}
		plan=${plan#"$next"}
		plan=${plan# }
		"do_${next#*:}"
	done
}

# watch START FOR PLAN: one run. Leaves how it ended in $ended ('': by itself) and $status, its log's lines in $lines,
# VmHWM in kB after two hours in $early, at the end in $peak.
watch() {
	plan=$3
	daemon night.conf "$1" "$2" 2>"$dir/log" &
	running=$!
	peak=0 early=0 ended='' hours=0
	while kill -0 "$running" 2>/dev/null; do
		now=$(sed -n 's/^VmHWM:[^0-9]*\([0-9]*\).*/\1/p' "/proc/$running/status" 2>/dev/null)
		peak=${now:-$peak} hours=$(grep -c 'hour done' "$dir/log")
		if [ "$hours" -le 2 ]; then early=$peak; fi
		befall
		if [ -z "$now" ] || [ -n "$ended" ]; then break; fi          # it has ended, and waits for us
		sleep 0.05
	done
	wait "$running" 2>/dev/null
	status=$?
	running=
	lines=$(wc -l <"$dir/log")
	do_free
	case $ended,$status in
	,0 | term,0 | kill,137) ;;
	*) bad "ended ${ended:-by itself} with $status: $(tail -n 1 "$dir/log")" ;;
	esac
}

# ---- what befalls between two runs ----

sums() { cksum "$dir"/surveys/*; }

mistake() {
	before=$(sums)
	refused 'a mistake in the settings' 2 'mistaken.conf:[0-9]*: dwell' mistaken.conf
	if [ "$(sums)" != "$before" ]; then bad 'a mistake in the settings changes surveys'; fi
}

# Its last part is gone. What can be read is saved, and the rest is told.
cut_short() {
	file=$dir/surveys/$week.survey
	sqlite3 "$file" 'PRAGMA wal_checkpoint(TRUNCATE)' >/dev/null           # or the log beside it would make it good
	truncate -s $(($(stat -c %s "$file") * 3 / 4)) "$file"
	refused 'a file that was cut short' 1 "$week.survey" night.conf "$file"
	"$BANDCENSUS" rescue "$file" "$dir/saved.survey" >"$dir/told" 2>&1
	code=$?
	if [ "$code" != 1 ] || ! grep -q . "$dir/told"; then bad "rescue: exit $code: $(tail -n 1 "$dir/told")"; fi
	rm -f "$file"*
	mv "$dir/saved.survey" "$file"
}

# ---- what the file says of the night ----

# Of the night's week and, where a run began after Sunday's midnight, of the next one.
sql() {
	other=$dir/surveys/$again_week.survey
	sqlite3 -readonly "$dir/surveys/$week.survey" "ATTACH 'file:$other?mode=ro' AS again;
		CREATE TEMP VIEW runs AS SELECT 1 file, * FROM main.run UNION ALL SELECT 2, * FROM again.run;
		CREATE TEMP VIEW covered AS SELECT 1 file, * FROM main.coverage UNION ALL SELECT 2, * FROM again.coverage;
		CREATE TEMP VIEW incidents AS SELECT * FROM main.incident UNION ALL SELECT * FROM again.incident; $1"
}

# Hours of bands that night: looked at; not, but an incident says why, the clock leapt over them, a run had died or was
# told to stop, or the file was cut short; not, and nothing says why.
count_hours() {
	sql "WITH RECURSIVE hours(at) AS (SELECT $from_s UNION ALL SELECT at + 3600 FROM hours WHERE at + 3600 < $until_s),
		spans AS (SELECT at_us / 1000000 a, max(until_us, at_us) / 1000000 b FROM incidents
			  WHERE what IN ('lost', 'warm-up', 'deaf', 'handed', 'stopped')
			UNION ALL SELECT at_us / 1000000 - $step, at_us / 1000000 FROM incidents WHERE what = 'clock'
			UNION ALL SELECT (SELECT max(c.hour) FROM covered c WHERE c.run = r.id AND c.file = r.file) / 1000000,
				(SELECT min(n.start_us) FROM runs n WHERE n.start_us > r.start_us) / 1000000
				FROM runs r WHERE r.end_us = 0
			UNION ALL SELECT $from_s, $cut_s),
		missed AS (SELECT EXISTS (SELECT 1 FROM spans WHERE a < at + 3600 AND b > at) told FROM hours, main.band AS d
			WHERE NOT EXISTS (SELECT 1 FROM covered c WHERE c.band = d.band AND c.hour = at * 1000000 AND c.looks > 0))
		SELECT (SELECT count(*) FROM hours, main.band) - count(*), count(*) FILTER (WHERE told),
			count(*) FILTER (WHERE NOT told) FROM missed" | tr '|' ' '
}

# told WHAT: the file tells of it
told() { [ "$(sql "SELECT count(*) FROM incidents WHERE what IN ($1) AND at_us / 1000000 BETWEEN $from_s - 900 AND $until_s + 4500")" != 0 ]; }

# ---- night after night ----

. "$root/tests/verdict.sh"

# Tonight's faults: $away minutes from $lost on, the clock's $step, the rest as "HOUR:WHAT ..." in $faults, and between
# two runs in $between.
draw_faults() {
	faults='' between='' ending=''
	random 600; lost=$((drawn + 30))                # minutes after 20:00
	random 80; away=$((drawn + 1))
	random 600; stepped=$((drawn + 60))
	random 1000; step=$((drawn - 500))
	random 4; if [ "$drawn" = 0 ]; then step=$((3600 - step / 10 - 50)); fi      # it slept
	for what in second pause full; do
		random 3; often=$drawn
		random 8
		if [ "$often" != 0 ]; then continue; fi
		if [ "$what" != full ]; then
			faults="$faults $((drawn + 1)):$what"
		elif [ -n "$disk" ]; then
			faults="$faults $((drawn + 1)):full $((drawn + 3)):free"
		fi
	done
	random 3; ending=$(echo '- kill term' | cut -d ' ' -f $((drawn + 1)))
	random 9
	if [ "$ending" != - ]; then faults="$faults $((drawn + 1)):$ending"; fi
	random 2; if [ "$drawn" = 0 ] && [ "$ending" != - ]; then between=mistake; fi
	random 4; if [ "$drawn" = 0 ] && [ "$ending" = kill ]; then between="$between cut_short"; fi
	faults=$(echo "$faults" | tr ' ' '\n' | grep . | sort -n | tr '\n' ' ')
	faults=${faults% }
}

# Somebody starts it again with the next minute that is not in the file.
go_on() {
	again=$(sql "SELECT max(max(hour) / 1000000 + 60, coalesce((SELECT max(at_us) FROM main.incident), 0) / 1000000) FROM main.coverage")
	again=$((again / 60 * 60 + 60))
	again_week=$(date -d "@$again" +%G-W%V)
	for what in $between; do
		"$what"
		if [ "$what" = cut_short ]; then cut_s=$again; fi
	done
	# What would fall due when it ends is left out.
	plan=$(echo "$plan" | tr ' ' '\n' | awk -F : -v hours=$(((until_s - again) / 3600 - 1)) '$1 != "" && $1 < hours' | tr '\n' ' ')
	watch "$(date -u -d "@$again" +%Y-%m-%dT%H:%M:%SZ)" "$((until_s - again)) s" "${plan% }"
}

# What all surveys come to, in kB, with what is in their logs.
surveys_kb() {
	for file in "$dir"/surveys/*.survey; do
		[ -e "$file" ] || continue
		sqlite3 -readonly "$file" 'SELECT page_count * page_size FROM pragma_page_count, pragma_page_size'
	done | awk '{ n += $1 } END { print int(n / 1000) }'
}

# What the night added, in $grown, against what --check foretells of a night. A lost receiver, an hour's sleep, a stop
# and the warm-ups after them take three hours of twelve at the worst, for which the half that is foretold at the least
# leaves room. What was cut off a file is not written again, so such a night has no least. One that is stopped on Sunday
# goes on in the next week's file, so both files count.
judge_size() {
	total=$(surveys_kb) least=$more_least most=$more_most
	grown=$((total - had))
	had=$total
	if [ "$in_week" = 1 ] || [ "$again_week" != "$week" ]; then most=$first_most; fi
	if [ "$cut_s" != "$from_s" ]; then least=-; fi
	if [ "$grown" -gt "$most" ] || { [ "$least" != - ] && [ "$grown" -lt "$least" ]; }; then
		bad "the survey has grown by $grown kB, foretold were $least to $most"
	fi
}

judge_night() {
	# shellcheck disable=SC2046
	set -- $(count_hours)
	judge_size
	echo "# $day $week  $1 $2 ${3:-?}  $night_early $night_peak  $grown $least $most  $all_lines " \
		"lost $away min, clock $step s, ${faults:+$faults }$between"
	if [ "${3:-?}" != 0 ]; then bad "${3:-?} hours of bands are missed without a reason"; fi
	if [ "$ending" = - ]; then
		# One that is back before a rest ends is missed by nobody.
		[ "$away" -le 20 ] || told "'lost'" || bad 'nothing tells of the lost receiver'
		[ "$step" -le 5 ] || told "'clock'" || bad 'nothing tells of the clock'
		case $faults in *full*) told "'room', 'unwritten'" || bad 'nothing tells of the full disk' ;; esac
	fi
	for kept in "$week" "$again_week"; do
		"$BANDCENSUS" check "$dir/surveys/$kept.survey" >"$dir/check" 2>&1 || bad "$(tail -n 1 "$dir/check")"
		"$BANDCENSUS" status "$dir/surveys/$kept.survey" >"$dir/check" 2>&1 || bad "$(tail -n 1 "$dir/check")"
	done
}

town 370 374 450 -40
# kB of a survey's first night and of each further one, at the least and at the most.
range='[0-9.]* \([kM]\)B (\([0-9.]*\) to \([0-9.]*\))'
# shellcheck disable=SC2046
set -- $("$BANDCENSUSD" --config "$dir/night.conf" --source "town:$dir/town.conf" --check |
	sed -n "s/^survey: about $range for 12 hours, and $range for each night.*/\1 \2 \3 \4 \5 \6/p" |
	awk '{ a = $1 == "M" ? 1000 : 1; b = $4 == "M" ? 1000 : 1; printf "%d %d %d %d", a * $2, a * $3, b * $5, b * $6 }')
if [ $# != 4 ]; then echo 'Bail out! --check foretells no size'; exit 1; fi
first_most=$2 more_least=$3 more_most=$4
mkdir "$dir/surveys"
problem='' lowest=0 highest=0 growth=0 held=0 old_week='' in_week=0 had=0 day=before
echo '# night      week    hours of bands: looked, missed and told, untold; VmHWM kB: 2 h, end; kB grown, foretold from, to; log; hour:fault'
n=$nights
while [ "$n" -gt 0 ]; do
	n=$((n - 1))
	day=$(date -u -d "$last - $n days" +%Y-%m-%d)
	from_s=$(date -u -d "$day 20:00" +%s)
	until_s=$((from_s + 43200))
	week=$(date -d "@$from_s" +%G-W%V)
	if [ "$week" != "$old_week" ]; then old_week=$week in_week=0; fi
	in_week=$((in_week + 1))
	draw_faults
	town "$lost" $((lost + away)) "$stepped" "$step"
	again_week=$week cut_s=$from_s
	watch "${day}T20:00:00Z" "12 h" "$faults"
	night_early=$early night_peak=$peak all_lines=$lines
	if [ -n "$ended" ]; then
		go_on
		all_lines=$((all_lines + lines))
		if [ "$peak" -gt "$night_peak" ]; then night_peak=$peak; fi
	fi
	judge_night
	if [ "$lowest" = 0 ] || [ "$night_early" -lt "$lowest" ]; then lowest=$night_early; fi
	if [ "$night_early" -gt "$highest" ]; then highest=$night_early; fi
	grown=$((night_peak - night_early))
	case $faults in
	*full*) if [ "$grown" -gt "$held" ]; then held=$grown; fi ;;
	*) if [ "$grown" -gt "$growth" ]; then growth=$grown; fi ;;
	esac
done
verdict "nights are whole, or the file says why not" "${problem#; }"
problem=
# A night's work is of one size; what grows from night to night is what SQLite keeps of the file, at most its cache of
# 2 MB. Within one it is what waits for a commit: 1.4 kB for each channel touched since the last, kept for the rest of
# the run, and thousands are touched at once in a thunderstorm. Behind a full disk that is so for each hour by itself.
if [ $((highest - lowest)) -gt 6000 ]; then problem="from $lowest to $highest kB between nights"; fi
if [ "$growth" -gt 4000 ]; then problem="$growth kB more within a night"; fi
if [ "$held" -gt 8000 ]; then problem="$held kB more behind a full disk"; fi
verdict "memory stays flat ($lowest to $highest kB after two hours, within a night $growth, behind a full disk $held)" "$problem"
verdicts_end
