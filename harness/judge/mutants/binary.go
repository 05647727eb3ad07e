package mutants

import (
	"fmt"
	"regexp"
	"slices"

	"drystage/harness"
	"drystage/harness/judge/codecoverage"
	"drystage/sim/noise"
)

// Flip is a mutant of a firmware's binary: a conditional branch whose condition is turned around in the flash.
type Flip struct {
	codecoverage.Branch
	Outcome  Outcome
	Scenario string          // that killed it
	Finding  harness.Finding // of that scenario: the first that fails, and passed without the mutant
	Flights  int             // until then
}

// String gives the place in the source, if that is known, and that in the flash.
func (f *Flip) String() string {
	where := fmt.Sprintf("branch at 0x%x", f.Address)
	if len(f.Functions) > 0 {
		where = f.Functions[0] + ", " + where
	}
	if f.Place.Line > 0 {
		where = fmt.Sprintf("%s:%d %s", f.Place.Base(), f.Place.Line, where)
	}
	return where
}

// Binary is a campaign: each flip is flown in the scenarios that execute its branch, until one fails.
type Binary struct {
	Flips     []Flip
	Of        int // branches, out of which the flips were drawn
	scenarios []reference
}

// reference is a scenario, flown without a mutant.
type reference struct {
	name     string
	verdict  harness.Verdict
	executed []bool // by flip
	kills    int
}

// Try is a flight that comes next: a flip in a scenario.
type Try struct{ Flip, Scenario int }

// NewBinary draws n of the branches of functions that a pattern names (codecoverage.Branch.In), by a seed; 0: all.
func NewBinary(p *codecoverage.Program, pattern *regexp.Regexp, n int, seed uint64) (*Binary, error) {
	b := &Binary{}
	for _, x := range p.Branches {
		if x.Flips && x.In(pattern) {
			b.Flips = append(b.Flips, Flip{Branch: x, Outcome: Unreached})
		}
	}
	if b.Of = len(b.Flips); b.Of == 0 {
		return nil, fmt.Errorf("found no conditional branch in functions that match %q; wanted the name of a function, or FILE:NAME", pattern)
	}
	if n > 0 && n < b.Of {
		b.Flips = Sample(b.Flips, n, noise.New(seed, "flips"))
	}
	return b, nil
}

// Sample draws n of all, and keeps their order.
func Sample[T any](all []T, n int, draw *noise.Stream) (out []T) {
	at := make([]int, len(all))
	for i := range at {
		at[i] = i
	}
	for i := range n {
		k := i + int(draw.Uniform()*float64(len(at)-i))
		at[i], at[k] = at[k], at[i]
	}
	at = at[:n]
	slices.Sort(at)
	for _, i := range at {
		out = append(out, all[i])
	}
	return out
}

// AddScenario adds a scenario with what was counted and judged without a mutant.
func (b *Binary) AddScenario(name string, c *codecoverage.Counts, v harness.Verdict) {
	r := reference{name: name, verdict: v, executed: make([]bool, len(b.Flips))}
	for i := range b.Flips {
		fell, jumped := c.Ways(&b.Flips[i].Branch)
		r.executed[i] = fell+jumped > 0
	}
	b.scenarios = append(b.scenarios, r)
}

// Next gives the next flight of each flip that lives, none at the end: in the scenario that executes its branch, was not
// flown with it, and has killed most others so far. tried is what was flown.
func (b *Binary) Next(tried map[Try]bool) (next []Try) {
	for i := range b.Flips {
		best := -1
		for s := range b.scenarios {
			if b.scenarios[s].executed[i] && !tried[Try{i, s}] && (best < 0 || b.scenarios[s].kills > b.scenarios[best].kills) {
				best = s
			}
		}
		if best >= 0 && !b.Flips[i].Killed() {
			next = append(next, Try{i, best})
		}
	}
	return next
}

// Killed says that a scenario has found the flip.
func (f *Flip) Killed() bool { return f.Outcome == Killed }

// Fails gives the first finding of a verdict of a scenario that fails, and passed without a mutant.
func (b *Binary) Fails(scenario int, v *harness.Verdict) (harness.Finding, bool) {
	was := b.scenarios[scenario].verdict.Findings
	for i, f := range v.Findings {
		if i < len(was) && f.Answer == harness.Fail && was[i].Answer == harness.Pass {
			return f, true
		}
	}
	return harness.Finding{}, false
}

// Judge takes the verdict of a flight.
func (b *Binary) Judge(t Try, v *harness.Verdict) {
	x, s := &b.Flips[t.Flip], &b.scenarios[t.Scenario]
	x.Flights++
	if f, fails := b.Fails(t.Scenario, v); fails {
		x.Outcome, x.Scenario, x.Finding = Killed, s.name, f
		s.kills++
		return
	}
	if x.Outcome == Unreached {
		x.Outcome = Survived
	}
}

// Score counts the flips; no equal ones are known of a binary.
func (b *Binary) Score() (s Score) {
	for i := range b.Flips {
		s.All++
		if b.Flips[i].Killed() {
			s.Killed++
		} else {
			s.Left++
		}
	}
	return s
}
