package mutants

import (
	"fmt"
	"io"
	"slices"
	"text/tabwriter"
)

// Write writes the score by file and by kind of mutation, every mutant that lives with the reason, and reasons that none
// of all mutants that were made has.
func Write(w io.Writer, all []Result, reasons []Reason, made []Mutant) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	row := func(name string, match func(*Result) bool) {
		if s := Count(all, reasons, match); s.All > 0 {
			fmt.Fprintf(t, "%s\t%d\t%d\t%d\t%d\t%.1f %%\n", name, s.All, s.Killed, s.Equal, s.Left, s.Percent())
		}
	}
	fmt.Fprintln(t, "file\tmutants\tkilled\tequal\tlive\tscore")
	for _, f := range files(all) {
		row(f, func(r *Result) bool { return r.File == f })
	}
	fmt.Fprintln(t, "\t\t\t\t\t\nkind\tmutants\tkilled\tequal\tlive\tscore")
	for _, k := range Kinds() {
		row(string(k), func(r *Result) bool { return r.Kind == k })
	}
	row("all", nil)
	if err := t.Flush(); err != nil {
		return err
	}
	live(w, all, reasons)
	for _, r := range Stale(reasons, made) {
		fmt.Fprintf(w, "\nno mutant has this reason: %s, %s %s: %s", r.Func, r.Kind, r.Was, r.Why)
	}
	byScenario(w, all)
	return nil
}

func live(w io.Writer, all []Result, reasons []Reason) {
	for _, part := range []struct {
		title string
		want  func(r *Result, why *Reason) bool
	}{
		{"equal by argument, yet killed: the argument is wrong", func(r *Result, why *Reason) bool { return r.Killed() && why != nil && why.Equal }},
		{"live, without a reason", func(r *Result, why *Reason) bool { return !r.Killed() && why == nil }},
		{"live, for a known reason", func(r *Result, why *Reason) bool { return !r.Killed() && why != nil && !why.Equal }},
		{"equal by argument", func(r *Result, why *Reason) bool { return !r.Killed() && why != nil && why.Equal }},
	} {
		first := true
		for i := range all {
			r := &all[i]
			why := Find(reasons, &r.Mutant)
			if !part.want(r, why) {
				continue
			}
			if first {
				fmt.Fprintf(w, "\n%s\n", part.title)
				first = false
			}
			fmt.Fprintf(w, "  %4d %s: %s", r.Number, r.Outcome, r.Mutant.String())
			if r.Scenario != "" {
				fmt.Fprintf(w, " [%s: %s]", r.Scenario, r.Finding)
			}
			if why != nil {
				fmt.Fprintf(w, "; %s", why.Why)
			}
			fmt.Fprintln(w)
		}
	}
}

// byScenario lists how many mutants each scenario was the first to kill.
func byScenario(w io.Writer, all []Result) {
	var names []string
	kills := map[string]int{}
	for i := range all {
		if s := all[i].Scenario; s != "" && all[i].Killed() {
			if kills[s] == 0 {
				names = append(names, s)
			}
			kills[s]++
		}
	}
	fmt.Fprintf(w, "\nfirst killed by")
	for _, n := range names {
		fmt.Fprintf(w, " %s %d,", n, kills[n])
	}
	fmt.Fprintln(w)
}

// files lists the files of results, in their order.
func files(all []Result) (out []string) {
	for i := range all {
		if !slices.Contains(out, all[i].File) {
			out = append(out, all[i].File)
		}
	}
	return out
}
