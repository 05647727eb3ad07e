package hazards

import "slices"

// Matrix holds which hazards flights of wrong boards have shown, in scenarios that fail for them.
type Matrix struct {
	Scenarios []string
	honest    []Set // what the board without a mistake shows there
	proofs    [hazardCount][]Proof
}

// Proof says that a wrong board shows a hazard in a scenario, which fails for it.
type Proof struct{ Scenario, Board string }

// New gives an empty matrix for scenarios.
func New(scenarios []string) *Matrix {
	return &Matrix{Scenarios: scenarios, honest: make([]Set, len(scenarios))}
}

// SetHonest sets what the board without a mistake shows in a scenario, such as a hard landing that a fault brings about.
func (m *Matrix) SetHonest(scenario int, s Set) { m.honest[scenario] = s }

// Add adds what a wrong board shows in a scenario that fails for it, and says whether that proves something: the sound
// board doesn't show it there.
func (m *Matrix) Add(scenario int, board string, s Set) (proves bool) {
	for h := range hazardCount {
		if s.Has(h) && !m.honest[scenario].Has(h) {
			m.proofs[h] = append(m.proofs[h], Proof{m.Scenarios[scenario], board})
			proves = true
		}
	}
	return proves
}

// Tries gives the scenarios that fail for a board that shows a hazard, in the suite's order.
func (m *Matrix) Tries(h Hazard) []string {
	return slices.DeleteFunc(slices.Clone(m.Scenarios), func(s string) bool {
		return !slices.ContainsFunc(m.proofs[h], func(p Proof) bool { return p.Scenario == s })
	})
}

// Boards gives the boards that show a hazard, each with one scenario that does.
func (m *Matrix) Boards(h Hazard) (all []Proof) {
	for _, p := range m.proofs[h] {
		if !slices.ContainsFunc(all, func(x Proof) bool { return x.Board == p.Board }) {
			all = append(all, p)
		}
	}
	return all
}
