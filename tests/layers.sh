#!/bin/sh
# The rules of the house that a few greps can see. Prints what breaks them; 1 if anything does.
# usage: layers.sh [ROOT]
cd "${1:-$(dirname "$0")/..}" || exit 2

# no REASON < lines that break a rule
no() {
	found=$(cat)
	[ -z "$found" ] || printf '%s:\n%s\n' "$1" "$found"
}

# sources FOLDER...: what is written in C there, however deep
sources() {
	find "$@" -name '*.[ch]' 2>/dev/null
}

# only HEADER PATTERN: a library has one home (tests may look anywhere)
only() {
	grep -nHE "#include <$1>" $(sources dsp store daemon tools) |
		grep -vE "^($2):" | no "$1 belongs in $2 alone"
}

# one HEADER FOLDER: of the files there only one may include it
one() {
	set -- "$1" "$2" "$(grep -lE "#include <$1>" $(sources "$2"))"
	[ "$(printf '%s\n' "$3" | wc -l)" -le 1 ] || printf '%s\n' "$3" | no "$1 belongs in one file of $2"
}

rules() {
	grep -nHE '#include "(store|daemon|tools|tests)/' $(sources dsp) | no 'dsp includes dsp alone'
	grep -nHE '#include "(daemon|tools|tests)/' $(sources store) | no 'store includes dsp and store alone'
	grep -nHE '#include "(tools|tests)/' $(sources daemon) | no 'daemon does not know tools or tests'
	grep -nHE '#include "(daemon|tests)/' $(sources tools) | no 'tools do not know daemon or tests'
	grep -nHE '#include "[^/"]*"' $(sources dsp store daemon tools tests) | no 'includes are written from the root'

	only 'fftw3\.h' 'dsp/spectrum\.c'
	only 'zlib\.h' 'store/strip\.c'
	only 'rtl-sdr\.h' 'daemon/dongle/dongle\.c'
	only 'seccomp\.h' 'daemon/dongle/walls\.c'
	only 'png\.h' 'tools/png\.c'
	only 'sqlite3\.h' 'store/database_inside\.h'
	grep -nH '#include "store/database_inside\.h"' $(sources dsp store daemon tools) |
		grep -vE '^store/(database|statement)\.c:' | no 'a database is looked into by its own two files alone'
	only 'libconfig\.h' 'store/[a-z_]*\.c'
	only 'microhttpd\.h' 'daemon/page\.c'
	only 'jansson\.h' '(daemon|tools)/[a-z_]*\.c'

	one 'libconfig\.h' store
	one 'jansson\.h' daemon
	one 'jansson\.h' tools

	# dsp knows no file, clock, device, log or setting.
	grep -nHE '#include <(time|fcntl|unistd|syslog|pthread|signal|errno|sys/[a-z]*)\.h>|\<(fopen|open|printf|fprintf|perror|getenv|time|clock_gettime|gettimeofday)\(' \
		$(sources dsp) | no 'dsp knows no file, clock, log or setting'

	# The project stands alone. Spelt so that this file does not find itself.
	grep -rnHE '\.\./share[d]|/wor[k]/' --include='*.[ch]' --include='*.sh' --include='*.build' --include='*.md' \
		--include='*.conf' --include='*.service' . | grep -vE '^\./build|^\./\.' | no 'a path from outside the project'

	# A line at the margin that ends in ; or = ..., and is no prototype, type or constant.
	# The flag that a signal sets can be nothing else.
	grep -nHE '^(static |extern )?[a-z_0-9]+( [a-z_0-9]+)* \**[a-z_0-9]+(\[[^]]*\])*( = .*|;)$' \
		$(sources dsp store daemon tools) |
		grep -vE ':(static |extern )?(const|struct [a-z_0-9]+;|enum [a-z_0-9]+;|.* const |.* sig_atomic_t |goto|return|typedef)' |
		no 'a variable at file scope that is not const'
	grep -nHE '^	+static ' $(sources dsp store daemon tools) | grep -vE '\<const\>' |
		no 'a static in a function that is not const'
	grep -nHE '^typedef ' $(sources dsp store daemon tools tests) | no 'no typedef'
}

broken=$(rules)
[ -z "$broken" ] && exit 0
printf '%s\n' "$broken"
exit 1
