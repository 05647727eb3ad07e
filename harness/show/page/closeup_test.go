package page

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// Each expectation that did not pass has a picture around what it is about, the most dangerous first; what passed has none.
func TestEachFailureHasItsPicture(t *testing.T) {
	rec := flown(fires(s(-3), s(-1)), dark(2, "sustainer.main"), dark(1, "sustainer.drogue"),
		harness.Expectation{Kind: harness.AtEvent, Text: "slow at apogee", Event: "apogee", Quantity: sim.Speed, Most: -1, HasMost: true, Place: harness.Place{File: "x", Line: 1}})
	v := verdict.Judge(rec)
	run := Summarize(rec, v)
	require.Len(t, run.close, 3)
	assert.Equal(t, harness.Pass, v.Findings[1].Answer)
	var texts []string
	for _, c := range run.close {
		texts = append(texts, v.Findings[c.finding].Text)
		assert.True(t, c.span[0] < 10.2 && c.span[1] > 9, "%v", c.span)
	}
	assert.Equal(t, []string{"sustainer.drogue never fires", "sustainer.drogue fires <near> apogee", "slow at apogee"}, texts)
	for i, want := range []struct {
		from, to float64
		lanes    int
	}{{10.2, 11.2, 1}, {7, 10.2, 1}, {10, 10, 1}} {
		c := run.close[i]
		assert.True(t, c.span[0] <= want.from-0.5 && c.span[1] >= want.to+0.3, "%v: %v", texts[i], c.span)
		assert.Less(t, c.span[1]-c.span[0], 2*(want.to-want.from)+1.1, "around it, not all of the flight")
		assert.LessOrEqual(t, len(c.lanes), want.lanes)
	}
	page := write(t, []Summary{run})
	assert.Contains(t, page, "3 of 4 expectations failed")
	assert.Contains(t, page, "First to fail: sustainer.drogue fires &lt;near&gt; apogee, at 9.000 s of the run, &#43;8.000 s from the launch", "when its window closed, before the drogue fired")
	assert.Less(t, strings.Index(page, "sustainer.drogue never fires"), strings.Index(page, "<table"), "the most dangerous stands above everything")
}

// What failed first is told by the clock, whatever is the most dangerous.
func TestFirstToFail(t *testing.T) {
	at := func(e harness.Expectation) harness.Expectation {
		e.Place = harness.Place{File: "x", Line: 1}
		return e
	}
	drogue := harness.Channel{Channel: 1, Name: "sustainer.drogue"}
	for _, c := range []struct {
		reason string
		expect harness.Expectation
		want   float64
	}{
		{"on before its window", fires(s(2), s(3)), 10.2},
		{"not on when its window closes", fires(s(-3), s(-1)), 9},
		{"on where it must be dark", dark(1, "sustainer.drogue"), 10.2},
		{"the pulse is too long when it ends", at(harness.Expectation{Kind: harness.Pulse, Text: "pulse", Output: drogue, Most: 0.5, HasMost: true, Least: 0.1, HasLeast: true}), 11.2},
		{"too high when it fires", at(harness.Expectation{Kind: harness.AtFiring, Text: "low", Output: drogue, Quantity: sim.Height, Most: 1, HasMost: true}), 10.2},
		{"too fast at apogee", at(harness.Expectation{Kind: harness.AtEvent, Text: "slow", Event: "apogee", Quantity: sim.Speed, Most: -1, HasMost: true}), 10},
	} {
		rec := flown(dark(2, "sustainer.main"), c.expect)
		v := verdict.Judge(rec)
		require.Equal(t, harness.Fail, v.Findings[1].Answer, "%s: %s", c.reason, v.Findings[1].Reason)
		run := Summarize(rec, v)
		require.NotNil(t, run.first, c.reason)
		assert.Equal(t, 1, run.first.finding, c.reason)
		assert.InDelta(t, c.want, run.first.at.Seconds(), 0.01, c.reason)
	}
	rec := flown(dark(2, "sustainer.main"))
	run := Summarize(rec, verdict.Judge(rec))
	assert.Nil(t, run.first, "nothing failed")
}

// What the sensors said, what the board reported and what was true are curves on one axis of time.
func TestCloseUpCurves(t *testing.T) {
	rec := flown(fires(s(-1), s(0)))
	for i := range rec.Frames {
		rec.Frames[i].Has |= sim.HasAccel
		rec.Frames[i].Accel.X = 7
		rec.States[i].Force.X = 5
	}
	for i := range 40 {
		rec.Reports = append(rec.Reports, harness.Report{At: s(8 + float64(i)/10), Height: 321})
	}
	run := Summarize(rec, verdict.Judge(rec))
	require.Len(t, run.close, 1)
	at := map[string]float64{}
	for _, p := range run.close[0].panels {
		for _, l := range p.lines {
			at[p.caption[:4]+l.Class] = l.X[l.Len()/2]
			assert.True(t, l.T[0] >= run.close[0].span[0] && l.T[l.Len()-1] <= run.close[0].span[1])
		}
	}
	assert.InDelta(t, 500, at["heigis"], 15)
	assert.InDelta(t, 0, at["heigsent"], 1, "the barometer has not moved")
	assert.Equal(t, 321.0, at["heigtold"])
	assert.Equal(t, 5.0, at["feltis"])
	assert.Equal(t, 7.0, at["feltsent"])
}

// The worst of many scenarios leads the page: a motor that lights in the dark before a report that is off, whatever the
// order of their margins.
func TestTheMostDangerousLeads(t *testing.T) {
	one := func(name string, d harness.Danger, a harness.Answer, share float64) Summary {
		return Summary{verdict: harness.Verdict{Name: name, Answer: a, Findings: []harness.Finding{{Text: name + " text", Answer: a, Danger: d, HasMargin: true, Share: share, Place: harness.Place{Line: 3}}}}}
	}
	runs := []Summary{one("report", harness.OfData, harness.Fail, -9), one("lit", harness.OfFiringMotor, harness.Fail, -0.1), one("late", harness.OfNoFire, harness.Fail, -2), one("fine", harness.OfData, harness.Pass, 1)}
	var vs []harness.Verdict
	for i := range runs {
		vs = append(vs, runs[i].verdict)
	}
	d := mostDangerous(runs, worstFirst(vs))
	require.NotNil(t, d)
	assert.Equal(t, "lit", d.Scenario)
	assert.Contains(t, d.What, "motor")
	assert.Nil(t, mostDangerous(runs[3:], []int{0}), "nothing is wrong")
	d = mostDangerous([]Summary{one("doubt", harness.OfData, harness.Unsure, 0)}, []int{0})
	require.NotNil(t, d)
	assert.Equal(t, "unsure", d.Answer)
}
