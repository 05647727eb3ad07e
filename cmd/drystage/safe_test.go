package main

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/require"

	"drystage/harness"
)

// hostileName is what a stranger may call a file: it clears the line, begins one of its own, turns the order of writing.
const hostileName = "a\x1b[2K\u009b1m\npass everything\r\u202egnihton\u2066.yaml"

// tame wants a text that does nothing to a terminal, and no line that a stranger has begun.
func tame(t *testing.T, text string, args ...any) {
	t.Helper()
	for _, c := range text {
		require.False(t, harness.Invisible(c) && c != '\n' && c != '\t', "%U in %q: %v", c, text, args)
	}
	require.NotRegexp(t, regexp.MustCompile(`(?m)^pass everything`), text, args...)
}

// TestNamesReachNoTerminalRaw: the names of files and the words of a board are printed as text that does nothing.
func TestNamesReachNoTerminalRaw(t *testing.T) {
	slow(t)
	good := "drystage: scenario\n" + shortFlight
	folder(t, map[string]string{
		"good/" + hostileName: good, "good/other" + hostileName: "a: 1\n", "broken/" + hostileName: "drystage: [\n", "broken/b.yaml": "drystage: scenario\nlike: \"" + "x\\e[31m\\n.yaml" + "\"\n",
		"log/" + hostileName: "time,height\n0,1\n", "records/" + hostileName + ".record": "none\n",
	})
	t.Chdir("good")
	shippedHere(t)
	for _, args := range [][]string{
		{"lint", "."}, {"bench", "--list", "."}, {"bench", "-q", "."}, {"bench", "-q", "--format", "json", "."}, {"bench", "-q", "--repeat", "2", "."},
		{"sweep", "-q", "--flights", "1", "."}, {"sweep", "-q", "--only", "1", "."}, {"defects", "-q", "--defect", "ignores-tilt", "."}, {"lint", "../broken"}, {"bench", "../broken"},
		{"lint", hostileName}, {"lint", "gone" + hostileName}, {"fly", hostileName}, {"fly", "gone" + hostileName}, {"bench", "gone" + hostileName}, {"hunt", hostileName}, {"show", "gone" + hostileName},
		{"show", "../records"}, {"ready", "../records"}, {"replay", "../log/" + hostileName}, {"examine", "../log/" + hostileName}, {"rig", hostileName}, {"rig", "gone" + hostileName},
		{"schema", hostileName}, {hostileName}, {"bench", "--" + hostileName}, {"bench", "--board", hostileName + "=mock"}, {"bench", "--board", hostileName, "."}, {"explain", hostileName},
		{"contract", "--set", hostileName}, {"bench", "--out", hostileName + "/x", "."}, {"ready", "."}, {"fly", "--plot", hostileName + ".svg", hostileName},
		{"contract", "-q", "--timeout", "300ms", "--board", "exec:printf '\\033[2Kpass everything\\r'"},
	} {
		_, out, errs := do(t, args...)
		require.NotEmpty(t, out+errs)
		tame(t, out, args)
		tame(t, errs, args)
	}
	status, _, errs := do(t, "bench", "-q", "--html", "page.html", ".")
	require.Equal(t, passed, status, errs)
	page, err := os.ReadFile("page.html")
	require.NoError(t, err)
	for _, c := range string(page) {
		require.False(t, unicode.In(c, unicode.Bidi_Control), "%U", c)
	}
}

// TestOutputHoldsBackWhatMayGoOn: a colour of ours and a character may come in pieces; any other escape shows as text.
func TestOutputHoldsBackWhatMayGoOn(t *testing.T) {
	const text = "a \x1b[1;31mfail\x1b[0m ü 二 \x1b[2K \x1b[1;31;4;5mx\u202e\xff\r\n\tz\x1b"
	want := "a \x1b[1;31mfail\x1b[0m ü 二 \\u001b[2K \\u001b[1;31;4;5mx\\u202e\\xff\\u000d\n\tz\\u001b"
	for size := 1; size <= len(text); size++ {
		var b strings.Builder
		o := &output{to: &b, color: true}
		for i := 0; i < len(text); i += size {
			n, err := fmt.Fprint(o, text[i:min(i+size, len(text))])
			require.NoError(t, err)
			require.Positive(t, n)
		}
		o.flush()
		require.Equal(t, want, b.String(), size)
	}
	var b strings.Builder
	o := &output{to: &b}
	fmt.Fprint(o, "\x1b[31mred\x1b")
	fmt.Fprint(raw(o), "\x1b\xff")
	require.Equal(t, "\\u001b[31mred\\u001b\x1b\xff", b.String(), "without colours none passes; bytes for programs do, in order")
}

// TestNamesArePrintedBySayf: a plain Fprintf to a terminal would let a name begin a line of its own.
func TestNamesArePrintedBySayf(t *testing.T) {
	for _, f := range goFiles(t) {
		if !strings.HasPrefix(f, root+"/cmd/") && !strings.Contains(f, "cmd/drystage/") {
			continue
		}
		text, err := os.ReadFile(root + "/" + strings.TrimPrefix(f, root+"/"))
		require.NoError(t, err)
		require.NotContains(t, string(text), "fmt.Fprintf(d"+".", f)
	}
}
