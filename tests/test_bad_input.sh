#!/bin/sh
# Bad input through the built programs, as a user gives it: one clear line on stderr, the exit code that
# says whose fault it is (2: input, 1: the world), and not a byte changed on the disk. Then what a survey
# in the middle of its work makes of signals.
# usage: BANDCENSUSD=PROGRAM BANDCENSUS=PROGRAM test_bad_input.sh SOURCE_ROOT
set -u
: "${BANDCENSUSD:?names no program}" "${BANDCENSUS:?names no program}"
root=${1:?usage: test_bad_input.sh SOURCE_ROOT}
dir=$(mktemp -d) || exit 1
running=
trap '[ -z "$running" ] || kill -9 "$running" 2>/dev/null; rm -rf "$dir"' EXIT
cd "$dir" || exit 1

. "$root/tests/verdict.sh"

# What is on the disk: every name, and every byte of every file.
snapshot() { find . ! -name '.out' ! -name '.err' | LC_ALL=C sort; find . -type f ! -name '.out' ! -name '.err' -exec sha256sum {} + | LC_ALL=C sort; }

# refuses WHY EXIT PATTERN COMMAND...
refuses() {
	why=$1 want=$2 pattern=$3
	shift 3
	before=$(snapshot)
	timeout -k 5 120 "$@" >.out 2>.err
	got=$? problem=
	if [ "$got" != "$want" ]; then problem="exit $got, must be $want"
	elif [ "$(wc -l <.err)" != 1 ]; then problem="$(wc -l <.err) lines of complaint, must be 1"
	elif ! grep -qE -e "$pattern" .err; then problem="says nothing of $pattern"
	elif grep -qE '(\.|!|Assertion.*|Sanitizer.*)$' .err; then problem='ends with a full stop or worse'
	elif [ -s .out ]; then problem="prints $(head -n 1 .out)"
	elif [ "$(snapshot)" != "$before" ]; then problem='changed the disk'
	fi
	verdict "$why" "${problem:+$problem: $(head -c 400 .err | tr '\n' '|')}"
}

# accepts WHY COMMAND...
accepts() {
	why=$1 problem=
	shift
	timeout -k 5 300 "$@" >.out 2>.err || problem="exit $?: $(tail -n 1 .err)"
	verdict "$why" "$problem"
}

sql() { sqlite3 "$@" 2>/dev/null; }

# ---- what is given ----

band() { printf '{ id = "%s"; name = "%s"; service = "fire"; low = "%s"; high = "%s"; step = "12.5 kHz"; mode = "NFM"; width = "11 kHz"; }' "$1" "$1" "$2" "$3"; }
bands() { printf 'kind = "bands"; name = "small"; bands = ( %s );\n' "$1"; }
settings() { printf 'kind = "daemon";\nband_plan = "%s";\n%s\n' "$1" "$2"; }

bands "$(band low '144.40 MHz' '144.45 MHz'), $(band high '144.46 MHz' '144.52 MHz')" >bands.conf
bands "$(band low '144.40 MHz' '144.47 MHz'), $(band high '144.46 MHz' '144.52 MHz')" >overlap.conf
bands "$(band upside-down '144.47 MHz' '144.46 MHz')" >upside-down.conf
settings bands.conf '' >good.conf
settings bands.conf 'dwel = "20 ms";' >unknown-name.conf
settings bands.conf 'dwell = "20 parsecs";' >bad-unit.conf
settings bands.conf 'gain = "20 MHz";' >wrong-unit.conf
settings bands.conf 'dwell = "20 s";' >out-of-range.conf
settings bands.conf 'gain = true;' >wrong-type.conf
settings bands.conf 'survey = ( "marine" );' >no-such-band.conf
settings bands.conf 'gain = ' >syntax.conf
settings absent.conf '' >no-plan.conf
settings overlap.conf '' >overlapping.conf
settings upside-down.conf '' >inverted.conf
: >empty.conf

head -c 560000 /dev/zero | tr '\0' '\177' >good.cu8        # one second of 280 kS/s
head -c 559999 good.cu8 >odd.cu8
: >empty.cu8
mkdir folder.cu8 folder.survey folder.sigmf-meta
long=$(printf %05000d 0)
printf 0123456789abcdef >token && chmod 600 token

