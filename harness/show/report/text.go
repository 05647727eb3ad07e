package report

import (
	"strings"
	"unicode"

	"golang.org/x/text/width"
)

// Plain makes a text fit for one line of a terminal: what could move the cursor, change colours or turn
// the order of writing is dropped, white space becomes a space. Names and logs come from files and
// boards that may be hostile.
func Plain(s string) string {
	return strings.Map(func(c rune) rune {
		switch {
		case unicode.IsSpace(c):
			return ' '
		case unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp):
			return -1
		}
		return c
	}, strings.ToValidUTF8(s, "?"))
}

// columns counts the columns that a text takes: two for wide characters (Unicode Standard Annex 11),
// none for combining marks.
func columns(s string) int {
	n := 0
	for _, c := range s {
		n += column(c)
	}
	return n
}

func column(c rune) int {
	if unicode.In(c, unicode.Mn, unicode.Me) {
		return 0
	}
	switch width.LookupRune(c).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return 2
	}
	return 1
}

// padRight cuts or fills a text to n columns.
func padRight(s string, n int) string {
	s = truncate(s, n)
	return s + strings.Repeat(" ", max(0, n-columns(s)))
}

// padLeft cuts or fills a text to n columns, at the left.
func padLeft(s string, n int) string {
	s = truncate(s, n)
	return strings.Repeat(" ", max(0, n-columns(s))) + s
}

// truncateAtComma shortens a text to n columns, after a comma if that leaves something.
func truncateAtComma(s string, n int) string {
	s = Plain(s)
	if columns(s) <= n {
		return s
	}
	const dots = ", ..."
	if at := strings.LastIndex(s[:bytesFitting(s, n-len(dots)+1)], ","); at > 0 {
		return s[:at] + dots
	}
	return truncate(s, n)
}

// truncate shortens a text to n columns.
func truncate(s string, n int) string {
	s = Plain(s)
	if columns(s) <= n {
		return s
	}
	if n < 4 {
		return s[:bytesFitting(s, n)]
	}
	return s[:bytesFitting(s, n-3)] + "..."
}

// bytesFitting is the number of bytes of a text that fit into n columns.
func bytesFitting(s string, n int) int {
	for i, c := range s {
		if n -= column(c); n < 0 {
			return i
		}
	}
	return len(s)
}

// wrap breaks a text into lines of at most n columns, at spaces where it can, but not between a number
// and its unit or uncertainty. Below 10 columns it gives up and takes 10.
func wrap(s string, n int) []string {
	n = max(n, 10)
	var lines []string
	line := ""
	for _, word := range phrases(Plain(s)) {
		if line != "" && columns(line)+1+columns(word) > n {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		for line += word; columns(line) > n; {
			at := bytesFitting(line, n)
			lines, line = append(lines, line[:at]), line[at:]
		}
	}
	return append(lines, line)
}

// phrases gives the words of a text; "8.875 s +- 2.9 ms," is one.
func phrases(s string) []string {
	var out []string
	for _, word := range strings.Fields(s) {
		if n := len(out) - 1; n >= 0 && inseparable(out[n], word) {
			out[n] += " " + word
		} else {
			out = append(out, word)
		}
	}
	return out
}

func inseparable(before, word string) bool {
	end := before[len(before)-1]
	return word == "+-" || strings.HasSuffix(before, "+-") || end >= '0' && end <= '9' && (word[0] == '%' || unicode.IsLetter(rune(word[0])))
}

// quote makes a text one word of a shell's command line (POSIX.1-2017, Shell Command Language, 2.2.2).
func quote(s string) string {
	safe := func(c rune) bool {
		return unicode.IsLetter(c) || unicode.IsDigit(c) || strings.ContainsRune("%+,-./:=@_", c)
	}
	if s != "" && strings.IndexFunc(s, func(c rune) bool { return !safe(c) }) < 0 {
		return s
	}
	return Quoted(s)
}

// Quoted makes a text one word of a shell's command line, in quotes whether it needs them or not.
func Quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }
