package page

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/harness/show/chart"
	"drystage/sim"
)

func TestBar(t *testing.T) {
	for _, c := range []struct {
		reason string
		f      harness.Finding
		want   bar
	}{
		{"nothing measured", harness.Finding{}, bar{}},
		{"half way in", harness.Finding{HasMargin: true, Share: 0.5, Answer: harness.Pass}, bar{Is: true, Left: 50, Width: 25}},
		{"half way out", harness.Finding{HasMargin: true, Share: -0.5, Answer: harness.Fail}, bar{Is: true, Out: true, Left: 25, Width: 25}},
		{"far in is cut", harness.Finding{HasMargin: true, Share: 7, Answer: harness.Pass}, bar{Is: true, Clipped: true, Left: 50, Width: 50}},
		{"far out is cut", harness.Finding{HasMargin: true, Share: -7, Answer: harness.Fail}, bar{Is: true, Out: true, Clipped: true, Left: 0, Width: 50}},
		{"at the limit is seen", harness.Finding{HasMargin: true, Answer: harness.Unsure}, bar{Is: true, Left: 50, Width: 2}},
		{"no number", harness.Finding{HasMargin: true, Share: math.NaN()}, bar{}},
	} {
		assert.Equal(t, c.want, barOf(&c.f), c.reason)
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(-3, 3).Draw(t, "a"), rapid.Float64Range(-3, 3).Draw(t, "b")
		x, y := barOf(&harness.Finding{HasMargin: true, Share: min(a, b)}), barOf(&harness.Finding{HasMargin: true, Share: max(a, b)})
		end := func(b bar) float64 {
			if b.Left < 50 {
				return b.Left
			}
			return b.Left + b.Width
		}
		assert.LessOrEqual(t, end(x), end(y), "more margin never draws less")
		assert.True(t, x.Left >= 0 && y.Left+y.Width <= 100, "it stays in its box")
	})
}

func TestWorstFirst(t *testing.T) {
	v := func(name string, a harness.Answer, shares ...float64) harness.Verdict {
		v := harness.Verdict{Name: name, Answer: a}
		for _, x := range shares {
			v.Findings = append(v.Findings, harness.Finding{Answer: a, HasMargin: !math.IsNaN(x), Share: x})
		}
		return v
	}
	nan := math.NaN()
	vs := []harness.Verdict{
		v("far in", harness.Pass, 0.9), v("no margin", harness.Pass, nan), v("near", harness.Pass, 0.9, 0.1), v("unsure", harness.Unsure, 0.01),
		v("out", harness.Fail, -0.2), v("silent", harness.Unsure, nan), v("never", harness.Fail, nan), v("far out", harness.Fail, 0.5, -3), v("near too", harness.Pass, 0.1),
	}
	var got []string
	for _, i := range worstFirst(vs) {
		got = append(got, vs[i].Name)
	}
	assert.Equal(t, []string{"never", "far out", "out", "silent", "unsure", "near", "near too", "far in", "no margin"}, got)
}

// The line to paste has the boards that the record names.
func TestFlags(t *testing.T) {
	for _, c := range []struct {
		reason    string
		addresses []string
		real      bool
		want      string
	}{
		{"the built-in boards need no word", []string{"mock", "mock"}, false, ""},
		{"all boards at one address", []string{"mock:x", "mock:x"}, false, " --board 'mock:x'"},
		{"one of them elsewhere", []string{"exec:a b", "mock"}, true, " --board 'one=exec:a b' --real-time"},
		{"each elsewhere", []string{"tcp:a:1", "tcp:b:1"}, false, " --board 'one=tcp:a:1' --board 'two=tcp:b:1'"},
		{"it's not on record", []string{"", ""}, false, ""},
		{"a quote", []string{"exec:it's"}, false, ` --board 'exec:it'\''s'`},
	} {
		var s Summary
		for i, a := range c.addresses {
			s.boards = append(s.boards, board{Role: []string{"one", "two"}[i], Address: a})
		}
		s.verdict.Timing.RealTime = c.real
		assert.Equal(t, c.want, s.repeatFlags(), c.reason)
	}
}

