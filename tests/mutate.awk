# For tests/mutate.sh: every place of a source that may be changed, "FILE LINE COLUMN LENGTH CLASS NEW".
# Not in comments, text, preprocessor lines other than numbers that have a name, nor in what is asserted: that is for our
# own mistakes, which no test makes.
# file: its name in the output; classes: those wanted

function place(at, length_, class, new)
{
	if (index(" " classes " ", " " class " "))
		print file, NR, at, length_, class, new
}

# Every place of a word in the code, or of an operator between spaces.
function words(code, old, class, new,    past, at, sides)
{
	sides = old ~ /^ /
	for (past = 0; (at = index(substr(code, past + 1), old)) > 0; past += at + length(old) - 1 - sides)
		place(past + at + sides, length(old) - 2 * sides, class, new)
}

function numbers(code,    past, rest, text, after)
{
	# A longer buffer is the same program; so is another number by which qsort is told who comes first.
	if (code ~ /^\t*(static )?(const )?char |alloc\(|\? -1 : 1;/)
		return
	rest = code
	for (past = 0; match(rest, /[^A-Za-z_0-9.][0-9]+(\.[0-9]+)?/); rest = substr(rest, RSTART + RLENGTH)) {
		text = substr(rest, RSTART + 1, RLENGTH - 1)
		after = substr(rest, RSTART + RLENGTH, 1)
		if (after !~ /[A-Za-z_0-9.]/ && substr(rest, RSTART - 1, 2) !~ /^e[-+]$/)
			place(past + RSTART + 1, RLENGTH - 1, "number", text ~ /\./ ? text * 1.5 : text + 1)
		past += RSTART + RLENGTH - 1
	}
}

function balanced(text,    depth, i, c)
{
	for (i = 1; i <= length(text); i++) {
		c = substr(text, i, 1)
		depth += (c == "(") - (c == ")")
		if (depth < 0)
			return 0
	}
	return depth == 0
}

# if (X) with nothing in X that is turned by itself
function conditions(code, line,    from, what)
{
	if (!match(code, /if \(.*\)( \{)?[ \t]*$/))
		return
	from = RSTART + 4
	what = substr(code, from)
	sub(/\)( \{)?[ \t]*$/, "", what)
	if (balanced(what) && what !~ / ([<>]=?|[=!]=|&&|\|\|) |^!/)
		place(from, length(what), "turned", "!(" substr(line, from, length(what)) ")")
}

# One that is a whole line: what is before it has ended.
function statements(code, before,    body)
{
	if (before !~ /([;{}):]|else|^)[ \t]*$/ || code !~ /^\t.*;[ \t]*$/)
		return
	match(code, /^\t+/)
	body = substr(code, RLENGTH + 1)
	sub(/[ \t]+$/, "", body)
	if (!balanced(body) || body ~ /^(return|goto|\(void\)|free\()/)
		return
	if (body ~ /^[^ ]+ [-+*\/|&]?= / || body ~ /^[A-Za-z_0-9]+\(/ || body ~ /^(break|continue);|(\+\+|--);$/)
		place(RLENGTH + 1, length(body), "left", ";")
}

BEGIN {
	n = split("< turned >=|< edge <=|<= turned >|<= edge <|> turned <=|> edge >=|>= turned <|>= edge >|" \
		  "== turned !=|!= turned ==|+ turned -|- turned +|* turned /|/ turned *|+= turned -=|-= turned +=", op, "|")
}

/^[ \t]*(\/\*|\*)/ { inside = /\/\*/ && !/\*\//; next }
inside { inside = !/\*\//; next }
/^\t+assert\(/ { before = $0; next }
/^#/ { if (/^#define [A-Z_0-9]+ +[-0-9(]/) { sub(/\/\*.*/, ""); numbers($0) } next }
{
	code = $0
	while (match(code, /"([^"\\]|\\.)*"/))          # text of the same length, with nothing to change in it
		code = substr(code, 1, RSTART - 1) substr("__________________________________________________" \
			"______________________________________________________________", 1, RLENGTH) substr(code, RSTART + RLENGTH)
	if ((at = index(code, "/*")))
		code = substr(code, 1, at - 1)
	for (i = 1; i <= n; i++) {
		split(op[i], o, " ")
		words(code, " " o[1] " ", o[2], o[3])
	}
	words(code, " && ", "turned", "||")
	words(code, " || ", "turned", "&&")
	words(code, "? -1 : 1;", "turned", "? 1 : -1;")
	words(code, "fmin(", "turned", "fmax(")
	words(code, "fmax(", "turned", "fmin(")
	words(code, "true", "turned", "false")
	words(code, "false", "turned", "true")
	for (past = 0; match(substr(code, past + 1), /[( ]![A-Za-z(]/); past += RSTART)
		place(past + RSTART + 1, 1, "turned", "")
	numbers(code)
	conditions(code, $0)
	statements(code, before)
	before = code
	inside = /\/\*/ && !/\*\//
}
