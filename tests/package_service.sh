# The package's service under a real systemd: to be read in by package.sh, which has the machine's files in $place/run.
# shellcheck disable=SC2154

# inside SCRIPT: in the machine that runs
inside() {
	nsenter -t "$(first_inside)" -a -- /usr/bin/env -i \
		PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C.UTF-8 DEBIAN_FRONTEND=noninteractive sh -ec "$1"
}

# until_true SECONDS SCRIPT: it is so by then
until_true() {
	for _ in $(seq "$1"); do
		if inside "$2"; then return 0; fi
		sleep 1
	done
	inside 'systemctl status bandcensus --no-pager --full || true; journalctl -u bandcensus --no-pager | tail -n 30'
	return 1
}

boot() {
	# Its own filter knows no Landlock.
	systemd-nspawn --system-call-filter='landlock_create_ruleset landlock_add_rule landlock_restrict_self' --register=no --keep-unit --private-network --directory="$place/run" --boot --console=pipe --kill-signal=SIGRTMIN+3 \
		</dev/null >"$place/console" 2>&1 &
	machine=$!
	for _ in $(seq 30); do
		sleep 1
		if inside 'systemctl is-system-running | grep -E "running|degraded"'; then return 0; fi
		if ! kill -0 "$machine"; then machine=; break; fi
	done
	cat "$place/console"
	return 1
}

# A dongle that is lost for 20 s, after as many.
set_up() {
	cp "$library" "$place/run/usr/lib/emulated_dongle.so"
	inside 'dpkg -i /root/old.deb
		mkdir -p /etc/systemd/system/bandcensus.service.d
		install -d -m 700 -o bandcensus -g bandcensus /var/lib/bandcensus /etc/bandcensus
		cat >/etc/bandcensus/bandcensus.conf <<-END
			kind = "daemon";
			band_plan = "/usr/share/bandcensus/bands-harlow-ferry.conf";
			survey = ( "fire" );
			warm_up = "0 s";
			commit = "1 s";
			track = false;
		END
		chmod 755 /etc/bandcensus
		cat >/etc/systemd/system/bandcensus.service.d/test.conf <<-END
			[Service]
			Environment=LD_PRELOAD=/usr/lib/emulated_dongle.so DONGLE_SCENARIO=/var/lib/bandcensus/scenario
			WatchdogSec=10s
			RestartSec=1s
		END
		cat >/var/lib/bandcensus/scenario <<-END
			town /usr/share/bandcensus/harlow-ferry.conf
			speed 1
			dongle 00000001
			mischief vanish
			at 20
			for_s 20
		END
		systemctl daemon-reload
		systemctl enable bandcensus
		systemd-analyze verify --man=no bandcensus.service
		systemd-analyze security bandcensus.service --no-pager --threshold=5 >/dev/null'
}

week=$state/2026-W08.survey

started() {
	inside 'systemctl start bandcensus' && until_true 20 'systemctl show bandcensus -P StatusText | grep surveying' &&
		looked 'SELECT count(*) > 0 FROM coverage' && [ "$(stat -c %a "$week")" = 600 ] &&
		inside 'test "$(systemctl show bandcensus -P NRestarts)" = 0'
}

# looked QUERY: is 1 within a minute
looked() {
	for _ in $(seq 60); do
		if [ "$(sql "$week" "$1")" = 1 ]; then return 0; fi
		sleep 1
	done
	until_true 1 false
}

starved() {
	until_true 30 'journalctl -u bandcensus --no-pager | grep "Watchdog timeout"' &&
		until_true 30 'systemctl is-active bandcensus' && until_true 40 'test "$(systemctl show bandcensus -P NRestarts)" -ge 1'
}

# A run since then has looked.
recovered() { looked 'SELECT count(DISTINCT run) > 1 FROM coverage'; }

