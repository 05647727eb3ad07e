// Package defects tests a suite of scenarios with boards that have known defects: which scenarios fail on them, and which
// defects no scenario catches. It takes verdicts, and neither flies nor prints.
package defects

import (
	"slices"

	"drystage/harness"
)

// Defect is a known mistake of a board, the accident that follows, and what a scenario has to do to show it.
type Defect struct{ Name, Accident, Hint string }

// Scenario is one scenario of the suite.
type Scenario struct {
	Name, File string
	Seed       uint64
}

// Cell is the answer of one scenario for one board. The zero value means that it wasn't flown.
type Cell struct {
	Flown   bool
	Answer  harness.Answer
	Finding harness.Finding // the deciding one; zero if there is none
}

// Matrix holds the answers of all scenarios for the reference board, which has no defect, and for those with a defect.
type Matrix struct {
	Scenarios []Scenario
	Defects   []Defect
	reference []Cell
	cells     [][]Cell // by defect, then by scenario
}

// New gives an empty matrix.
func New(scenarios []Scenario, defects []Defect) *Matrix {
	m := &Matrix{Scenarios: scenarios, Defects: defects, reference: make([]Cell, len(scenarios)), cells: make([][]Cell, len(defects))}
	for d := range m.cells {
		m.cells[d] = make([]Cell, len(scenarios))
	}
	return m
}

// SetReference sets a scenario's verdict on the board without a defect.
func (m *Matrix) SetReference(scenario int, v *harness.Verdict) { m.reference[scenario] = cell(v) }

// Set sets a scenario's verdict on the board with a defect.
func (m *Matrix) Set(defect, scenario int, v *harness.Verdict) {
	m.cells[defect][scenario] = cell(v)
}

func cell(v *harness.Verdict) Cell {
	f, _ := v.Deciding()
	return Cell{Flown: true, Answer: v.Answer, Finding: f}
}

// Reference is the answer of a scenario for the board without a defect.
func (m *Matrix) Reference(scenario int) Cell { return m.reference[scenario] }

// At is the answer of a scenario for the board with a defect.
func (m *Matrix) At(defect, scenario int) Cell { return m.cells[defect][scenario] }

// Valid says that a scenario passes on the reference board. One that doesn't proves nothing about defects.
func (m *Matrix) Valid(scenario int) bool { return m.reference[scenario].Answer == harness.Pass }

// Invalid gives the scenarios that don't pass on the reference board.
func (m *Matrix) Invalid() []int {
	return filter(len(m.Scenarios), func(s int) bool { return !m.Valid(s) })
}

// caught says that a valid scenario fails on a defect.
func (m *Matrix) caught(defect, scenario int) bool {
	return m.Valid(scenario) && m.cells[defect][scenario].Answer == harness.Fail
}

// CaughtBy gives the valid scenarios that fail on a defect.
func (m *Matrix) CaughtBy(defect int) []int {
	return filter(len(m.Scenarios), func(s int) bool { return m.caught(defect, s) })
}

// UnsureIn gives the valid scenarios that are unsure about a defect, or were not flown with it.
func (m *Matrix) UnsureIn(defect int) []int {
	return filter(len(m.Scenarios), func(s int) bool { return m.Valid(s) && m.cells[defect][s].Answer == harness.Unsure })
}

// Catches gives the defects that a scenario catches.
func (m *Matrix) Catches(scenario int) []int {
	return filter(len(m.Defects), func(d int) bool { return m.caught(d, scenario) })
}

// Alone gives the defects that only this scenario catches.
func (m *Matrix) Alone(scenario int) []int {
	return slices.DeleteFunc(m.Catches(scenario), func(d int) bool { return len(m.CaughtBy(d)) > 1 })
}

// Worst gives the scenario that a defect fails by the most: the smallest margin share, or else the first that fails. ok
// is false if none does.
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

// Answer judges the suite for one defect: pass if some scenario catches it, fail if none does, and unsure if that isn't
// known.
func (m *Matrix) Answer(defect int) harness.Answer {
	switch {
	case len(m.CaughtBy(defect)) > 0:
		return harness.Pass
	case len(m.UnsureIn(defect)) > 0, len(m.Invalid()) == len(m.Scenarios):
		return harness.Unsure
	}
	return harness.Fail
}

// WithAnswer gives the defects with an answer.
func (m *Matrix) WithAnswer(a harness.Answer) []int {
	return filter(len(m.Defects), func(d int) bool { return m.Answer(d) == a })
}

// Verdict is the answer of the whole: fail if no scenario catches a defect; else unsure if one is unsure, if a scenario is
// invalid, or if there was nothing to fly.
func (m *Matrix) Verdict() harness.Answer {
	switch {
	case len(m.WithAnswer(harness.Fail)) > 0:
		return harness.Fail
	case len(m.WithAnswer(harness.Unsure)) > 0, len(m.Invalid()) > 0, len(m.Defects) == 0, len(m.Scenarios) == 0:
		return harness.Unsure
	}
	return harness.Pass
}

// filter gives the numbers from 0 to n-1 that match.
func filter(n int, so func(int) bool) []int {
	var out []int
	for i := range n {
		if so(i) {
			out = append(out, i)
		}
	}
	return out
}
