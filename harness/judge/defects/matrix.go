// Package defects tells whether a suite of scenarios is any good: which of them fail on boards with known
// defects, and which defects none of them sees. It flies nothing and prints nothing; verdicts come in, and what
// they say together is read off.
package defects

import (
	"slices"

	"drystage/harness"
)

// Defect is a known mistake of a board, the accident it leads to, and what a scenario has to do to show it.
type Defect struct{ Name, Accident, Hint string }

// Scenario is one scenario of the suite.
type Scenario struct {
	Name, File string
	Seed       uint64
}

// Cell is what one scenario said of one board. The zero value is a flight that never happened.
type Cell struct {
	Flown   bool
	Answer  harness.Answer
	Finding harness.Finding // that the answer hangs on; zero when there is none
}

// Matrix holds the answers of all scenarios on the honest board and on those with a defect.
type Matrix struct {
	Scenarios []Scenario
	Defects   []Defect
	reference []Cell
	cells     [][]Cell // by defect, then by scenario
}

// New gives a matrix in which nothing was flown yet.
func New(scenarios []Scenario, defects []Defect) *Matrix {
	m := &Matrix{Scenarios: scenarios, Defects: defects, reference: make([]Cell, len(scenarios)), cells: make([][]Cell, len(defects))}
	for d := range m.cells {
		m.cells[d] = make([]Cell, len(scenarios))
	}
	return m
}

// SetReference keeps a scenario's verdict on the board without a defect.
func (m *Matrix) SetReference(scenario int, v *harness.Verdict) { m.reference[scenario] = cell(v) }

// Set keeps a scenario's verdict on the board with a defect.
func (m *Matrix) Set(defect, scenario int, v *harness.Verdict) {
	m.cells[defect][scenario] = cell(v)
}

func cell(v *harness.Verdict) Cell {
	f, _ := v.Deciding()
	return Cell{Flown: true, Answer: v.Answer, Finding: f}
}

// Reference is what a scenario said of the board without a defect.
func (m *Matrix) Reference(scenario int) Cell { return m.reference[scenario] }

// At is what a scenario said of the board with a defect.
func (m *Matrix) At(defect, scenario int) Cell { return m.cells[defect][scenario] }

// Valid says that a scenario passes on the honest board. One that doesn't proves nothing about defects.
func (m *Matrix) Valid(scenario int) bool { return m.reference[scenario].Answer == harness.Pass }

// Invalid gives the scenarios that prove nothing about defects.
func (m *Matrix) Invalid() []int {
	return filter(len(m.Scenarios), func(s int) bool { return !m.Valid(s) })
}

// caught says that a sound scenario fails on a defect.
func (m *Matrix) caught(defect, scenario int) bool {
	return m.Valid(scenario) && m.cells[defect][scenario].Answer == harness.Fail
}

// CaughtBy gives the sound scenarios that fail on a defect.
func (m *Matrix) CaughtBy(defect int) []int {
	return filter(len(m.Scenarios), func(s int) bool { return m.caught(defect, s) })
}

// UnsureIn gives the sound scenarios that can't tell whether a defect is there, or were not flown on it.
func (m *Matrix) UnsureIn(defect int) []int {
	return filter(len(m.Scenarios), func(s int) bool { return m.Valid(s) && m.cells[defect][s].Answer == harness.Unsure })
}

// Catches gives the defects that a scenario catches.
func (m *Matrix) Catches(scenario int) []int {
	return filter(len(m.Defects), func(d int) bool { return m.caught(d, scenario) })
}

// Alone gives the defects that a scenario catches and no other does.
func (m *Matrix) Alone(scenario int) []int {
	return slices.DeleteFunc(m.Catches(scenario), func(d int) bool { return len(m.CaughtBy(d)) > 1 })
}

// Worst gives the scenario that a defect fails by the most: the smallest share of a margin, or else the first
// that fails. ok is false when none does.
func (m *Matrix) Worst(defect int) (scenario int, ok bool) {
	by := m.CaughtBy(defect)
	if len(by) == 0 {
		return 0, false
	}
	scenario = by[0]
	for _, s := range by[1:] {
		f, best := &m.cells[defect][s].Finding, &m.cells[defect][scenario].Finding
		if f.HasMargin && (!best.HasMargin || f.Share < best.Share) {
			scenario = s
		}
	}
	return scenario, true
}

// Answer says what the suite makes of a defect: pass when some scenario catches it, fail when it slips through
// all of them, and unsure when that can't be told.
func (m *Matrix) Answer(defect int) harness.Answer {
	switch {
	case len(m.CaughtBy(defect)) > 0:
		return harness.Pass
	case len(m.UnsureIn(defect)) > 0, len(m.Invalid()) == len(m.Scenarios):
		return harness.Unsure
	}
	return harness.Fail
}

// WithAnswer gives the defects that the suite makes the same of.
func (m *Matrix) WithAnswer(a harness.Answer) []int {
	return filter(len(m.Defects), func(d int) bool { return m.Answer(d) == a })
}

// Verdict is the answer of the whole: fail when a defect slips through; else unsure when one can't be told, when
// a scenario proves nothing, or when there was nothing to fly.
func (m *Matrix) Verdict() harness.Answer {
	switch {
	case len(m.WithAnswer(harness.Fail)) > 0:
		return harness.Fail
	case len(m.WithAnswer(harness.Unsure)) > 0, len(m.Invalid()) > 0, len(m.Defects) == 0, len(m.Scenarios) == 0:
		return harness.Unsure
	}
	return harness.Pass
}

// filter gives those of the first n numbers that are so.
func filter(n int, so func(int) bool) []int {
	var out []int
	for i := range n {
		if so(i) {
			out = append(out, i)
		}
	}
	return out
}
