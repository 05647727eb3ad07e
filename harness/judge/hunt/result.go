package hunt

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"drystage/harness"
	"drystage/harness/vary"
)

// Result is the result of a search.
type Result struct {
	Space     *Space
	Plan      *harness.Plan
	Flights   []Flight // of the search, in order
	Seeds     int
	Criterion int // of the worst flight: an index into Plan.Expect, or one more for the run itself
	Worst     int // flight
	Case      Case
	Edge      Edge            // of the shrunk case, when it is one value that makes it fail
	Extra     int             // flights that shrinking took, and finding the edge
	Verdict   harness.Verdict // of the shrunk case
	Command   string          // that hunts again
}

// WorstOf gives the criterion with the worst score, the first of equals, and its flight. only, counted from 1, restricts
// it to one criterion. Both are -1 if nothing was flown.
func WorstOf(flights []Flight, only int) (criterion, flight int) {
	criterion, flight = -1, -1
	if len(flights) == 0 {
		return criterion, flight
	}
	for d := range flights[0].Scores {
		i := Worst(flights, d)
		if (only == 0 || d == only-1) && (criterion < 0 || flights[i].Scores[d].Worse(flights[flight].Scores[criterion])) {
			criterion, flight = d, i
		}
	}
	return criterion, flight
}

// Answer is the answer of the whole search: fail if some flight failed, else unsure if one was unsure, else pass. All
// criteria count, also those that were not searched for.
func (f *Result) Answer() harness.Answer {
	criterion, flight := WorstOf(f.Flights, 0)
	if criterion < 0 {
		return harness.Unsure
	}
	return f.Flights[flight].Scores[criterion].Answer
}

// Finding is the finding of the shrunk case for its criterion.
func (f *Result) Finding() harness.Finding {
	if f.Criterion < len(f.Plan.Expect) && f.Criterion < len(f.Verdict.Findings) {
		return f.Verdict.Findings[f.Criterion]
	}
	for i := len(f.Plan.Expect); i < len(f.Verdict.Findings); i++ {
		if f.Verdict.Findings[i].Answer != harness.Pass {
			return f.Verdict.Findings[i]
		}
	}
	return harness.Finding{Text: "the run itself", Answer: harness.Pass}
}

// Needless names the parameters that keep the files' own values in the shrunk case, without those of faults that are left out.
func (f *Result) Needless() []string {
	kept := map[string]bool{}
	for _, x := range f.Case.Values {
		kept[x.Name] = true
	}
	var out []string
	for i := range f.Space.Vary {
		if name := f.Space.Vary[i].Name; !kept[name] && !vary.OfFaults(name, f.Case.Without) {
			out = append(out, name)
		}
	}
	return out
}

// File writes the shrunk case as a scenario file that is based on the searched one, whose path is relative to the new
// file. margin is the text of its margin. The file gives exactly the flight that was flown, to the last bit.
func (f *Result) File(like, margin string) string {
	x, base := f.Finding(), like[strings.LastIndexByte(like, '/')+1:]
	var b strings.Builder
	note := func(format string, a ...any) { fmt.Fprintf(&b, "# "+format+"\n", a...) }
	note("Written by a search through the ranges that %s declares: %d flights, %s,", base, len(f.Flights), f.seeds())
	note("and %d more to shrink the worst that it met. What it did not meet may be worse.", f.Extra)
	note("  %s", f.Command)
	note("%s: %s", x.Answer, x.Text)
	if margin != "" {
		note("  margin %s", margin)
	}
	note("The flight as %s has it, with seed %d, says %s.", base, f.Space.Seed, f.Flights[0].Scores[f.Criterion].Answer)
	if needless := f.Needless(); len(needless) > 0 {
		line := "Tried, and not needed for this:"
		for i, name := range needless {
			if len(line)+len(name) > 100 {
				note("%s", line)
				line = " "
			}
			line += " " + name + [...]string{",", "."}[(i+1)/len(needless)]
		}
		note("%s", line)
	}
	if f.Case.Seed != f.Space.Seed {
		note("Seed %d is part of it: with %d it does not come out so.", f.Case.Seed, f.Space.Seed)
	}
	if f.Edge.Found {
		note("From %s as in %s on, the answer changes between %s and %s.", vary.Brief(f.Edge.Own), base, vary.Brief(f.Edge.Before), vary.Brief(f.Edge.After))
	}
	b.WriteString("drystage: scenario\n")
	fmt.Fprintf(&b, "like: %s\ntitle: %s\n", yaml(like), strconv.QuoteToASCII(short("Worst case of "+f.Plan.Name+": "+x.Text, 120)))
	fmt.Fprintf(&b, "seed: %d\n", f.Case.Seed)
	if gone := append(slices.Clone(f.Plan.Without), f.Case.Without...); len(gone) > 0 {
		fmt.Fprintf(&b, "without: [%s] # faults that are not needed for this\n", strings.Join(gone, ", "))
	}
	set := slices.DeleteFunc(slices.Clone(f.Plan.Set), func(x harness.Value) bool { return vary.OfFaults(x.Name, f.Case.Without) })
	if len(set)+len(f.Case.Values) > 0 {
		b.WriteString("set:\n")
	}
	for _, v := range set {
		fmt.Fprintf(&b, "  - {of: %s, is: %s} # as in %s\n", v.Name, vary.Text(v), base)
	}
	for _, v := range f.Case.Values {
		i := f.Space.find(v.Name)
		low, high := f.Space.Vary[i].Likely()
		text := func(x float64) string { return vary.Brief(harness.Value{Value: x, Unit: v.Unit}) }
		fmt.Fprintf(&b, "  - {of: %s, is: %s} # %s has %s; searched from %s to %s\n",
			v.Name, vary.Text(v), base, text(f.Space.Written[i].Value), text(low), text(high))
	}
	return b.String()
}

// seeds names the seeds that were tried.
func (f *Result) seeds() string {
	if f.Seeds == 1 {
		return fmt.Sprintf("seed %d", f.Space.Seed)
	}
	return fmt.Sprintf("seeds %d to %d", f.Space.Seed, f.Space.Seed+uint64(f.Seeds-1))
}

// short cuts a text to n bytes, between characters.
func short(s string, n int) string {
	for i := range s {
		if i > n-4 {
			return s[:i] + "..."
		}
	}
	return s
}

// yaml writes a path as a YAML scalar, in quotes if necessary.
func yaml(s string) string {
	for _, c := range s {
		if !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || strings.ContainsRune("/._-", c)) {
			return strconv.Quote(s)
		}
	}
	return s
}
