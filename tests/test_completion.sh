#!/bin/bash
# What bash and zsh complete, asked as the shells ask. zsh is skipped where it is not there.
# usage: test_completion.sh BASH_BANDCENSUS ZSH_BANDCENSUS BASH_BANDCENSUSD ZSH_BANDCENSUSD
set -u
for file; do [[ -s $file ]] || { echo "usage: test_completion.sh FILE FILE FILE FILE" >&2; exit 2; }; done
files=("$@")
for i in 0 1 2 3; do [[ ${files[i]} == /* ]] || files[i]=$PWD/${files[i]}; done
dir=$(mktemp -d) || exit 1
trap 'rm -rf "$dir"' EXIT
cd "$dir" || exit 1
touch night.survey 'second night.survey' plan.csv receiver.conf notes.txt
mkdir folder

cases=0 bad=0
is() { # WHY GOT WANT
	cases=$((cases + 1))
	if [[ $2 == "$3" ]]; then
		echo "ok $cases - $1"
	else
		echo "not ok $cases - $1: \"${2//$'\n'/|}\", must be \"${3//$'\n'/|}\""
		bad=$((bad + 1))
	fi
}

# complete_with FILE WORD...: what the last word may become, a line each
complete_with() {
	bash --norc -c '
		source "$1" || exit
		shift
		COMP_WORDS=("$@") COMP_CWORD=$(($# - 1))
		_"$1"
		printf "%s\n" "${COMPREPLY[@]}" | LC_ALL=C sort' bash "$@" 2>&1
}
tools() { complete_with "${files[0]}" bandcensus "$@"; }
daemon() { complete_with "${files[2]}" bandcensusd "$@"; }

is 'bash: a verb' "$(tools ch)" $'channels\ncheck'
is 'bash: the program itself' "$(tools --v)" --version
is 'bash: an option of the verb' "$(tools plan night.survey --s)" $'--service\n--since\n--site\n--squelch'
is 'bash: none of another verb' "$(tools check --s)" ''
is 'bash: surveys and folders' "$(tools status '')" $'folder\nnight.survey\nsecond night.survey'
is 'bash: the beginning of one' "$(tools status sec)" 'second night.survey'
is 'bash: any file' "$(tools check n)" $'night.survey\nnotes.txt'
is 'bash: what an option needs' "$(tools plan night.survey --receiver r)" receiver.conf
is 'bash: the same after =' "$(tools plan night.survey --receiver = r)" receiver.conf
is 'bash: = alone' "$(tools rehearse night.survey --plan =)" $'folder\nplan.csv'
is 'bash: a folder alone' "$(tools plan night.survey --output '')" folder
is 'bash: nothing where nobody knows' "$(tools plan night.survey --squelch '')" ''
is 'bash: a verb to help with' "$(tools help me)" merge
is 'bash: the daemon' "$(daemon --ca)" --calibrate
is 'bash: its settings' "$(daemon --config '')" $'folder\nreceiver.conf'

if command -v zsh >/dev/null; then
	# ask FILE WORD...: what the file hands to the shell's own functions
	ask() {
		zsh -f -c '
			_arguments() { print -rl -- "$@" }
			_describe() { print -rl -- $verbs }
			file=$1
			shift
			words=("$@") CURRENT=$#
			source "$file"' zsh "$@" 2>&1
	}
	is 'zsh: verbs with what they do' "$(ask "${files[1]}" bandcensus '' | grep -c '^[a-z]*:.')" \
		"$(tools '' | grep -c '^[a-z]')"
	is 'zsh: an option with its files' "$(ask "${files[1]}" bandcensus rehearse '' | sed -n 's/^--plan=.*\]//p')" \
		':FILE:_files -g "*.csv"'
	is 'zsh: as many as in bash' "$(ask "${files[1]}" bandcensus plan '' | grep -cE '^\*?--')" \
		"$(tools plan -- | wc -l)"
	is 'zsh: the daemon, as many too' "$(ask "${files[3]}" bandcensusd '' | grep -cE '^\*?--')" "$(daemon -- | wc -l)"
	is 'zsh: its own reader takes each file' "$(zsh -n "${files[1]}" 2>&1; zsh -n "${files[3]}" 2>&1)" ''
else
	cases=$((cases + 1))
	echo "not ok $cases # SKIP zsh is not there"
fi

echo "1..$cases"
[[ $bad == 0 ]]
