package hunt

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/harness/vary"
)

// threeRanges is a space of a speed, an angle and a factor.
func threeRanges() *Space {
	return &Space{
		Seed: 7,
		Vary: []harness.Vary{
			{Name: "wind.speed", Unit: "m/s", Low: 1, High: 12},
			{Name: "rail.tilt", Unit: "rad", Law: harness.Normal, Mean: 0.05, Sigma: 0.02, Low: 0, High: 1},
			{Name: "booster.drag", Low: 0.9, High: 1.1},
		},
		Written: []harness.Value{{Name: "wind.speed", Value: 3, Unit: "m/s"}, {Name: "rail.tilt", Value: 0, Unit: "rad"}, {Name: "booster.drag", Value: 1}},
	}
}

// all is a case with a value for everything.
func all(seed uint64, speed, tilt, drag float64) Case {
	return Case{Seed: seed, Values: []harness.Value{{Name: "wind.speed", Value: speed, Unit: "m/s"}, {Name: "rail.tilt", Value: tilt, Unit: "rad"}, {Name: "booster.drag", Value: drag}}}
}

// value is what a case flies with.
func (s *Space) value(c Case, i int) float64 {
	for _, v := range c.Values {
		if v.Name == s.Vary[i].Name {
			return v.Value
		}
	}
	return s.Written[i].Value
}

func text(c Case) string {
	return fmt.Sprintf("%d %s", c.Seed, vary.Texts(c.Values))
}

func TestShrink(t *testing.T) {
	s := threeRanges()
	degrees := math.Pi / 180
	for _, c := range []struct {
		reason string
		from   Case
		holds  func(speed, tilt, drag float64, seed uint64) bool
		want   string
	}{
		{"one thing is to blame, rounded to one digit", all(9, 9.3412, 3.3*degrees, 1.0123), func(v, _, _ float64, _ uint64) bool { return v > 8 },
			"7 [{of: wind.speed, is: 9 m/s}]"},
		{"two digits where one is too coarse, and the one beside it too", all(9, 8.34, 3.3*degrees, 1.0123), func(v, _, _ float64, _ uint64) bool { return v > 8.3 && v < 8.5 },
			"7 [{of: wind.speed, is: 8.4 m/s}]"},
		{"the nearest round number does not do, the one above it does", all(9, 8.34, 0, 1), func(v, _, _ float64, _ uint64) bool { return v > 8.2 },
			"7 [{of: wind.speed, is: 9 m/s}]"},
		{"two things together, one in its everyday unit", all(9, 9.3412, 4.7*degrees, 1.0123), func(v, tilt, _ float64, _ uint64) bool { return v > 5 && tilt > 4.2*degrees },
			"7 [{of: wind.speed, is: 9 m/s}, {of: rail.tilt, is: 5 deg}]"},
		{"the seed is to blame", all(9, 9.3412, 4.7*degrees, 1.0123), func(_, _, _ float64, seed uint64) bool { return seed == 9 }, "9 []"},
		{"the seed is to blame until a value is rounded", all(9, 9.3412, 0, 1), func(v, _, _ float64, seed uint64) bool { return v > 8 && (seed == 9 || v < 9.1) },
			"7 [{of: wind.speed, is: 9 m/s}]"},
		{"the files' own flight is no better", all(9, 9.3412, 4.7*degrees, 1.0123), func(_, _, _ float64, _ uint64) bool { return true }, "7 []"},
		{"no other number does", all(9, 9.3412, 4.7*degrees, 1.0123), func(v, _, _ float64, _ uint64) bool { return v == 9.3412 },
			"7 [{of: wind.speed, is: 9.3412 m/s}]"},
		{"round numbers outside of the range are left alone", all(7, 3, 0, 1.09), func(_, _, drag float64, _ uint64) bool { return drag > 1.05 },
			"7 [{of: booster.drag, is: 1.1}]"},
		{"either of two would do: the later one is left", all(7, 11, 4*degrees, 1), func(v, tilt, _ float64, _ uint64) bool { return v > 10 || tilt > 3*degrees },
			"7 [{of: rail.tilt, is: 4 deg}]"},
	} {
		flown := map[string]bool{}
		got, err := s.Shrink(c.from, func(x Case) (bool, error) {
			flown[text(x)] = true
			return c.holds(s.value(x, 0), s.value(x, 1), s.value(x, 2), x.Seed), nil
		})
		require.NoError(t, err)
		assert.Equal(t, c.want, text(got), c.reason)
		assert.True(t, flown[text(got)] || text(got) == text(c.from), "%s: what it gives was flown", c.reason)
		assert.LessOrEqual(t, len(flown), 3*4+2*3*3*mostDigits, c.reason)
	}
}

