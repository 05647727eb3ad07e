package report

import (
	"fmt"
	"io"
	"strings"

	"drystage/harness/coverage"
	"drystage/sim"
)

// Coverage writes in which phases of flight each kind of fault was tried: the number of scenarios, or a
// dot for none; and the kinds that no scenario tried.
func Coverage(w io.Writer, t *coverage.Table) error {
	if t.Scenarios == 0 {
		return ErrEmpty
	}
	kinds := sim.FaultKinds()
	wide := len("fault")
	for _, k := range kinds {
		wide = max(wide, len(k))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%-*s", wide, "fault")
	for p := range coverage.Phases {
		fmt.Fprintf(&b, "  %s", p)
	}
	b.WriteString("\n")
	var never []string
	for i, name := range kinds {
		k := sim.FaultKind(i + 1)
		if !t.Ever(k) {
			never = append(never, name)
		}
		fmt.Fprintf(&b, "%-*s", wide, name)
		for p := range coverage.Phases {
			cell := "."
			if n := t.Tried(k, p); n > 0 {
				cell = fmt.Sprint(n)
			}
			fmt.Fprintf(&b, "  %*s", len(p.String()), cell)
		}
		b.WriteString("\n")
	}
	fmt.Fprintf(&b, "\n%s; a cell counts those in which the fault changed something in that phase\n", plural(t.Scenarios, "scenario"))
	if len(never) > 0 {
		fmt.Fprintf(&b, "never tried: %s\n", strings.Join(never, ", "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}