// What all runs have in common stands once; what differs is listed, but not without end.
func TestFacts(t *testing.T) {
	var runs []Summary
	for i := range 12 {
		runs = append(runs, Summary{vehicle: "Dart", verdict: harness.Verdict{Name: "x", Seed: uint64(i / 2)}, boards: []board{{"a", "mock", "mock"}, {"b", "mock", []string{"mock", "mock:x"}[i%2]}}})
	}
	assert.Equal(t, []boardUse{{board{"a", "mock", "mock"}, 12}, {board{"b", "mock", "mock"}, 6}, {board{"b", "mock", "mock:x"}, 6}}, seats(runs))
	assert.Equal(t, "0; 1; 2; 3; 4; 5", facts(runs)[1].Text)
	assert.Equal(t, "Dart", facts(runs)[0].Text)
	assert.Equal(t, "lockstep: the bench drives each board's clock", pacing(runs))
	for i := range runs {
		runs[i].verdict.Seed = uint64(i)
	}
	assert.Equal(t, "0; 1; 2; 3; 4; 5; 6; 7; and more", facts(runs)[1].Text)
	late := harness.Timing{Pace: harness.Pace{RealTime: true, Limit: 5 * ms}, Frames: 100, Most: 7 * ms, Over: 2}
	runs[3].verdict.Timing, runs[3].verdict.Name = late, "slow"
	late.Most, late.Over = 1*ms, 0
	runs[4].verdict.Timing = late
	assert.Contains(t, pacing(runs), "real time in 2 of 12 scenarios, else lockstep; of 200 instants 2 left later than the limit; the latest in slow: 100 instants left")
}

// A lane says the worst answer to what was demanded of its output, and holds the spans that were demanded.
func TestLanes(t *testing.T) {
	order := harness.Expectation{Kind: harness.Order, Output: harness.Channel{Channel: 1}, Then: harness.Channel{Channel: 2}}
	rec := flown(fires(s(-1), s(1)), dark(1, "sustainer.drogue"), order)
	lit(rec, 5, s(3), s(4))
	runs, _ := scenesOf(rec)
	got := runs[0].lanes
	assert.Equal(t, []string{"sustainer.drogue", "sustainer.main", "sustainer.5, which no file declares"}, []string{got[0].name, got[1].name, got[2].name})
	assert.Equal(t, []string{"fail", "unsure", "unsure"}, []string{got[0].answer, got[1].answer, got[2].answer})
	assert.Equal(t, []verdict.Span{{From: s(9), To: s(11)}}, got[0].must)
	assert.Equal(t, []verdict.Span{{From: -sim.Never, To: sim.Never}}, got[0].dark)
	assert.Equal(t, s(10.2), got[0].on[0].On)
	page := parse(t, write(t, runs))
	svg := page.find("svg", "broad")[len(runs[0].close)]
	assert.Len(t, svg.find("rect", "lit"), 2, "what no file declares is drawn as well")
	assert.Contains(t, svg.text, "sustainer.5, which no file declares")
	assert.Contains(t, page.text, "sustainer.5: an output that no file declares stays dark", "and named among the doubts")
}

func TestFaultsInWords(t *testing.T) {
	rec := flown()
	rec.Active[500] |= 4
	runs, _ := scenesOf(rec)
	fs := runs[0].faults
	assert.Equal(t, "step sustainer.barometer from start + 3 s for 1 s by 400 Pa", fs[0].Text)
	assert.Equal(t, "changed something from 3.000 s to 3.990 s", fs[0].Seen, "samples are 20 ms apart, and make one span")
	assert.Equal(t, "changed something from 5.000 s to 5.190 s", fs[1].Seen)
	assert.Equal(t, "came at 5.000 s", fs[2].Seen)
	rec.Active[500], rec.Active[100] = 2, 2
	runs, _ = scenesOf(rec)
	assert.Equal(t, "changed nothing", runs[0].faults[2].Seen)
	assert.Equal(t, "changed something 2 times, first at 1.000 s, last until 5.190 s", runs[0].faults[1].Seen)
}

// What a board says is told once for as long as it says it.
func TestPhases(t *testing.T) {
	runs, _ := scenesOf(flown())
	got := runs[0].reports[0]
	assert.Equal(t, []phase{{0, s(3), "standing", 0}, {s(3), s(6), "powered", 100}, {s(6), s(20), "unpowered", 200}}, got.Phases)
	assert.Zero(t, got.More)
}