// Whatever counts, the shrunk case holds, none of its values can go, and all lie inside their ranges.
func TestShrinkLaws(t *testing.T) {
	s := threeRanges()
	rapid.Check(t, func(t *rapid.T) {
		from := all(9, rapid.Float64Range(1, 12).Draw(t, "speed"), rapid.Float64Range(0, 0.11).Draw(t, "tilt"), rapid.Float64Range(0.9, 1.1).Draw(t, "drag"))
		a, b, c := rapid.Float64Range(-1, 1).Draw(t, "a"), rapid.Float64Range(-1, 1).Draw(t, "b"), rapid.Float64Range(-1, 1).Draw(t, "c")
		score := func(x Case) float64 {
			return a*s.value(x, 0)/11 + b*s.value(x, 1)*10 + c*s.value(x, 2)*5
		}
		limit := score(from)
		holds := func(x Case) (bool, error) { return score(x) >= limit-0.05, nil }
		got, err := s.Shrink(from, holds)
		require.NoError(t, err)
		ok, _ := holds(got)
		require.True(t, ok)
		for _, v := range got.Values {
			low, high := s.Vary[s.find(v.Name)].Likely()
			require.True(t, v.Value >= low && v.Value <= high)
		}
		require.LessOrEqual(t, len(got.Values), 3)
		if own, _ := holds(Case{Seed: 7}); own {
			require.Empty(t, got.Values, "the files' own flight would have done")
		}
	})
}

// The edge is where the answer changes, from the files' own value on.
func TestEdge(t *testing.T) {
	s := threeRanges()
	for _, c := range []struct {
		reason string
		speed  float64
		holds  func(speed float64) bool
		edge   float64
	}{
		{"upwards", 9, func(v float64) bool { return v > 5.3 }, 5.3},
		{"downwards", 1, func(v float64) bool { return v < 2.25 }, 2.25},
		{"at the value itself", 9, func(v float64) bool { return v >= 9 }, 9},
		{"at the files' own value", 9, func(v float64) bool { return v > 3 }, 3},
	} {
		flown := 0
		e, err := s.Edge(Case{Seed: 7, Values: []harness.Value{{Name: "wind.speed", Value: c.speed, Unit: "m/s"}}}, func(x Case) (bool, error) {
			flown++
			return c.holds(s.value(x, 0)), nil
		})
		require.NoError(t, err)
		require.True(t, e.Found)
		assert.Equal(t, s.Written[0], e.Own)
		assert.Equal(t, []bool{false, true}, []bool{c.holds(e.Before.Value), c.holds(e.After.Value)}, c.reason)
		assert.InDelta(t, c.edge, (e.Before.Value+e.After.Value)/2, math.Abs(c.speed-3)/256, c.reason)
		assert.Equal(t, halvings, flown)
	}
	for _, c := range []Case{{Seed: 9}, all(7, 9, 0.1, 1)} {
		e, err := s.Edge(c, func(Case) (bool, error) { panic("nothing to fly") })
		require.NoError(t, err)
		require.False(t, e.Found)
	}
	broken := errors.New("no such board")
	_, err := s.Edge(Case{Seed: 7, Values: all(7, 9, 0, 1).Values[:1]}, func(Case) (bool, error) { return false, broken })
	require.ErrorIs(t, err, broken)
}

func TestShrinkEndsWithAnError(t *testing.T) {
	broken := errors.New("no such board")
	for n := range 8 {
		calls := 0
		_, err := threeRanges().Shrink(all(9, 9.3412, 0.08, 1.0123), func(Case) (bool, error) {
			if calls++; calls > n {
				return false, broken
			}
			return calls%3 == 0, nil
		})
		assert.ErrorIs(t, err, broken, "at flight %d", n+1)
	}
}

func TestAim(t *testing.T) {
	pass := func(share float64) Score { return Score{harness.Pass, share} }
	for _, c := range []struct {
		reason     string
		worst, own Score
		flown      Score
		want       bool
	}{
		{"a fail stays a fail, by however much", Score{harness.Fail, -2}, pass(1), Score{harness.Fail, -0.01}, true},
		{"unsure is no fail", Score{harness.Fail, -2}, pass(1), Score{harness.Unsure, 0}, false},
		{"a fail is not unsure", Score{harness.Unsure, 0}, pass(1), Score{harness.Fail, -1}, false},
		{"a pass may give up a tenth of what it fell", pass(0.2), pass(1), pass(0.27), true},
		{"but no more", pass(0.2), pass(1), pass(0.29), false},
		{"worse is fine", pass(0.2), pass(1), pass(0.1), true},
		{"nothing fell, nothing to give up", pass(0.2), pass(0.2), pass(0.21), false},
		{"an own flight without a margin tells nothing of how far it fell", pass(0.2), pass(math.Inf(1)), pass(0.2), true},
	} {
		assert.Equal(t, c.want, GoalFor(0, c.worst, c.own).Holds([]Score{c.flown}), c.reason)
	}
}

