#!/bin/sh
# The Debian package, from its source on: built and looked through in one clean Debian 12, and in another
# installed, its programs run, upgraded amid a survey, removed and purged; then its service under a real
# systemd, with an emulated dongle. Needs root, debootstrap, dpkg-dev, sqlite3 and a mirror
# (BANDCENSUS_MIRROR; BANDCENSUS_CLEAN is copied instead, a tree that debootstrap made); for the service
# systemd-nspawn, and LIBRARY, which emulates dongles (tests/dongle), in the folder that the tests were built in.
# What can't be done here is skipped. Prints TAP; 1 when anything failed.
# usage: package.sh [LIBRARY]
set -u
library=${1:+$(realpath "$1")}
cd "$(dirname "$0")/.." || exit 1
mirror=${BANDCENSUS_MIRROR:-http://deb.debian.org/debian}

count=0 bad=0 machine=
place=$(mktemp -d /var/tmp/package.XXXXXX) || exit 1
log=$place/log
clean_up() {
	if [ -n "$machine" ]; then
		kill -KILL "$(first_inside)"
		kill -KILL "$machine"
		wait "$machine"
	fi
	rm -rf "$place"
} 2>/dev/null
trap clean_up EXIT
trap 'exit 1' INT TERM HUP

# The first process of the machine that runs, as it is numbered here.
first_inside() { tr -d ' ' <"/proc/$machine/task/$machine/children"; }

# check WHAT COMMAND...
check() {
	what=$1
	shift
	count=$((count + 1))
	if "$@" >"$log" 2>&1 </dev/null; then
		echo "ok $count - $what"
		return 0
	fi
	echo "not ok $count - $what"
	tail -n 40 "$log" | cut -c1-200 | sed 's/^/# /'
	bad=1
	return 1
}

skip() {
	count=$((count + 1))
	echo "not ok $count # SKIP $1"
}

# within ROOT SCRIPT: in a Debian of ours, with processes and mounts of its own that end with it
within() {
	unshare --mount --pid --fork --kill-child sh -c '
		mount -t proc proc "$0/proc" && exec chroot "$0" /usr/bin/env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin \
			HOME=/root LC_ALL=C.UTF-8 DEBIAN_FRONTEND=noninteractive ${http_proxy:+http_proxy=$http_proxy} \
			sh -ec "$1"' "$1" "$2"
}

sql() { sqlite3 "$1" "$2"; }

# ---- two clean ones ----

prepare() {
	if [ -n "${BANDCENSUS_CLEAN:-}" ]; then
		cp -a "$BANDCENSUS_CLEAN" "$place/clean"
	else
		debootstrap --variant=minbase bookworm "$place/clean" "$mirror"
	fi &&
		echo force-unsafe-io >"$place/clean/etc/dpkg/dpkg.cfg.d/unsafe" &&
		cp /etc/resolv.conf "$place/clean/etc/resolv.conf" &&
		within "$place/clean" 'echo "in a chroot"' && cp -a "$place/clean" "$place/build" && mv "$place/clean" "$place/run"
}

# ---- built ----

build() {
	sh tools/package.sh "$place/source" && cp "$place"/source/bandcensus_* "$place/build/root" && within "$place/build" '
		cd /root
		apt-get -q install -y --no-install-recommends dpkg-dev lintian
		dpkg-source --extract bandcensus_*.dsc b
		apt-get -q build-dep -y --no-install-recommends ./b
		cd b
		DEB_BUILD_OPTIONS="terse parallel=$(nproc)" dpkg-buildpackage -us -uc' && cp "$place"/build/root/bandcensus_*.deb "$place/new.deb"
}

# The same, as an older version.
age() {
	dpkg-deb -R "$place/new.deb" "$place/old" && sed -i 's/^Version: .*/Version: 0.0.9/' "$place/old/DEBIAN/control" &&
		dpkg-deb -b "$place/old" "$place/run/root/old.deb" && cp "$place/new.deb" "$place/run/root/new.deb"
}

uninstall() {
	within "$place/build" '
		cd /root/b/obj-*
		DESTDIR=/root/u ninja install
		test -x /root/u/usr/bin/bandcensusd
		DESTDIR=/root/u ninja uninstall
		test ! -e /root/u'
}

# ---- installed ----

# Needed at run time, and a service manager for later.
needed='apt-get -q install -y --no-install-recommends systemd systemd-sysv dbus
	apt-get -q satisfy -y --no-install-recommends "$(dpkg-deb -f /root/new.deb Depends)"'

# What is on the disk but what dpkg and apt remember.
files() {
	(cd "$place/run" && find . -path ./proc -prune -o -path ./dev -prune -o -path ./tmp -prune -o -path ./root -prune -o \
		-path ./var/lib/dpkg -prune -o -path ./var/cache -prune -o -path ./var/log -prune -o -print | sort)
}

nothing_left() {
	files >"$place/after" && diff "$place/before" "$place/after" && ! ls -d "$place"/run/var/cache/bandcensus &&
		! grep bandcensus "$place"/run/etc/passwd "$place"/run/etc/group
}

as_service='setpriv --reuid=bandcensus --regid=bandcensus --init-groups env HOME=/var/lib/bandcensus'
town='--config /usr/share/bandcensus/harlow-ferry-night.conf --source town:/usr/share/bandcensus/harlow-ferry.conf --seed 1'
state=$place/run/var/lib/bandcensus

install_old() {
	within "$place/run" '
		dpkg -i /root/old.deb
		id -Gn bandcensus | grep -w plugdev
		test -f /lib/systemd/system/bandcensus.service
		test ! -e /etc/systemd/system/multi-user.target.wants/bandcensus.service
		install -d -m 700 -o bandcensus -g bandcensus /var/lib/bandcensus
		mkdir /etc/bandcensus
		echo "# of the user" >/etc/bandcensus/bandcensus.conf'
}

hour() {
	within "$place/run" "
		cd /var/lib/bandcensus
		$as_service bandcensusd $town --survey hour.survey --for 1h
		$as_service bandcensus check hour.survey
		$as_service bandcensus plan hour.survey --receiver /usr/share/bandcensus/receiver-400.conf >/root/plan.txt
		grep -i 'bank 1' /root/plan.txt"
}

# The one that writes goes on, comes to its end when told to, and the next goes on with its file.
upgrade() {
	within "$place/run" "
		cd /var/lib/bandcensus
		$as_service bandcensusd $town --survey night.survey &
		tries=0
		until $as_service bandcensus check night.survey | grep ' [1-9][0-9]* overs' || [ \$tries = 100 ]; do
			sleep 0.2
			tries=\$((tries + 1))
		done
		dpkg -i /root/new.deb
		writer=\$(pidof bandcensusd)
		test \"\$(readlink /proc/\$writer/exe)\" = '/usr/bin/bandcensusd (deleted)'
		sleep 1
		kill -TERM \$writer
		wait \$!
		$as_service bandcensus check night.survey
		cp night.survey /root/before.survey
		$as_service bandcensusd $town --start 2026-02-18T20:00:00Z --for 10min --survey night.survey
		$as_service bandcensus check night.survey" &&
		[ "$(sql "$state/night.survey" 'SELECT count(*), min(end_us) > 0 FROM run')" = '2|1' ] &&
		grown "$state/night.survey" "$place/run/root/before.survey" coverage transmission
}

# grown SURVEY BEFORE TABLE...: all that was in them is there, and more
grown() {
	now=$1 was=$2
	shift 2
	for table; do
		sql "$now" "ATTACH '$was' AS b; SELECT (SELECT count(*) FROM b.$table) > 0 AND (SELECT count(*) FROM $table) >
			(SELECT count(*) FROM b.$table) AND NOT EXISTS (SELECT * FROM b.$table EXCEPT SELECT * FROM $table)" | grep -x 1 || return
	done
}

remove() {
	(cd "$place/run" && find var/lib/bandcensus etc/bandcensus -type f -exec sha256sum {} +) >"$place/sums" &&
		[ "$(wc -l <"$place/sums")" = 3 ] && within "$place/run" 'dpkg -r bandcensus' &&
		(cd "$place/run" && sha256sum -c "$place/sums") && [ ! -e "$place/run/usr/bin/bandcensusd" ] &&
		[ ! -e "$place/run/usr/share/bandcensus" ]
}

purge() { within "$place/run" 'dpkg --purge bandcensus' && nothing_left; }

. tests/package_service.sh

# ---- all of it ----

if [ "$(id -u)" != 0 ]; then
	skip 'the package needs root'
	exit 0
fi
if ! /usr/lib/apt/apt-helper download-file "$mirror/dists/bookworm/InRelease" "$place/InRelease" >/dev/null 2>&1 ||
	! prepare >"$place/prepare" 2>&1; then
	tail -n 3 "$place/prepare" 2>/dev/null | sed 's/^/# /'
	skip 'no clean Debian can be made here'
	exit 0
fi
check 'it builds from its source' build || exit 1
check 'lintian has no errors or warnings' within "$place/build" \
	'cd /root && lintian --allow-root --fail-on error,warning bandcensus_*.changes'
check 'what ninja installs it uninstalls' uninstall
check 'what it needs can be had' eval 'age && within "$place/run" "$needed"' || exit 1
files >"$place/before"
check 'an older version is installed' install_old
check 'its programs survey and plan' hour
check 'upgraded amid a survey, nothing is lost' upgrade
check 'removed, surveys and settings stay' remove
check 'purged, nothing is left' purge
if [ ! -f "$library" ] || ! command -v systemd-nspawn >/dev/null || ! boot >"$log" 2>&1; then
	skip 'no systemd can be booted here'
else
	service
fi
exit "$bad"
