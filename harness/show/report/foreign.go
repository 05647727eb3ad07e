package report

import (
	"fmt"
	"io"
)

// Foreign counts and names files that are none of drystage's: what was not done with them, such as "flown".
// Without any it writes nothing.
func Foreign(w io.Writer, names []string, done string) error {
	if len(names) == 0 {
		return nil
	}
	are := "are"
	if len(names) == 1 {
		are = "is"
	}
	if _, err := fmt.Fprintf(w, "%s %s none of drystage's, and not %s:\n", plural(len(names), "file"), are, done); err != nil {
		return err
	}
	for _, n := range names {
		if _, err := fmt.Fprintf(w, "  %s\n", Plain(n)); err != nil {
			return err
		}
	}
	return nil
}
