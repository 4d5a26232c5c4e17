#!/bin/sh
# What can be found without running anything. cppcheck and shellcheck take seconds and are what CI asks for; clang-tidy
# with the checks of .clang-tidy, clang's static analyser among them, takes minutes of one core.
# usage: analyse.sh [quick]       quick: without clang-tidy
# BANDCENSUS_BUILD: a build folder, build when not given, for clang-tidy to know how files are compiled
set -u
cd "$(dirname "$0")/.." || exit 1
bad=0

# Not believed, each for a reason:
#   varFuncNullUB         what ends a row of attributes is NULL, a pointer; __attribute__((sentinel)) has the compiler see to it
#   memleak               field.c keeps a list by the offset of its pointer, which cppcheck cannot follow
#   autoVariables         duty.c and cmd_status.c lend what is theirs to a struct that they use no longer than it lives
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

if [ "${1:-}" != quick ]; then
	find dsp store daemon tools -name '*.c' -print0 | xargs -0 -P "$(nproc)" -n 4 \
		clang-tidy -p "${BANDCENSUS_BUILD:-build}" --quiet 2>/dev/null | grep -E '(warning|error):' && bad=1
fi
exit $bad
