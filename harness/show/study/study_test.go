package study

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/defects"
	"drystage/harness/judge/dispersion"
	"drystage/harness/judge/hunt"
	"drystage/harness/show/report"
	"drystage/sim"
)

const evil = `"><script>alert(1)</script>`

func plan() *harness.Plan {
	p := &harness.Plan{Name: evil, Title: evil, File: "s.yaml", Expect: []harness.Expectation{{Text: evil}}, Vary: []harness.Vary{{Name: "wind.speed", Unit: "m/s", Low: 0, High: 10}, {Name: evil, Unit: "m", Low: 1, High: 2}}}
	p.Setup.Seed = 5
	p.Setup.Vehicle.Stages = []sim.Stage{{Name: evil}, {Name: "booster"}}
	return p
}

// swept is a sweep of n flights whose margin falls with the wind; the last tenth fails. Booster and sustainer come down apart.
func swept(n int) *dispersion.Sheet {
	s := dispersion.NewSheet(plan())
	for i := range n {
		x := float64(i) / float64(n)
		flown := s.Plan
		flown.Set = []harness.Value{{Name: "wind.speed", Value: 10 * x, Unit: "m/s"}, {Name: evil, Value: 1 + math.Mod(7*x, 1), Unit: "m"}}
		v := harness.Verdict{Answer: harness.Pass, Findings: []harness.Finding{{Answer: harness.Pass, HasMargin: true, Margin: 9 - 10*x, Share: 0.9 - x, Unit: "m"}}}
		if x >= 0.9 {
			v.Answer, v.Findings[0].Answer = harness.Fail, harness.Fail
		}
		s.Add(i+1, &flown, &v)
		s.Flights[i].Landed = []dispersion.Place{{East: 100 * x, North: 30 * math.Sin(9*x), OK: true}, {East: -50 * x, North: 5 * math.Cos(9*x), OK: i > 2}}
	}
	return s
}

// A sweep's page has all that it promises: rate, margins, drivers, both ellipses of both bodies, and for each flight a dot
// and a line; what is hostile stays text.
func TestSweep(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Sweep(&b, []*dispersion.Sheet{swept(50)}, report.Options{}))
	text := b.String()
	assert.Equal(t, 1, strings.Count(text, "<script"), "the page's own")
	assert.NotContains(t, text, "NaN")
	assert.Contains(t, text, "90.0 %")
	assert.Contains(t, text, `class="bin bad"`)
	assert.Contains(t, text, `class="driver"`)
	assert.Contains(t, text, "wind.speed")
	assert.Equal(t, 2*2, strings.Count(text, `class="ellipse most"`), "two bodies in two widths")
	assert.Equal(t, 2*2, strings.Count(text, `<path class="ellipse"`))
	assert.Equal(t, 2*(50+47), strings.Count(text, `<circle class="dot`), "three of the booster were not down")
	assert.Contains(t, text, "3 of the flights ended before it was down")
	assert.Equal(t, 2*(5+5), strings.Count(text, `class="dot fail"`))
	for i := range 50 {
		assert.Contains(t, text, fmt.Sprintf("<code>drystage sweep s.yaml --seed 5 --only %d</code>", i+1))
	}
	assert.Less(t, strings.Index(text, "--only 50</code>"), strings.Index(text, "--only 1</code>"), "the worst first")
	assert.ErrorIs(t, Sweep(&b, nil, report.Options{}), report.ErrEmpty)
}

// What failed stands above what passed, whatever the order in the file.
func TestSweepTellsTheWorstFirst(t *testing.T) {
	s := dispersion.NewSheet(&harness.Plan{Name: "s", File: "s.yaml", Expect: []harness.Expectation{{Text: "first, passes"}, {Text: "second, fails"}, {Text: "third, is unsure"}}})
	s.Add(1, &harness.Plan{}, &harness.Verdict{Answer: harness.Fail, Findings: []harness.Finding{{Answer: harness.Pass}, {Answer: harness.Fail}, {Answer: harness.Unsure}}})
	var b bytes.Buffer
	require.NoError(t, Sweep(&b, []*dispersion.Sheet{s}, report.Options{}))
	text := b.String()
	assert.Less(t, strings.Index(text, "second, fails"), strings.Index(text, "third, is unsure"))
	assert.Less(t, strings.Index(text, "third, is unsure"), strings.Index(text, "first, passes"))
}

