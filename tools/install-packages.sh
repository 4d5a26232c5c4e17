#!/bin/sh
# Installs what building and testing need on Debian 12, and the packages named besides. Touches nothing,
# and needs no network, when all is there.
set -eu

packages="gcc libc6-dev meson ninja-build pkg-config python3-scipy sqlite3
	librtlsdr-dev libfftw3-dev libsqlite3-dev zlib1g-dev libconfig-dev libjansson-dev libpng-dev libmicrohttpd-dev libseccomp-dev
	libcmocka-dev libliquid-dev curl mandoc groff-base bsdextrautils locales $*"

missing=
for p in $packages; do
	state=$(dpkg-query -W -f='${Status}' "$p" 2>/dev/null || true)
	[ "$state" = 'install ok installed' ] || missing="$missing $p"
done
[ -n "$missing" ] || exit 0

as_root=
if [ "$(id -u)" != 0 ]; then
	command -v sudo >/dev/null || {
		echo "missing:$missing; run as root, or install sudo" >&2
		exit 1
	}
	as_root=sudo
fi
$as_root apt-get -q update
# shellcheck disable=SC2086
$as_root env DEBIAN_FRONTEND=noninteractive apt-get -q install -y --no-install-recommends $missing
