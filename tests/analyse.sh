#!/bin/sh
# What can be found without running anything. cppcheck and shellcheck take seconds and are what CI asks for; clang-tidy
# with the checks of .clang-tidy, clang's static analyser among them, takes five minutes of one core, gcc's analyser one.
# usage: analyse.sh [quick | tests | one FILE]    quick: without these two; tests: clang-tidy on tests/*.c, too;
#        one: gcc's analyser on a file
# BANDCENSUS_BUILD: a build folder, build when not given, for clang-tidy to know how files are compiled
set -u
cd "$(dirname "$0")/.." || exit 1
build=${BANDCENSUS_BUILD:-build}
bad=0

# What gcc's analyser says and is not believed, by file: gcc 12 loses whom memory belongs to once a member of an array, or of
# a struct that is lent, points to it. The address sanitizer sees to leaks, and tests in which memory runs out.
#   renewal_fit.c  a row copied with memcpy and an index that is an enum: it takes two thirds of it for not copied
gcc_mistaken() {
	case $1 in
	store/merge.c | tools/plan/census.c | tools/plan/draw.c | tools/lines.c | tools/page/report.c | daemon/town/night.c)
		echo -Wno-analyzer-malloc-leak ;;
	tools/plan/renewal_fit.c)
		echo -Wno-analyzer-use-of-uninitialized-value ;;
	esac
}

analyse_one() {
	gcc -std=gnu11 -O2 -Wall -Wextra -fanalyzer -Werror -I. -D_GNU_SOURCE \
		'-DBANDCENSUS_VERSION=""' '-DBANDCENSUS_DATA_DIR=""' '-DBANDCENSUS_CONFIG_DIR=""' \
		$(pkg-config --cflags libconfig jansson libpng libmicrohttpd librtlsdr 2>/dev/null) \
		$(gcc_mistaken "$1") -c -o /dev/null "$1"
}

if [ "${1:-}" = one ]; then
	analyse_one "$2"
	exit
fi

# Not believed, each for a reason:
#   varFuncNullUB         what ends a row of attributes is NULL, a pointer; __attribute__((sentinel)) has the compiler see to it
#   memleak               field.c keeps a list by the offset of its pointer, which cppcheck cannot follow
#   autoVariables         cmd_status.c lends what is its own to a struct that it uses no longer than it lives; duty.c
#                         takes it back
#   uninitvar             detect.c fills as many slices as it reads
#   nullPointerRedundantCheck  slots_changes.c: of was and now one is there
#   internalAstError      compare.c: cppcheck does not read (struct looks){ 0 } amid ?:
if command -v cppcheck >/dev/null; then
	cppcheck --quiet --std=c11 --enable=warning,performance,portability --error-exitcode=1 --inline-suppr -I. -D_GNU_SOURCE \
		-D__GNUC__ -D__x86_64__ '-DBANDCENSUS_VERSION=""' '-DBANDCENSUS_DATA_DIR=""' '-DBANDCENSUS_CONFIG_DIR=""' \
		--suppress=varFuncNullUB --suppress=memleak:store/field.c --suppress=autoVariables:daemon/duty.c \
		--suppress=autoVariables:tools/cmd_status.c --suppress=uninitvar:dsp/detect.c \
		--suppress=nullPointerRedundantCheck:tools/plan/slots_changes.c --suppress=internalAstError:tools/plan/compare.c \
		-j "$(nproc)" dsp store daemon tools || bad=1
else
	echo "analyse.sh: without cppcheck" >&2
fi

if command -v shellcheck >/dev/null; then
	# SC2046, SC2086: names that our own scripts list are split into words on purpose. SC2100: a name with a dash
	# is no subtraction. SC2148, SC2034: some are read by others, and some names by those.
	find . -name '*.sh' -not -path './build*' -exec shellcheck -S warning -e SC2046,SC2086,SC2100,SC2148,SC2034 {} + || bad=1
else
	echo "analyse.sh: without shellcheck" >&2
fi
[ "${1:-}" = quick ] && exit $bad

# What clang-tidy says and is not believed: a pattern of file and message, and why.
tidy_mistaken() {
	sed -e 's/[[:space:]]*#.*//' -e '/^$/d' <<-'END'
		sizeof\(A\*\)                           # rows of pointers, which the check takes for a forgotten *
		renewal(_fit)?\.c.*FloatLoopCounter     # halved or thirded until small: nothing is counted
		dsp/drift\.c.*uninitialized            # median(): as many votes as count_votes() wrote
		tools/table_read\.c.*NullDereference    # made of as many fields as limits->fields, at least one
		tools/plan/tally\.c.*NullDereference    # bands is 0 until band and of are there
		tools/plan/slots_changes\.c.*NullDereference    # a slot that is new or replaced has a memory
		tools/plan/ranges\.c.*NullDereference   # a stretch is always of some ground
		tools/plan/licences\.c.*NullDereference # as many as lefts says
		store/field\.c.*CallAndMessage          # asked of lists of texts and of frequencies alone, which have a parser
	END
}

# The build may have been made for gcc, which knows warnings that clang does not.
tidy() {
	xargs -0 -P "$(nproc)" -n 4 clang-tidy -p "$build" --quiet --extra-arg=-Wno-unknown-warning-option 2>/dev/null | grep -E '(warning|error):' |
		{ tidy_mistaken >"$mistaken"; grep -vE -f "$mistaken"; }
}

mistaken=$(mktemp)
trap 'rm -f "$mistaken"' EXIT
folders='dsp store daemon tools'
[ "${1:-}" = tests ] && folders="$folders tests"
find $folders -name '*.c' -print0 | tidy && bad=1
find dsp store daemon tools -name '*.c' -print0 | xargs -0 -P "$(nproc)" -n 1 sh tests/analyse.sh one || bad=1
exit $bad