# meta NAME MEMBER_OF_GLOBAL CAPTURES: 1000 samples of ci8 beside it
meta() {
	printf '{"global": {"core:version": "1.2.0", %s}, "captures": [%s]}\n' "$2" "$3" >"$1.sigmf-meta"
	head -c 2000 /dev/zero >"$1.sigmf-data"
}
here='{"core:sample_start": 0, "core:frequency": 144470000}'
rate='"core:datatype": "ci8", "core:sample_rate": 280000'
meta late "$rate" '{"core:sample_start": 5000, "core:frequency": 144470000}'
meta shorter "$rate" "$here, {\"core:sample_start\": 5000, \"core:frequency\": 144470000}"
meta type '"core:datatype": "ci8", "core:sample_rate": "fast"' "$here"
meta absurd '"core:datatype": "ci8", "core:sample_rate": 1e30' "$here"
meta negative '"core:datatype": "ci8", "core:sample_rate": -280000' "$here"
meta datatype '"core:datatype": "rq64_be", "core:sample_rate": 280000' "$here"
meta own "$rate" "$here"
meta lost "$rate" "$here"
meta torn '"core:datatype": "cf32_le", "core:sample_rate": 280000' "$here"
printf '\0' >>torn.sigmf-data
rm lost.sigmf-data
meta broken "$rate" "$here"
printf '{"global": ' >broken.sigmf-meta

echo 'a shopping list' >other.survey
: >empty.survey
sqlite3 database.survey 'CREATE TABLE recipe(name TEXT)'
survey="--survey new.survey"
of() { echo "--source recording:$1 --rate 280000 --centre 144470000"; }

