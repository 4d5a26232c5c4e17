#!/bin/sh
# What pages carry along, as C: embed.sh STYLE SCRIPT > FILE.c. Also "sha256-..." of each, as the
# Content-Security-Policy wants it. coreutils alone.
set -eu

# bytes NAME FILE
bytes() {
	printf 'const char %s[] = {\n' "$1"
	od -An -v -tu1 "$2" | sed 's/  *\([0-9][0-9]*\)/\1,/g'
	printf '0 };\n'
	hash=$(sha256sum <"$2" | cut -c1-64 | tr a-f A-F | basenc --base16 -d | base64)
	printf 'const char %s_hash[] = "sha256-%s";\n' "$1" "$hash"
}

echo '#include "tools/page/page.h"'
bytes page_style "$1"
bytes page_script "$2"
