package harness

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Printable makes untrusted text, such as a file's name or a board's message, safe to print on a line: characters that
// could move the cursor, change colours, begin a line or change the direction of text become escapes such as \u001b.
func Printable(s string) string { return PrintableText(s, "") }

// Errorf is fmt.Errorf with every text argument made printable.
func Errorf(format string, a ...any) error {
	a = slices.Clone(a)
	for i := range a {
		if text, ok := a[i].(string); ok {
			a[i] = Printable(text)
		}
	}
	return fmt.Errorf(format, a...)
}

// PrintableText is Printable for text that may hold some of these characters, such as ends of lines.
func PrintableText(s, but string) string {
	if strings.IndexFunc(s, func(c rune) bool { return Invisible(c) || c == utf8.RuneError }) < 0 {
		return s
	}
	var b strings.Builder
	for i, c := range s {
		switch {
		case c == utf8.RuneError && !strings.HasPrefix(s[i:], "\uFFFD"):
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case !Invisible(c) || strings.ContainsRune(but, c):
			b.WriteRune(c)
		case c > 0xffff:
			c -= 0x10000 // two halves, as in UTF-16 and JSON
			fmt.Fprintf(&b, `\u%04x\u%04x`, 0xd800+c>>10, 0xdc00+c&0x3ff)
		default:
			fmt.Fprintf(&b, `\u%04x`, c)
		}
	}
	return b.String()
}

// Invisible says that a character prints nothing itself and may change how others are printed: a control character, a
// format character such as one that changes the direction of text, or a line end.
func Invisible(c rune) bool { return unicode.In(c, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) }