# The process that reads the dongle has both walls of its own besides the unit's.
walled() {
	inside 'daemon=$(systemctl show bandcensus -P MainPID)
		reader=$(cat /proc/$daemon/task/$daemon/children)
		tr "\0" " " </proc/${reader% }/cmdline | grep -e --capture
		filters=$(cat /proc/$daemon/status /proc/${reader% }/status | sed -n "s/^Seccomp_filters:[^0-9]*//p" | tr "\n" " ")
		echo "filters: $filters"
		test $((${filters% * } + 2)) = $((${filters#* }))
		test "$(journalctl -u bandcensus --no-pager | grep -c "has to do without")" = 0'
}

# As by a computer that is too busy: nothing of it runs.
held_up() {
	runs=$(sql "$week" 'SELECT count(*) FROM run') && inside 'systemctl kill --signal=STOP bandcensus
			sleep 5
			systemctl kill --signal=CONT bandcensus' && looks=$(sql "$week" 'SELECT sum(looks) FROM coverage') &&
		looked "SELECT sum(looks) > $looks FROM coverage" && [ "$(sql "$week" 'SELECT count(*) FROM run')" = "$runs" ]
}

# ended: the run that began last
ended() { [ "$(sql "$week" 'SELECT end_us > 0 FROM run ORDER BY id DESC LIMIT 1')" = 1 ]; }

# goes_on: a run that is not there yet looks
goes_on() {
	run=$(sql "$week" 'SELECT max(id) FROM run')
	inside 'systemctl start bandcensus' && looked "SELECT count(*) > 0 FROM coverage WHERE run > $run"
}

stopped() {
	inside 'systemctl stop bandcensus
		test "$(systemctl show bandcensus -P Result)" = success
		test -z "$(pidof bandcensusd)"' && ended && goes_on &&
		inside 'if systemctl reload bandcensus; then exit 1; fi
			systemctl is-active bandcensus'
}

# The unit that README.md shows.
served() {
	sed -n '/`systemctl edit bandcensus`/,/^##/s/^    //p' README.md >"$place/run/etc/systemd/system/bandcensus.service.d/page.conf"
	inside 'systemctl daemon-reload; systemctl restart bandcensus' &&
		until_true 30 'bash -c "exec 3<>/dev/tcp/127.0.0.1/8080 && printf \"GET /status.json HTTP/1.0\r\nHost: localhost\r\n\r\n\" >&3 &&
			grep \"start\" <&3"' &&
		inside 'rm /etc/systemd/system/bandcensus.service.d/page.conf; systemctl daemon-reload; systemctl restart bandcensus'
}

# Said once, as an error, by file and line; it is not started anew (a second after, by set_up) until somebody has mended it.
mistaken() {
	inside 'cd /etc/bandcensus
		cp bandcensus.conf /root/good.conf
		echo "dwell = \"20 dB\";" >>bandcensus.conf
		if systemctl restart bandcensus; then exit 1; fi
		sleep 4
		test "$(systemctl is-failed bandcensus)" = failed
		test "$(systemctl show bandcensus -P ExecMainStatus)" = 2
		test "$(journalctl -u bandcensus -p err --no-pager -o cat |
			grep -c "^bandcensusd: /etc/bandcensus/bandcensus.conf:[0-9]*: dwell")" = 1
		cp /root/good.conf bandcensus.conf' && goes_on
}

# Levels are levels, not text; a lost stick is a warning; and who reads it all is not flooded.
journal() {
	inside 'journalctl -u bandcensus --no-pager -o cat
		test "$(journalctl -u bandcensus --no-pager -o cat | grep -c "^<")" = 0
		journalctl -u bandcensus --no-pager -o cat -p 4..4 | grep "lost"
		journalctl -u bandcensus --no-pager -o cat -p 6..6 | grep "survey begins"
		test "$(journalctl -u bandcensus --no-pager -o cat _COMM=bandcensusd | wc -l)" -lt 100'
}

upgraded() {
	runs=$(sql "$week" 'SELECT count(*) FROM run') &&
		inside 'before=$(systemctl show bandcensus -P MainPID); dpkg -i /root/new.deb
			systemctl is-active bandcensus && test "$(systemctl show bandcensus -P MainPID)" != "$before"' && sleep 4 &&
		sql "$week" 'SELECT id, end_us, version FROM run' &&
		[ "$(sql "$week" 'SELECT count(*) FROM run')" = $((runs + 1)) ] &&
		[ "$(sql "$week" "SELECT end_us > 0 FROM run ORDER BY id LIMIT 1 OFFSET $runs - 1")" = 1 ]
}

# Its week is one that the schema before this wrote.
older() {
	inside 'systemctl stop bandcensus' && rm -f "$place/old.survey" &&
		"$(dirname "$library")/../older_survey" "$place/old.survey" "$week" && rm -f "$week"-wal "$week"-shm &&
		cat "$place/old.survey" >"$week" && before=$(sql "$week" 'PRAGMA user_version') && goes_on &&
		[ "$(sql "$week" 'PRAGMA user_version')" = $((before + 1)) ] && grown "$week" "$place/old.survey" run coverage
}

removed() {
	inside 'dpkg -r bandcensus
		test -z "$(pidof bandcensusd)"
		test "$(systemctl is-active bandcensus)" = inactive' &&
		[ "$(sql "$week" 'PRAGMA integrity_check')" = ok ] && ended
}

purged() {
	inside 'rm -r /etc/systemd/system/bandcensus.service.d /usr/lib/emulated_dongle.so
		dpkg --purge bandcensus
		left=$(find / -xdev -name "*bandcensus*" ! -path "/proc/*" ! -path "/sys/*" ! -path "/run/*"
			grep -l bandcensus /etc/passwd /etc/group /etc/shadow /etc/gshadow || true)
		echo "$left"
		test -z "$left"'
}

service() {
	check 'a service that is given little' set_up || return
	check 'it starts, and looks' started || return
	check 'what reads the dongle has walls of its own' walled
	check 'without looks it is started anew' starved || return
	check 'and looks again' recovered
	check 'held up for a while, it goes on' held_up
	check 'stopped and started, it goes on with its week; there is nothing to reload' stopped
	check 'it serves the page as the manual says' served
	check 'a mistake in its settings is told as an error, once, and mended it starts' mistaken
	check 'an upgrade starts it anew, and it goes on with its week' upgraded
	check 'a week that the schema before wrote is gone on with' older
	check 'the journal has levels, and few lines' journal
	check 'removed, it has ended well' removed
	check 'purged, nothing is left' purged
}
