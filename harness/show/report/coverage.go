package report

import (
	"fmt"
	"io"
	"strings"

	"drystage/harness/judge/coverage"
	"drystage/sim"
)

// Coverage writes in which phases of flight each kind of fault was tried: the number of scenarios, or a
// dot for none; and the kinds that no scenario tried.
func Coverage(w io.Writer, t *coverage.Table) error {
	if t.Scenarios == 0 {
		return ErrEmpty
	}
	var b strings.Builder
	faultTable(&b, faultRows(t, true))
	fmt.Fprintf(&b, "\n%s; a cell counts those in which the fault changed something in that phase\n", plural(t.Scenarios, "scenario"))
	if never := neverTried(t); len(never) > 0 {
		fmt.Fprintf(&b, "never tried: %s\n", strings.Join(never, ", "))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// faultRow is a kind of fault, and in how many scenarios it was tried, by phase; a dot is none.
type faultRow struct {
	Kind  string
	Cells [coverage.Phases]string
}

// faultRows gives the rows of the kinds that were tried, or of all kinds.
func faultRows(t *coverage.Table, all bool) []faultRow {
	var rows []faultRow
	for i, name := range sim.FaultKinds() {
		k := sim.FaultKind(i + 1)
		if !all && !t.Any(k) {
			continue
		}
		r := faultRow{Kind: name}
		for p := range coverage.Phases {
			r.Cells[p] = "."
			if n := t.Count(k, p); n > 0 {
				r.Cells[p] = fmt.Sprint(n)
			}
		}
		rows = append(rows, r)
	}
	return rows
}

// faultTable writes rows below the names of the phases.
func faultTable(b *strings.Builder, rows []faultRow) {
	wide := len("fault")
	for _, k := range sim.FaultKinds() {
		wide = max(wide, len(k))
	}
	fmt.Fprintf(b, "%-*s", wide, "fault")
	for p := range coverage.Phases {
		fmt.Fprintf(b, "  %s", p)
	}
	b.WriteString("\n")
	for _, r := range rows {
		fmt.Fprintf(b, "%-*s", wide, r.Kind)
		for p := range coverage.Phases {
			fmt.Fprintf(b, "  %*s", len(p.String()), r.Cells[p])
		}
		b.WriteString("\n")
	}
}

// neverTried lists the kinds of fault that no scenario tried.
func neverTried(t *coverage.Table) []string {
	var names []string
	for i, name := range sim.FaultKinds() {
		if !t.Any(sim.FaultKind(i + 1)) {
			names = append(names, name)
		}
	}
	return names
}
