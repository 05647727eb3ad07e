package harness

import (
	"fmt"
	"strings"
)

// String gives "file:line:column" without the unknown parts.
func (p Place) String() string {
	switch {
	case p.Line == 0:
		return Printable(p.File)
	case p.Column == 0:
		return fmt.Sprintf("%s:%d", Printable(p.File), p.Line)
	}
	return fmt.Sprintf("%s:%d:%d", Printable(p.File), p.Line, p.Column)
}

// Error gives "file:line:column: found X, wanted Y; hint".
func (p Problem) Error() string {
	var b strings.Builder
	if at := p.Place.String(); at != "" {
		b.WriteString(at + ": ")
	}
	b.WriteString("found " + Printable(p.Found))
	if p.Wanted != "" {
		b.WriteString(", wanted " + Printable(p.Wanted))
	}
	if p.Hint != "" {
		b.WriteString("; " + Printable(p.Hint))
	}
	return b.String()
}
