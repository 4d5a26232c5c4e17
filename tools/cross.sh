#!/bin/sh
# Builds for another architecture of Debian, with Debian's cross compiler, in a chroot of its own so that
# this machine stays as it is, and runs the tests of dsp, store and planning under qemu's user emulation.
# Needs root, debootstrap, qemu-user-static and a mirror (BANDCENSUS_MIRROR). The chroot is kept in
# FOLDER for the next time.
# usage: cross.sh ARCHITECTURE FOLDER [TEST...]       armhf or arm64; TESTs instead of those
set -eu
[ $# -ge 2 ] || { echo "usage: cross.sh ARCHITECTURE FOLDER [TEST...]" >&2; exit 2; }
arch=$1
mkdir -p "$2"
root=$(cd "$2" && pwd)
shift 2
cd "$(dirname "$0")/.."
mirror=${BANDCENSUS_MIRROR:-http://deb.debian.org/debian}

case $arch in
armhf) triplet=arm-linux-gnueabihf emulator=qemu-arm-static family=arm cpu=armv7l ;;
arm64) triplet=aarch64-linux-gnu emulator=qemu-aarch64-static family=aarch64 cpu=aarch64 ;;
*) echo "$arch: not known; armhf and arm64 are" >&2; exit 2 ;;
esac

# What is fast enough under emulation, and asks no other program: law, crystal and window take minutes each.
tests=${*:-freq chance drift spacing lines spectrum look designator zoom hop track overs floor
	park challenge sighting settings setting_files bandplan survey_file thin shelf upkeep timetable moment options
	stream ring pace synthesiser narrow interval exact occupancy census merge rescue list pairs ranges hazard draw
	rehearse plan plan_rules slots regular traffic picture strip levels}

within() {
	unshare --mount --pid --fork --kill-child sh -c '
		mount -t proc proc "$0/proc" && exec chroot "$0" /usr/bin/env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin \
			HOME=/root LC_ALL=C.UTF-8 DEBIAN_FRONTEND=noninteractive sh -ec "$1"' "$root" "$1"
}

libraries=
for l in libconfig libfftw3 libjansson libpng librtlsdr libmicrohttpd libseccomp libsqlite3 zlib1g libcmocka libliquid libusb-1.0-0; do
	libraries="$libraries $l-dev:$arch"
done
if [ ! -e "$root/etc/dpkg/dpkg.cfg.d/unsafe" ]; then
	debootstrap --variant=minbase bookworm "$root" "$mirror"
	cp /etc/resolv.conf "$root/etc/resolv.conf"
	echo force-unsafe-io >"$root/etc/dpkg/dpkg.cfg.d/unsafe"
fi
# Again when a library was added since.
if [ "$(cat "$root/ready" 2>/dev/null)" != "$libraries" ]; then
	within "dpkg --add-architecture $arch
		apt-get -q update
		apt-get -q install -y --no-install-recommends crossbuild-essential-$arch gcc libc6-dev meson ninja-build \
			pkg-config sqlite3 python3 $libraries"
	echo "$libraries" >"$root/ready"
fi
cp "$(command -v "$emulator")" "$root/usr/bin/"

rm -rf "$root/root/tree"
mkdir "$root/root/tree"
git ls-files -z --cached --others --exclude-standard | tar --create --null --files-from=- --file=- |
	tar --extract --directory="$root/root/tree" --file=-
cat >"$root/root/cross" <<END
[binaries]
c = '$triplet-gcc'
ar = '$triplet-ar'
strip = '$triplet-strip'
pkgconfig = '$triplet-pkg-config'
exe_wrapper = '/usr/bin/$emulator'
[built-in options]
c_args = '-Wno-psabi'
[properties]
needs_exe_wrapper = true
[host_machine]
system = 'linux'
cpu_family = '$family'
cpu = '$cpu'
endian = 'little'
END
within "cd /root/tree
	export QEMU_LD_PREFIX=/
	meson setup ../b --cross-file ../cross --buildtype=release \$(test ! -d ../b || echo --reconfigure)
	ninja -C ../b -k 0 daemon/bandcensusd tools/bandcensus $(printf 'tests/test_%s ' $tests)
	meson test -C ../b --no-rebuild -t 10 --print-errorlogs $(printf '%s ' $tests)"
