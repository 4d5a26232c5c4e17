# Cases of a test written in sh, as TAP: to be read in by it. Ends with: verdicts_end

cases=0 bad=0
verdict() { # WHY PROBLEM: a problem of "" is none
	cases=$((cases + 1))
	if [ -z "$2" ]; then
		echo "ok $cases - $1"
	else
		echo "not ok $cases - $1: $(printf %s "$2" | tr '\n' '|' | head -c 600)"
		bad=$((bad + 1))
	fi
}
skipped() { # WHY
	cases=$((cases + 1))
	echo "not ok $cases # SKIP $1"
}
verdicts_end() {
	echo "1..$cases"
	[ "$bad" = 0 ]
}