// Few flights have no ellipse and no bars, and still a page.
func TestSweepOfFew(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, Sweep(&b, []*dispersion.Sheet{swept(1)}, report.Options{}))
	assert.NotContains(t, b.String(), "ellipse most")
	s := dispersion.NewSheet(plan())
	s.Wanted = 9
	b.Reset()
	require.NoError(t, Sweep(&b, []*dispersion.Sheet{s}, report.Options{}))
	assert.Contains(t, b.String(), "9 of 9 planned flights were not flown")
}

// A hunt's page shows every flight against every range, and the boundary where it was found.
func TestHunt(t *testing.T) {
	f := &hunt.Result{Plan: plan(), Seeds: 1, Space: &hunt.Space{Seed: 5, Written: []harness.Value{{Name: "wind.speed", Value: 2, Unit: "m/s"}, {Name: evil, Value: 1, Unit: "m"}}}}
	f.Space.Vary = f.Plan.Vary
	for i := range 20 {
		x := float64(i) / 19
		a := harness.Pass
		if x > 0.7 {
			a = harness.Fail
		}
		f.Flights = append(f.Flights, hunt.Flight{Point: hunt.Point{At: []float64{x, 1 - x}}, Scores: []hunt.Score{{Answer: a, Share: 0.7 - x}, {Answer: harness.Pass, Share: math.Inf(1)}}})
	}
	f.Case.Values = []harness.Value{{Name: "wind.speed", Value: 10, Unit: "m/s"}}
	f.Edge = hunt.Edge{Found: true, Own: f.Space.Written[0], Before: harness.Value{Name: "wind.speed", Value: 6.9, Unit: "m/s"}, After: harness.Value{Name: "wind.speed", Value: 7.1, Unit: "m/s"}}
	f.Verdict = harness.Verdict{Answer: harness.Fail, Findings: []harness.Finding{{Text: evil, Answer: harness.Fail, Reason: evil}}}
	var b bytes.Buffer
	require.NoError(t, Hunt(&b, f, "drystage: scenario\n# "+evil, report.Options{}))
	text := b.String()
	assert.Equal(t, 1, strings.Count(text, "<script"), "the page's own")
	assert.NotContains(t, text, "NaN")
	assert.NotContains(t, text, "Inf")
	assert.Equal(t, 2*3*20, strings.Count(text, `<circle class="dot`), "two ranges and their plane in two widths")
	assert.Equal(t, 2*2*2, strings.Count(text, `<path class="edge"`), "both sides of it against its range and in the plane")
	assert.Contains(t, text, "the answer changes between 6.9 m/s and 7.1 m/s")
}

// The matrix has a cell for each scenario that fails on a defect, and the lists the same in words.
func TestDefects(t *testing.T) {
	m := defects.New([]defects.Scenario{{Name: "a"}, {Name: evil}}, []defects.Defect{{Name: "first", Accident: evil}, {Name: "second", Hint: "fly it in the dark"}})
	for s := range 2 {
		m.SetReference(s, &harness.Verdict{Answer: harness.Pass})
		m.Set(0, s, &harness.Verdict{Answer: harness.Fail, Findings: []harness.Finding{{Text: evil, Answer: harness.Fail}}})
		m.Set(1, s, &harness.Verdict{Answer: harness.Pass})
	}
	var b bytes.Buffer
	require.NoError(t, Defects(&b, m))
	text := b.String()
	assert.Equal(t, 1, strings.Count(text, "<script"), "the page's own")
	assert.Equal(t, 2, strings.Count(text, `class="cell caught"`))
	assert.Contains(t, text, "1 of 2 defects caught by 2 scenarios")
	assert.Contains(t, text, ">missed</b>")
	assert.Contains(t, text, "fly it in the dark")
}