// The ends of a range are met exactly, what lies between has six digits, and the files' own place is the files' own flight.
func TestCase(t *testing.T) {
	s := threeRanges()
	assert.Equal(t, Case{Seed: 8}, s.Case(Point{s.Own(), 1}))
	assert.InDeltaSlice(t, []float64{2.0 / 11, 0, 0.5}, s.Own(), 1e-12, "0 is within three standard deviations of 0.05")
	for _, c := range []struct {
		at   float64
		want []float64
	}{{0, []float64{1, 0, 0.9}}, {1, []float64{12, 0.05 + 3*0.02, 1.1}}} {
		got := s.Case(Point{[]float64{c.at, c.at, c.at}, 0})
		for i, v := range got.Values {
			assert.Equal(t, c.want[i], v.Value, v.Name)
			assert.Equal(t, s.Vary[i].Unit, v.Unit)
		}
	}
}

func TestCaseBetween(t *testing.T) {
	s := threeRanges()
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.SliceOfN(rapid.Float64Range(0.001, 1), 3, 3).Draw(t, "at")
		for i, v := range s.Case(Point{at, 0}).Values {
			low, high := s.Vary[i].Likely()
			require.True(t, v.Value >= low && v.Value <= high)
			require.InDelta(t, low+at[i]*(high-low), v.Value, 1e-5*high)
			if v.Value != low && v.Value != high {
				number, _, _ := strings.Cut(vary.Text(v), " ")
				digits := strings.TrimLeft(strings.ReplaceAll(number, ".", ""), "0")
				require.LessOrEqual(t, len(digits), 6, number)
			}
		}
	})
}

func TestFile(t *testing.T) {
	s := threeRanges()
	plan := &harness.Plan{Name: "gusty", File: "suite/gusty.yaml", Set: []harness.Value{{Name: "weather.pressure", Value: 96000, Unit: "Pa"}},
		Expect: []harness.Expectation{{Text: "sustainer.drogue fires"}, {Text: "sustainer: tilt"}}}
	f := &Result{
		Space: s, Plan: plan, Seeds: 3, Criterion: 1, Worst: 1, Extra: 12, Command: "drystage hunt suite/gusty.yaml",
		Flights: []Flight{{Scores: []Score{{harness.Pass, 1}, {harness.Pass, 1}, {harness.Pass, 1}}}, {Scores: []Score{{harness.Pass, 1}, {harness.Fail, -0.5}, {harness.Pass, 1}}}},
		Case:    Case{Seed: 9, Values: []harness.Value{{Name: "rail.tilt", Value: 5 * math.Pi / 180, Unit: "rad"}}},
		Edge:    Edge{true, s.Written[1], harness.Value{Value: 4.1 * math.Pi / 180, Unit: "rad"}, harness.Value{Value: 4.2 * math.Pi / 180, Unit: "rad"}},
		Verdict: harness.Verdict{Findings: []harness.Finding{{Text: "sustainer.drogue fires", Answer: harness.Pass}, {Text: "sustainer: tilt", Answer: harness.Fail}}},
	}
	assert.Equal(t, `# Written by a search through the ranges that gusty.yaml declares: 2 flights, seeds 7 to 9,
# and 12 more to shrink the worst that it met. What it did not meet may be worse.
#   drystage hunt suite/gusty.yaml
# fail: sustainer: tilt
#   margin -10.000 deg, -50 %
# The flight as gusty.yaml has it, with seed 7, says pass.
# Tried, and not needed for this: wind.speed, booster.drag.
# Seed 9 is part of it: with 7 it does not come out so.
# From 0 deg as in gusty.yaml on, the answer changes between 4.1 deg and 4.2 deg.
drystage: scenario
like: "../a day/gusty.yaml"
title: "Worst case of gusty: sustainer: tilt"
seed: 9
set:
  - {of: weather.pressure, is: 96000 Pa} # as in gusty.yaml
  - {of: rail.tilt, is: 5 deg} # gusty.yaml has 0 deg; searched from 0 deg to 6.303 deg
`, f.File("../a day/gusty.yaml", "-10.000 deg, -50 %"))
	assert.Equal(t, harness.Fail, f.Answer())
	f.Case, f.Seeds, plan.Set = Case{Seed: 7}, 1, nil
	for i := range 14 {
		s.Vary = append(s.Vary, harness.Vary{Name: fmt.Sprintf("stage%d.igniter_delay", i)})
	}
	plan.Name = strings.Repeat("long ", 40)
	got := f.File("gusty.yaml", "")
	assert.NotContains(t, got, "set:")
	assert.NotContains(t, got, "margin")
	assert.NotContains(t, got, "part of it")
	assert.Contains(t, got, "2 flights, seed 7,")
	for line := range strings.Lines(got) {
		assert.LessOrEqual(t, len(line), 130, line)
	}
}