// Curves are kept to what can be seen: few points, none far off; the lower stage's begins where it lets go.
func TestBodies(t *testing.T) {
	rec := flown()
	rec.Plan.Setup.Vehicle.Stages = append(rec.Plan.Setup.Vehicle.Stages, sim.Stage{Name: "booster"})
	states := rec.States
	rec.States = nil
	for i, st := range states {
		low := st
		if at := rec.Times[i]; at > s(4) {
			low.Position.Z = 320 - 10*(at-s(4)).Seconds()
			low.Landed = at > s(12)
		}
		rec.States = append(rec.States, st, low)
	}
	bs := bodies(rec)
	assert.Less(t, bs[0].height.Len(), 60, "a parabola needs no more")
	for i, at := range rec.Times {
		one := bs[0].height.Clip(at.Seconds(), at.Seconds())
		if one.Len() == 1 {
			assert.InDelta(t, states[i].Height(), one.X[0], 500*fineTolerance*1.01)
		}
	}
	assert.InDelta(t, 4, bs[1].height.T[0], 0.011)
	assert.InDelta(t, 12, bs[1].height.T[bs[1].height.Len()-1], 0.011)
	assert.Less(t, bs[1].height.Len(), 6)
}

// A run in real time says how late its frames were and how well the boards' clocks are known.
func TestRealTime(t *testing.T) {
	rec := flown(fires(s(-1), s(1)))
	rec.Pace = harness.Pace{RealTime: true, Limit: 5 * ms, How: "priority 40"}
	rec.Late = make([]sim.Time, len(rec.Times))
	rec.Late[3] = 7 * ms
	rec.Clocks = []harness.BoardClock{{Readings: 9, Used: 3, Drift: 2e-6, Within: ms}}
	runs, _ := scenesOf(rec)
	page := parse(t, write(t, runs))
	for _, want := range []string{
		"real time, against each board's own clock; of 2001 instants 1 left later than the limit; the latest in parabola",
		"7.00 ms at most; the limit is 5.00 ms", "priority 40", "board 1 (mock): clock off by", "--seed 7 --real-time",
	} {
		assert.Contains(t, page.text, want)
	}
}

// However long a noisy curve is, it keeps its extremes and few points.
func TestCurvesStaySmall(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var l chart.Line
		noise := rapid.Float64Range(0, 50).Draw(t, "noise")
		for i := range 5000 {
			x := math.Sin(float64(i)/300) * 100
			l.Add(float64(i), x+noise*math.Sin(float64(i*i)))
		}
		spike := rapid.IntRange(1, 4998).Draw(t, "spike")
		l.X[spike] = 500
		got := simplify(l, maxPoints)
		_, high, _ := got.Range()
		assert.InDelta(t, 500, high, 1.02*coarseTolerance*700, "no peak is lost")
		assert.LessOrEqual(t, got.Len(), maxPoints+4)
	})
}

// Among many scenarios a pass has one picture in place of two, and what is no pass keeps both.
func TestManyScenariosTakeLittleRoom(t *testing.T) {
	of := func(n int) (broad, alone, slim int) {
		var recs []*harness.Record
		for range n {
			good := flown(fires(s(-1), s(1)))
			good.Plan.Setup.Faults = good.Plan.Setup.Faults[:2] // the third changes nothing, which is a doubt
			recs = append(recs, good)
		}
		runs, vs := scenesOf(append(recs, flown(fires(s(-3), s(-1))))...)
		require.Equal(t, harness.Fail, vs[n].Answer)
		page := parse(t, write(t, runs))
		for _, x := range page.find("section", "") {
			broad, alone, slim = broad+len(x.find("svg", "broad")), alone+len(x.find("svg", "alone")), slim+len(x.find("svg", "slim"))
		}
		return broad, alone, slim
	}
	broad, alone, slim := of(1)
	each := (broad - 1) / 2 // without the close-up of the failure
	assert.Equal(t, []int{2*each + 1, 0, 2*each + 1}, []int{broad, alone, slim}, "few: both widths of all")
	broad, alone, slim = of(many)
	assert.Equal(t, []int{(many+1)*each + 1, many*each + 1, each}, []int{broad, alone, slim})
}
