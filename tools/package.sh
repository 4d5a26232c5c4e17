#!/bin/sh
# Makes Debian's source package of this checkout: FOLDER/bandcensus_VERSION.dsc and its archive, to be
# built by dpkg-buildpackage, where the build dependencies are. Needs dpkg-dev.
# usage: package.sh FOLDER
set -eu
[ $# = 1 ] || { echo "usage: package.sh FOLDER" >&2; exit 2; }
mkdir -p "$1"
out=$(cd "$1" && pwd)
cd "$(dirname "$0")/.."

version=$(sed -n "s/^	version: '\(.*\)',$/\1/p" meson.build)
packaged=$(sed -n '1s/.*(\(.*\)).*/\1/p' tools/debian/changelog)
[ "$version" = "$packaged" ] || {
	echo "tools/debian/changelog: version is $packaged, but $version in meson.build" >&2
	exit 1
}

tree=$out/bandcensus-$version
rm -rf "$tree"
mkdir "$tree"
if [ -e .git ]; then
	git ls-files -z --cached --others --exclude-standard | tar --create --null --files-from=- --file=-
else
	tar --create --exclude='./build*' --file=- .
fi | tar --extract --directory="$tree" --file=-
cp -r "$tree/tools/debian" "$tree/debian"
cd "$out"
dpkg-source --build "bandcensus-$version"
