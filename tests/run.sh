#!/bin/sh
# Installs what is needed, builds, and runs every test twice: as shipped, then under the address and
# undefined-behaviour sanitizers; then the Debian package's. Ends with "N passed, N failed" and fails when any did.
# BANDCENSUS_RECORDINGS may name a folder of off-air recordings for the tests that want them.
set -u
cd "$(dirname "$0")/.." || exit 1

passed=0 failed=0 skipped=0
log=$(mktemp) || exit 1
trap 'rm -f "$log"' EXIT

# The cases in a log of meson test: "PASSED FAILED SKIPPED". A program that fails without saying which
# case counts as one failure, one that prints no cases as one, one that leaves with 77 as skipped.
count() {
	awk '
	function close_program() {
		if (name == "")
			return
		if (!good && !bad_cases)
			bad_cases = 1
		if (good && !good_cases && !bad_cases && !skips)
			good_cases = 1
		total_good += good_cases; total_bad += bad_cases; total_skips += skips
	}
	/^test: +/ { close_program(); name = $2; good = good_cases = bad_cases = skips = 0; next }
	/^result: +exit status 0$/ { good = 1; next }
	/^result: +exit status 77$/ { good = 1; skips++; next }
	/^ok [0-9]/ { good_cases++; next }
	/^not ok [0-9]+ # SKIP/ { skips++; next }
	/^not ok [0-9]/ { bad_cases++ }
	END { close_program(); print total_good + 0, total_bad + 0, total_skips + 0 }' "$1"
}

# round FOLDER TIMEOUT_FACTOR SETUP_OPTION...
round() {
	build=$1 factor=$2
	shift 2
	echo "== $build"
	if [ -d "$build" ]; then set -- --reconfigure "$@"; fi
	if ! meson setup "$build" "$@" >"$log" 2>&1 || ! ninja -C "$build" >>"$log" 2>&1; then
		tail -n 60 "$log"
		failed=$((failed + 1))
		return
	fi
	# One more than there are processors: those with an emulated dongle sleep most of their time.
	meson test -C "$build" -t "$factor" --num-processes $(($(nproc) + 1)) --no-rebuild --print-errorlogs
	result=$?
	# shellcheck disable=SC2046
	set -- $(count "$build/meson-logs/testlog.txt")
	passed=$((passed + $1)) failed=$((failed + $2)) skipped=$((skipped + $3))
	if [ "$result" != 0 ] && [ "$2" = 0 ]; then failed=$((failed + 1)); fi
}

# The Debian package, in clean Debians of its own, for three minutes; skipped where none can be made.
package() {
	echo "== package"
	if [ "$(id -u)" = 0 ]; then sh tools/install-packages.sh debootstrap dpkg-dev systemd-container; fi
	sh tests/package.sh build-test/tests/dongle/libemulated_dongle.so >"$log"
	result=$?
	cat "$log"
	set -- "$(grep -c '^ok ' "$log")" "$(grep '^not ok ' "$log" | grep -vc '# SKIP')" "$(grep -c '^not ok .*# SKIP' "$log")"
	passed=$((passed + $1)) failed=$((failed + $2)) skipped=$((skipped + $3))
	if [ "$result" != 0 ] && [ "$2" = 0 ]; then failed=$((failed + 1)); fi
}

export CMOCKA_MESSAGE_OUTPUT=TAP
export UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1

# Pages are looked at in a browser.
if sh tools/install-packages.sh chromium chromium-driver nodejs poppler-utils; then
	round build-test 1 --buildtype=release
	round build-test-sanitized 5 -Db_sanitize=address,undefined
	package
else
	failed=1
fi

# What needs no running; then a minute of input for each reader that nobody thought of. An hour each
# is for whoever changes one: sh tests/fuzz.sh 3600.
beside() { # NAME COMMAND...
	echo "== $1"
	shift
	if "$@"; then passed=$((passed + 1)); else failed=$((failed + 1)); fi
}
if sh tools/install-packages.sh cppcheck shellcheck clang libclang-rt-dev; then
	beside analyse sh tests/analyse.sh quick
	beside fuzz sh tests/fuzz.sh 60
else
	failed=$((failed + 1))
fi

line="$passed passed, $failed failed"
if [ "$skipped" != 0 ]; then line="$line, $skipped skipped"; fi
echo "$line"
[ "$failed" = 0 ]
