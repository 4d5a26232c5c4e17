#!/bin/sh
# The manual pages as they are installed: whether two formatters find nothing to mend in them, and whether they say
# what the programs say of themselves.
# usage: BANDCENSUSD=PROGRAM BANDCENSUS=PROGRAM test_manual.sh SOURCE_ROOT PAGE...
set -u
: "${BANDCENSUSD:?names no program}" "${BANDCENSUS:?names no program}"
root=${1:?usage: test_manual.sh SOURCE_ROOT PAGE...}
shift
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT

. "$root/tests/verdict.sh"


for page in "$@"; do
	name=$(basename "$page")
	if command -v mandoc >/dev/null; then
		verdict "mandoc has nothing against $name" "$(mandoc -T lint -W warning "$page" 2>&1)"
		mandoc -T ascii "$page" | col -bx >"$dir/$name.txt"
	else
		skipped "$name: mandoc is not there"
	fi
	# A sentence has one full stop, and no line of its own for it.
	verdict "its sentences end once" "$(grep -nE '(^|\. )(\\&)?\.$' "$page" | head -n 3)"
	if command -v groff >/dev/null; then
		verdict "nor groff" "$(groff -ww -mdoc -Tascii -z "$page" 2>&1)"
	else
		skipped "$name: groff is not there"
	fi
done

# lacks NAME WORD...: those that the page does not have
lacks() {
	name=$1
	shift
	for word in "$@"; do
		tr -s " \n" " " <"$dir/$name.txt" | grep -qF -e "$word" || echo "$word"
	done
}

options() { sed -n 's/^  \(--[a-z-]*\).*/\1/p'; }

if [ -e "$dir/bandcensus.1.txt" ]; then
	# shellcheck disable=SC2046
	verdict 'bandcensusd.8 has every option' "$(lacks bandcensusd.8 $("$BANDCENSUSD" --help | options))"
	verbs=$("$BANDCENSUS" --help | sed -n 's/^  \([a-z]*\) .*/\1/p')
	verdict 'there are verbs' "$([ "$(echo "$verbs" | wc -l)" -ge 10 ] || echo "$verbs")"
	for verb in $verbs; do
		# shellcheck disable=SC2046
		verdict "bandcensus.1 has $verb and its options" "$(
			lacks bandcensus.1 "bandcensus $verb" $("$BANDCENSUS" help "$verb" | options)
			"$BANDCENSUS" help "$verb" | sed -n 's/^for example: //p' | while read -r example; do
				lacks bandcensus.1 "$example"
			done)"
	done
	# Every name that a shipped settings file sets is a setting that is told of.
	for conf in bandcensus bands-europe receiver-400 interests harlow-ferry; do
		# shellcheck disable=SC2046
		verdict "bandcensus.conf.5 has what $conf.conf sets" "$(lacks bandcensus.conf.5 $(grep -v '^[	 ]*#' \
			"$root/config/$conf.conf" | grep -oE '\<[a-z_]+ =' | tr -d ' =' | sort -u))"
	done
fi

# Whatever is shown as typed is understood: with --help behind it nothing is done, but all is read.
grep -hE '^( {4}| {11})bandcensusd? [a-z-]' "$root/README.md" "$dir"/*.txt 2>/dev/null | sed 's/^ *//; s/ *>.*//' | sort -u >"$dir/typed"
verdict 'examples are there' "$([ "$(wc -l <"$dir/typed")" -ge 25 ] || cat "$dir/typed")"
while read -r line; do
	case $line in
	'bandcensusd '*) command="\"$BANDCENSUSD\" ${line#* }" ;;
	*) command="\"$BANDCENSUS\" ${line#* }" ;;
	esac
	case $line in 'bandcensus help'*) ;; *) command="$command --help" ;; esac
	verdict "understood: $line" "$(eval "$command" 2>&1 >/dev/null || echo "exit $?")"
done <"$dir/typed"

verdicts_end
