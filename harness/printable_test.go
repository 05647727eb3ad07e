package harness

import (
	"encoding/json"
	"strconv"
	"testing"
	"unicode"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestShown(t *testing.T) {
	for _, row := range []struct{ reason, text, want string }{
		{"plain text", "Überlänge 二段式 a-b/c.yaml", "Überlänge 二段式 a-b/c.yaml"},
		{"a colour", "\x1b[31mred", `\u001b[31mred`},
		{"a colour in one byte", "\u009b31m", `\u009b31m`},
		{"a line of its own", "a\npass", `a\u000apass`},
		{"back to the start", "fail\rpass", `fail\u000dpass`},
		{"the order of writing", "\u202elmay\u202c", `\u202elmay\u202c`},
		{"nothing to see", "a\u200bb", `a\u200bb`},
		{"beyond 16 bits", "\U000e0041", `\udb40\udc41`},
		{"no UTF-8", "a\xff", `a\xff`},
		{"a true replacement", "a\uFFFD", "a\uFFFD"},
		{"a line separator", "a\u2028b", `a\u2028b`},
	} {
		require.Equal(t, row.want, Printable(row.text), row.reason)
	}
	require.Equal(t, "a\n\tb\\u001b", PrintableText("a\n\tb\x1b", "\n\t"))
	p := Problem{Place: Place{File: "a\nb.yaml", Line: 1, Column: 2}, Found: "x\x1b", Wanted: "y\r", Hint: "z\u202e"}
	require.Equal(t, `a\u000ab.yaml:1:2: found x\u001b, wanted y\u000d; z\u202e`, p.Error())
}

// Printable text has no control characters, is unchanged by a second call, and is the same text in JSON.
func TestShownIsPlain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "text")
		got := Printable(s)
		for _, c := range got {
			require.True(t, unicode.IsGraphic(c) || !Invisible(c), strconv.QuoteRune(c))
		}
		require.Equal(t, got, Printable(got))
		text, err := json.Marshal(s)
		require.NoError(t, err)
		var back string
		require.NoError(t, json.Unmarshal([]byte(Printable(string(text))), &back))
		require.Equal(t, s, back)
	})
}