// What a whole hunt says: the worst demand, and never a pass when a run was in doubt.
func TestChiefAndAnswer(t *testing.T) {
	pass, fail, doubt := Score{harness.Pass, 0.5}, Score{harness.Fail, -1}, Score{harness.Unsure, 0}
	good := Score{harness.Pass, math.Inf(1)}
	for _, c := range []struct {
		reason         string
		flights        [][]Score
		only           int
		demand, flight int
		want           harness.Answer
	}{
		{"the worst of all", [][]Score{{pass, pass, good}, {pass, fail, good}}, 0, 1, 1, harness.Fail},
		{"the first of equals", [][]Score{{pass, pass, good}, {pass, pass, good}}, 0, 0, 0, harness.Pass},
		{"only what was asked for, but what failed beside it counts", [][]Score{{pass, fail, good}, {{harness.Pass, 0.2}, pass, good}}, 1, 0, 1, harness.Fail},
		{"a run in doubt is the worst when all else passes", [][]Score{{pass, pass, good}, {pass, pass, doubt}}, 0, 2, 1, harness.Unsure},
		{"and leaves what was asked for unsure", [][]Score{{pass, pass, good}, {pass, pass, doubt}}, 1, 0, 0, harness.Unsure},
	} {
		f := &Result{Plan: &harness.Plan{Expect: make([]harness.Expectation, 2)}}
		for _, m := range c.flights {
			f.Flights = append(f.Flights, Flight{Scores: m})
		}
		f.Criterion, f.Worst = WorstOf(f.Flights, c.only)
		assert.Equal(t, []int{c.demand, c.flight}, []int{f.Criterion, f.Worst}, c.reason)
		assert.Equal(t, c.want, f.Answer(), c.reason)
	}
	assert.Equal(t, harness.Unsure, (&Result{}).Answer(), "nothing flown proves nothing")
	d, i := WorstOf(nil, 0)
	assert.Equal(t, []int{-1, -1}, []int{d, i})
}

// Of many faults those stay that the failure needs, whatever they are, and few flights are flown for it.
func TestFaultsThatAreNotNeededAreLeftOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := threeRanges()
		for i := range rapid.IntRange(1, 20).Draw(t, "faults") {
			s.Faults = append(s.Faults, fmt.Sprintf("spike.%d", i+1))
		}
		s.Vary = append(s.Vary, harness.Vary{Name: "spike.1.by", Low: 0, High: 9})
		s.Written = append(s.Written, harness.Value{Name: "spike.1.by", Value: 1})
		needed := rapid.SliceOfNDistinct(rapid.SampledFrom(s.Faults), 0, min(2, len(s.Faults)), rapid.ID[string]).Draw(t, "needed")
		always := rapid.Bool().Draw(t, "whatever the values are")
		flown := 0
		from := all(9, 9.34, 0.05, 1.01)
		from.Values = append(from.Values, harness.Value{Name: "spike.1.by", Value: 5})
		got, err := s.Shrink(from, func(c Case) (bool, error) {
			flown++
			gone := slices.ContainsFunc(needed, func(name string) bool { return slices.Contains(c.Without, name) })
			return !gone && (always || s.value(c, 0) > 8), nil
		})
		require.NoError(t, err)
		left := slices.DeleteFunc(slices.Clone(s.Faults), func(name string) bool { return slices.Contains(got.Without, name) })
		require.ElementsMatch(t, needed, left)
		want := "7 []"
		if !always {
			want = "7 [{of: wind.speed, is: 9 m/s}]"
		}
		require.Equal(t, want, text(got))
		require.LessOrEqual(t, flown, 80)
	})
}