# shellcheck disable=SC2046,SC2086
{
accepts 'a good recording is surveyed' "$BANDCENSUSD" $(of good.cu8) --survey old.survey
cp old.survey newer.survey
sqlite3 newer.survey 'PRAGMA user_version=999'
head -c 3000 old.survey >cut.survey

# ---- settings ----

for row in \
	'unknown-name an unknown name|unknown-name.conf:3: dwel is unknown, did you mean dwell' \
	'bad-unit a unit that is none|bad-unit.conf:3: dwell is .*parsecs' \
	'wrong-unit a unit of something else|wrong-unit.conf:3: gain is .*MHz' \
	'out-of-range a value out of its range|out-of-range.conf:3: dwell is .*20 s.* must be' \
	'wrong-type a truth value for a number|wrong-type.conf:3: gain is ' \
	'no-such-band a band that the plan lacks|no-such-band.conf: survey names "marine"' \
	'syntax a syntax error|syntax.conf:[0-9]+: ' \
	'no-plan a plan that is not there|absent.conf: can.t be read: No such file' \
	'overlapping bands that overlap|overlap.conf:[0-9]+: band high overlaps band low' \
	'inverted a band upside down|upside-down.conf:[0-9]+: low of upside-down is 144.470 MHz' \
	'empty nothing at all|empty.conf: [a-z_]+ is missing' \
	'absent no such file|absent.conf: can.t be read: No such file'
do
	name=${row%% *} why=${row#* }
	pattern=${why#*|} why=${why%%|*}
	refuses "settings: $why" 2 "$pattern" "$BANDCENSUSD" --config $name.conf $(of good.cu8) $survey
	refuses "check: $why" 2 "${pattern%%|*}" "$BANDCENSUS" check $name.conf
done
refuses 'check: a survey that is none' 2 'other.survey' "$BANDCENSUS" check other.survey
accepts 'check: good settings' "$BANDCENSUS" check good.conf bands.conf
accepts 'itinerary of good settings' "$BANDCENSUSD" --config good.conf --check
for hours in 'hours = "20-8";|conf:[0-9]+: hours is 20-8, must be hours such as' 'days = [ "sun" ];|conf:[0-9]+: days is sun, must be' \
	'days = [ "sunday" ];|conf: hours is missing, must be hours such as'
do
	(cat good.conf; echo "${hours%%|*}") >hours.conf
	refuses "check: ${hours%%|*}" 2 "hours.${hours#*|}" "$BANDCENSUS" check hours.conf
	refuses "itinerary: ${hours%%|*}" 2 "hours.${hours#*|}" "$BANDCENSUSD" --config hours.conf --check
done
for f in "$root"/config/*.conf; do
	case $f in */harlow-ferry.conf) continue ;; esac       # the invented town itself
	accepts "check: ${f##*/} as delivered" "$BANDCENSUS" check "$f"
done

# ---- recordings ----

recording() { # WHY PATTERN ARGUMENT...: into a new survey, and into one that is there
	why=$1 pattern=$2
	shift 2
	refuses "$why" 2 "$pattern" "$BANDCENSUSD" "$@" $survey
	refuses "$why, old survey" 2 "$pattern" "$BANDCENSUSD" "$@" --survey old.survey
}
recording 'raw without a rate' 'give --rate' --source recording:good.cu8 --centre 144470000
recording 'raw without a centre' 'give --centre' --source recording:good.cu8 --rate 280000
recording 'cut off in the middle of a sample' 'odd.cu8: ends in the middle of a sample' $(of odd.cu8)
recording 'empty' 'empty.cu8: holds no samples' $(of empty.cu8)
recording 'missing' 'absent.cu8: can.t be read: No such file' $(of absent.cu8)
recording 'a folder' 'folder.cu8: can.t be read: is a folder' $(of folder.cu8)
recording 'no name' 'recording' --source recording: --rate 280000 --centre 144470000
recording 'a rate of nothing' '--rate is "0"' --source recording:good.cu8 --rate 0 --centre 144470000
recording 'an absurd rate' '--rate is|rate is' --source recording:good.cu8 --rate '900 GHz' --centre 144470000
recording 'SigMF: captured after its last sample' 'late.sigmf-data: has 1000 samples, but a capture begins at sample 5000' --source recording:late.sigmf-meta
recording 'SigMF: shorter than its captures say' 'shorter.sigmf-data: has 1000 samples, but a capture begins at sample 5000' --source recording:shorter.sigmf-meta
recording 'SigMF: a rate in words' 'core:sample_rate must be a number' --source recording:type.sigmf-meta
recording 'SigMF: an absurd rate' 'core:sample_rate is 1e\+30' --source recording:absurd.sigmf-meta
recording 'SigMF: a negative rate' 'core:sample_rate is -280000' --source recording:negative.sigmf-meta
recording 'SigMF: an unknown datatype' 'core:datatype is "rq64_be", must be' --source recording:datatype.sigmf-meta
recording 'SigMF: a rate in conflict' 'rate' --source recording:own.sigmf-meta --rate 250000
recording 'SigMF: a centre in conflict' 'centre' --source recording:own.sigmf-meta --centre 433920000
recording 'SigMF: no samples beside it' 'lost.sigmf-data: can.t be read: No such file' --source recording:lost.sigmf-meta
recording 'SigMF: cut off in the middle of a sample' 'ends in the middle of a sample' --source recording:torn.sigmf-meta
recording 'SigMF: half a file of JSON' 'is not JSON' --source recording:broken.sigmf-meta
recording 'SigMF: a folder' 'folder.sigmf-meta: can.t be read: is a folder' --source recording:folder.sigmf-meta
truncate -s 17M huge.sigmf-meta
refuses 'SigMF: samples for a description' 2 'huge.sigmf-meta: is longer than 16777216 bytes' "$BANDCENSUSD" --source recording:huge.sigmf-meta $survey
rm huge.sigmf-meta
refuses 'a name without end' 2 'File name too long' "$BANDCENSUSD" $(of $long) $survey
recording 'a step wider than the recording' '--step 1000000 Hz leaves no channel' $(of good.cu8) --step '1 MHz'
refuses 'bands elsewhere' 2 'no channel of the band plan' "$BANDCENSUSD" --config good.conf \
	--source recording:good.cu8 --rate 280000 --centre 433920000 $survey

# ---- the command line ----

usage() { # WHY PATTERN ARGUMENT...
	why=$1 pattern=$2
	shift 2
	refuses "$why" 2 "$pattern" "$BANDCENSUSD" $(of good.cu8) "$@"
}
usage 'a page of what is no survey' '--page and --check exclude each other' --check --page 127.0.0.1:1
usage 'two places to write to' '--survey and --folder exclude each other' $survey --folder .
usage 'a folder of a name without end' 'path is too long' --folder $long
usage 'a token without a page' '--page-token needs --page ADDRESS' $survey --page-token token
# RFC 5737: nobody's address. It may be ours in a moment, as at boot.
refuses 'a page at an address of others' 1 '--page 192.0.2.1:8080: nothing can be served there' "$BANDCENSUSD" $(of good.cu8) \
	$survey --page 192.0.2.1:8080 --page-token token
usage 'an unknown option' '--colour is unknown' $survey --colour
usage 'a file without an option' '"new.survey" is a word too many' new.survey
usage '--for nonsense' '--for is "a while", must be a duration' $survey --for 'a while'
usage '--for nothing' '--for is "0 s", must be a duration' $survey --for '0 s'
usage '--for backwards' '--for is "-5 min"' $survey --for '-5 min'
usage '--step nonsense' '--step is "wide"' $survey --step wide
usage '--seed nonsense' '--seed is "-1"' $survey --seed -1
usage 'an option without its value' '--survey needs a FILE' --survey
usage 'no survey' '--survey is missing'
refuses 'an unknown source' 2 'must be dongle' "$BANDCENSUSD" --source wireless $survey
refuses 'a dongle without settings' 2 '--config is missing' "$BANDCENSUSD" --source dongle $survey
refuses 'a recording beside another source' 2 "beside another" "$BANDCENSUSD" $(of good.cu8) --source town $survey
usage 'a truth of what was recorded' '--truth is for the town alone' $survey --truth truth.csv
usage 'a start of a recording' '--start is for the town alone' $survey --start 2026-02-22T20:00:00Z
refuses 'a start that is no time' 2 '--start is "Sunday", must be like "2026-02-17T20:00:00Z"' \
	"$BANDCENSUSD" --config "$root/config/harlow-ferry-night.conf" --source town --start Sunday $survey
for row in 'folder.survey folder.survey: can.t be written: Is a directory' 'nowhere/truth.csv nowhere/truth.csv.*: can.t be written: No such file' \
	"$long: File name too long"
do
	refuses "a truth that can't be written: ${row#* }" 2 "${row#* }" "$BANDCENSUSD" --config good.conf --source town \
		--truth ${row%%[ :]*} $survey
done
refuses 'settings of a name without end' 2 'can.t be read: File name too long' "$BANDCENSUSD" --config $long --source town $survey
usage 'the antenna of a recording' '--antenna-off is for the town alone' $survey --antenna-off
usage 'a crystal behind a recording' '--calibrate needs a source' --calibrate
usage 'a baseline without a survey' '--survey is missing' --baseline
usage 'what is for the daemon itself' '--capture is' --capture
refuses 'two crystals at once' 2 '--calibrate takes one --source' "$BANDCENSUSD" --config good.conf \
	--source town --source town --calibrate
refuses 'no verb' 2 'no verb' "$BANDCENSUS"
refuses 'no such verb' 2 '"ponder" is no verb' "$BANDCENSUS" ponder

# The dongle is not there, which is said before it.
problem=
"$BANDCENSUSD" --config good.conf --source town --source dongle:no-such-one $survey >.out 2>.err
[ $? = 2 ] && grep -q 'bandcensusd: --source dongle:no-such-one keeps another time than town, give them to two surveys$' .err &&
	[ ! -e new.survey ] || problem="says $(tail -n 1 .err)"
verdict 'a town beside a dongle' "$problem"

# ---- surveys ----

unwritable() { # WHY PATTERN SURVEY
	refuses "survey: $1" 2 "$2" "$BANDCENSUSD" $(of good.cu8) --survey "$3"
}
unwritable 'in a folder that is missing' 'nowhere/new.survey: ' nowhere/new.survey
unwritable 'of a name without end' 'path is too long' $long
unwritable 'a folder' 'folder.survey: is a folder' folder.survey
unwritable 'of a newer version' 'newer.survey: is of version 999' newer.survey
unwritable 'no survey but text' 'other.survey: it is no survey' other.survey
unwritable 'another kind of database' 'database.survey: it is no survey' database.survey
refuses 'survey: begun with other bands' 2 'old.survey: was begun with ' \
	"$BANDCENSUSD" $(of good.cu8) --step '25 kHz' --survey old.survey

for row in 'absent.survey absent.survey: No such file|missing' 'folder.survey is a folder' \
	'newer.survey is of version 999' 'other.survey it is no survey' \
	'database.survey it is no survey' 'empty.survey it is empty'
do
	for verb in status channels; do
		refuses "$verb of ${row%% *}" 2 "${row#* }" "$BANDCENSUS" $verb "${row%% *}"
	done
done
refuses 'channels of a survey cut short' 1 'cut.survey: it is damaged' "$BANDCENSUS" channels cut.survey

refuses 'rescue over a file that is there' 2 'old.survey: is there already' "$BANDCENSUS" rescue cut.survey old.survey
refuses 'rescue of no file' 2 'absent.survey: No such file' "$BANDCENSUS" rescue absent.survey saved.survey
refuses 'rescue of text' 1 'other.survey: its bands are lost' "$BANDCENSUS" rescue other.survey saved.survey
refuses 'rescue of a newer version' 2 'newer.survey: is of version 999' "$BANDCENSUS" rescue newer.survey saved.survey
accepts 'rescue of a good survey' "$BANDCENSUS" rescue old.survey saved.survey
accepts 'and what was saved is read' "$BANDCENSUS" check saved.survey

cp old.survey strip.survey
sql strip.survey "UPDATE strip SET packed=x'00'; SELECT changes()" >.out
[ "$(cat .out)" != 0 ] || verdict 'there is a strip to spoil' 'there is none'
refuses 'check: a strip that can not be read' 2 'strip.survey: the strip of band .*: it is damaged' "$BANDCENSUS" check strip.survey
refuses 'merge of it' 1 'strip.survey: the strip of band .*: it is damaged' "$BANDCENSUS" merge merged.survey strip.survey
rm strip.survey

# Root may write anywhere: there another user is lent.
as=
if [ "$(id -u)" = 0 ]; then as='setpriv --reuid 65534 --regid 65534 --clear-groups'; fi
chmod 755 . && mkdir -m 555 locked && chmod 644 good.cu8
if $as "$BANDCENSUSD" --version >/dev/null 2>&1; then
	cp old.survey locked/ && chmod 444 locked/old.survey
	refuses 'survey: one that may not be written' 2 'locked/old.survey: ' \
		$as "$BANDCENSUSD" $(of good.cu8) --survey locked/old.survey
	refuses 'survey: in a folder that may not be written' 2 'locked/new.survey: ' \
		$as "$BANDCENSUSD" $(of good.cu8) --survey locked/new.survey
else
	skipped 'survey: in a folder that may not be written'
fi
}

# ---- signals ----

# A night of the invented town, long enough to be in the middle of it.
cp "$root"/config/harlow-ferry.conf "$root"/config/harlow-ferry-night.conf \
	"$root"/config/bands-harlow-ferry.conf .
night='--config harlow-ferry-night.conf --source town:harlow-ferry.conf'

# Starts one and returns once something of it is kept.
begin() { # SURVEY
	# shellcheck disable=SC2086
	"$BANDCENSUSD" $night --survey "$1" >.out 2>.err &
	running=$!
	for _ in $(seq 600); do
		kept=$(sql -readonly "$1" 'SELECT count(*) FROM coverage')
		[ "${kept:-0}" -gt 0 ] && return 0
		kill -0 "$running" 2>/dev/null || return 1
		sleep 0.2
	done
	return 1
}

# state SURVEY: "integrity runs ended"
state() { echo "$(sql "$1" 'PRAGMA integrity_check') $(sql "$1" 'SELECT count(*) FROM run') $(sql "$1" 'SELECT count(*) FROM run WHERE end_us > start_us')"; }

for signal in INT TERM; do
	problem=
	if begin $signal.survey; then
		kill -$signal "$running"
		wait "$running"
		got=$?
		[ $got = 0 ] || problem="exit $got: $(tail -n 1 .err)"
		[ "$(state $signal.survey)" = 'ok 1 1' ] || problem="$problem left $(state $signal.survey)"
		[ ! -e $signal.survey-wal ] || problem="$problem left its log behind"
	else
		problem="did not begin: $(tail -n 1 .err)"
	fi
	running=
	verdict "SIG$signal ends a survey in good order" "$problem"
done

problem=
if begin KILL.survey; then
	# shellcheck disable=SC2086
	"$BANDCENSUSD" $night --survey KILL.survey >second.out 2>second.err
	[ $? = 1 ] || problem='it was let in, or told that it was mistaken'
	[ "$(wc -l <second.err)" = 1 ] && grep -q 'KILL.survey: another program is writing it' second.err || problem="it says $(tail -n 1 second.err)"
	verdict 'a second daemon on the same survey is refused' "$problem"
	problem=
	kill -KILL "$running"
	wait "$running" 2>/dev/null
	# shellcheck disable=SC2086
	"$BANDCENSUSD" $night --survey KILL.survey --for '30 s' >.out 2>.err || problem="exit $? of the next one: $(tail -n 1 .err)"
	[ "$(state KILL.survey)" = 'ok 2 1' ] || problem="$problem left $(state KILL.survey)"
else
	problem="did not begin: $(tail -n 1 .err)"
fi
running=
verdict 'after SIGKILL the next one goes on' "$problem"
[ -n "$problem" ] || accepts 'and the survey is read' "$BANDCENSUS" status KILL.survey

verdicts_end
