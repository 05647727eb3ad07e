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
			fmt.Fprintf(t, "%s\t%d\t%d\t%d\t%d\t%d\t%.1f %%\n", name, s.All, s.Killed, s.Equal, s.Within, s.Left-s.Within, s.Percent())
		}
	}
	fmt.Fprintln(t, "file\tmutants\tkilled\tequal\tlive, with a reason\twithout\tscore")
	for _, f := range files(all) {
		row(f, func(r *Result) bool { return r.File == f })
	}
	fmt.Fprintln(t, "\t\t\t\t\t\t\nkind\tmutants\tkilled\tequal\tlive, with a reason\twithout\tscore")
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
	killers(w, all)
	return nil
}

func live(w io.Writer, all []Result, reasons []Reason) {
	for _, part := range []struct {
		title string
		want  func(r *Result, why *Reason) bool
	}{
		{"equal by argument, yet killed: the argument is wrong", func(r *Result, why *Reason) bool { return r.Killed() && why != nil && why.Equal }},
		{"live, without a reason", func(r *Result, why *Reason) bool { return !r.Killed() && why == nil }},
		{"live, within the demands", func(r *Result, why *Reason) bool { return !r.Killed() && why != nil && !why.Equal }},
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

// killers lists how many mutants each scenario was the first to kill, and each point of the contract.
func killers(w io.Writer, all []Result) {
	listKills(w, "first killed by a scenario", all, func(r *Result) string { return r.Scenario })
	listKills(w, "killed by a point of the contract, and by no scenario", all, func(r *Result) string { return r.Point })
}

func listKills(w io.Writer, title string, all []Result, by func(*Result) string) {
	var names []string
	kills := map[string]int{}
	for i := range all {
		if s := by(&all[i]); s != "" && all[i].Killed() {
			if kills[s] == 0 {
				names = append(names, s)
			}
			kills[s]++
		}
	}
	if len(names) == 0 {
		return
	}
	slices.SortStableFunc(names, func(a, b string) int { return kills[b] - kills[a] })
	fmt.Fprintf(w, "\n%s\n", title)
	for _, n := range names {
		fmt.Fprintf(w, "  %4d %s\n", kills[n], n)
	}
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
