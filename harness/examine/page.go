package examine

import "io"

// Page writes the report as a page.
func Page(w io.Writer, r *Result) error { return nil }
