package report

import (
	"io"
	"strings"
)

// PlainPage writes a page without what could turn the order of writing or hide text, since names may be hostile, and
// without empty lines.
func PlainPage(w io.Writer, text string) error {
	var out strings.Builder
	for line := range strings.Lines(text) {
		if line = strings.TrimRight(Plain(line), " "); line != "" {
			out.WriteString(line)
			out.WriteByte('\n')
		}
	}
	_, err := io.WriteString(w, out.String())
	return err
}
