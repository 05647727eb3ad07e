package verdict_test

import (
	"fmt"
	"math"
	"testing"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func ExampleJudge() {
	rec := flight(fires(at("apogee", s(-0.5)), at("apogee", s(1.5))))
	lit(rec, drogue, s(10.2), s(11.2), 4*ms)
	v := verdict.Judge(rec)
	fmt.Println(v.Answer, v.Findings[0].Reason)
	// Output: pass sustainer.drogue switched on at 10.200 s +- 4 ms, 0.700 s inside the window
}

func TestJudgeCarriesThePlanAndTheOrder(t *testing.T) {
	a, b := never(), fires(at("apogee", 0), at("apogee", s(1)))
	a.Place = harness.Place{File: "x.yaml", Line: 3, Column: 5}
	rec := lit(flight(a, b), drogue, s(10.5), 0, ms)
	rec.Plan.Title, rec.Plan.Digest, rec.Health[0].Lost = "A parabola", "abc", 1
	v := verdict.Judge(rec)
	assert.Equal(t, harness.Fail, v.Answer)
	assert.Equal(t, []string{"parabola", "A parabola", "scenarios/parabola.yaml", "abc"}, []string{v.Name, v.Title, v.File, v.Digest})
	assert.Equal(t, uint64(7), v.Seed)
	require.Len(t, v.Findings, 3, "two expectations in the order of the plan, then a doubt")
	assert.Equal(t, []harness.Answer{harness.Fail, harness.Pass, harness.Unsure}, []harness.Answer{v.Findings[0].Answer, v.Findings[1].Answer, v.Findings[2].Answer})
	assert.Equal(t, a.Place, v.Findings[0].Place)
	v.Boards[0].Name = "changed"
	assert.Empty(t, rec.Health[0].Name, "the verdict shares no memory with the record")
}

func TestAnEmptyRecordIsUnsure(t *testing.T) {
	assert.Equal(t, harness.Unsure, verdict.Judge(&harness.Record{}).Answer)
	assert.Equal(t, harness.Unsure, verdict.Judge(&harness.Record{}).Answer)
	e := never()
	rec := flight(e)
	rec.Times, rec.Active, rec.States, rec.Frames, rec.Events = nil, nil, nil, nil, nil
	v := verdict.Judge(rec)
	assert.Equal(t, harness.Unsure, v.Answer)
	assert.Contains(t, v.Findings[0].Reason, "no instant")
}

func TestAMalformedRecordIsUnsureAndNeverPanics(t *testing.T) {
	tilt := harness.Expectation{Kind: harness.AtFiring, Output: drogue, Quantity: sim.Tilt, Most: 1, HasMost: true}
	with := func(f func(e *harness.Expectation)) func(*harness.Record) {
		return func(r *harness.Record) { f(&r.Plan.Expect[0]) }
	}
	for _, c := range []struct {
		reason string
		spoil  func(r *harness.Record)
		says   string
	}{
		{"states", func(r *harness.Record) { r.States = r.States[1:] }, "2000 states for 2001 ticks"},
		{"frames", func(r *harness.Record) { r.Frames = nil }, "0 frames"},
		{"active", func(r *harness.Record) { r.Active = r.Active[1:] }, "2000 words"},
		{"times", func(r *harness.Record) { r.Times[9] = 0 }, "tick 9 at 0.000 s comes before tick 8"},
		{"stage of a bay", func(r *harness.Record) { r.Plan.Setup.Bays[0].Stage = 1 }, "sits in stage 1 of 1"},
		{"stage of an output", func(r *harness.Record) {
			r.Plan.Setup.Bays[0].Wires[1].Effect = sim.Effect{Kind: sim.Ignite, Stage: 1}
		}, "output 2 of board 0 acts on what there is not"},
		{"device of an output", func(r *harness.Record) { r.Plan.Setup.Bays[0].Wires[0].Effect = sim.Effect{Kind: sim.Deploy} }, "output 1 of board 0 acts"},
		{"effect of an output", func(r *harness.Record) { r.Plan.Setup.Bays[0].Wires[0].Effect.Kind = 99 }, "output 1 of board 0 acts"},
		{"kind of fault", func(r *harness.Record) { r.Plan.Setup.Faults = []sim.Fault{{Kind: 99}} }, "fault 1"},
		{"part of fault", func(r *harness.Record) { r.Plan.Setup.Faults = []sim.Fault{{Kind: sim.Spike, Part: 99}} }, "fault 1"},
		{"stage of fault", func(r *harness.Record) { r.Plan.Setup.Faults = []sim.Fault{{Kind: sim.DeadIgniter, Stage: 9}} }, "fault 1"},
		{"bay of fault", func(r *harness.Record) { r.Plan.Setup.Faults = []sim.Fault{{Kind: sim.PowerCut, Bay: -1}} }, "fault 1"},
		{"faults", func(r *harness.Record) { r.Plan.Setup.Faults = make([]sim.Fault, 65) }, "65 faults"},
		{"a state that is no number", func(r *harness.Record) { r.States[812].Mach = none }, "the true state of stage 0 at tick 812, 8.120 s, holds a number that is none"},
		{"the last state, infinite", func(r *harness.Record) { r.States[2000].Velocity.Y = math.Inf(-1) }, "tick 2000"},
		{"a frame that is no number", func(r *harness.Record) { r.Frames[3].Accel.Y = none }, "the frame of board 0 at tick 3, 0.030 s"},
		{"a sample that is not fresh", func(r *harness.Record) { r.Frames[0].GNSS.Height = math.Inf(1) }, "the frame of board 0 at tick 0"},
		{"an injection that is no number", func(r *harness.Record) { injected(r).Was.Z = none }, "injection 0 at 0.000 s holds"},
		{"an injection into no board", func(r *harness.Record) { injected(r).Bay = 1 }, "part 1 of board 1"},
		{"an injection by no fault", func(r *harness.Record) { injected(r).Fault = 7 }, "by fault 7"},
		{"a report that is no number", func(r *harness.Record) { r.Reports = []harness.Report{{At: s(3), Speed: none}} }, "report 0 at 3.000 s tells a number that is none: height 0 m, speed NaN m/s"},
		{"a report of nobody", func(r *harness.Record) { r.Reports = []harness.Report{{Bay: 1}} }, "report 0 is of board 1 of 1"},
		{"a line of nobody", func(r *harness.Record) { r.Logs = []harness.Log{{Bay: -1}} }, "line 0 of the log"},
		{"a sentence of nobody", func(r *harness.Record) { r.NMEA = []harness.NMEASet{{Bay: 1}} }, "sentence 0"},
		{"a reading of nobody", func(r *harness.Record) { r.Readings = []harness.ClockReading{{Bay: 1}} }, "reading 0"},
		{"a clock of nobody", func(r *harness.Record) { r.Clocks = []harness.BoardClock{{Bay: 7, Trouble: "none"}} }, "clock 0 is of board 7"},
		{"a clock that drifts by no number", func(r *harness.Record) { r.Clocks = []harness.BoardClock{{Drift: none}} }, "drifts by NaN"},
		{"an unmeasured output of nobody", func(r *harness.Record) { r.Unmeasured = []harness.Unmeasured{{Bay: 1, Channel: 1}} }, "unmeasured output 0"},
		{"an edge of nobody", func(r *harness.Record) { r.Outputs[0].Bay = 1 }, "edge 0 is of output 1 of board 1, of 1 boards"},
		{"an edge of output 0", func(r *harness.Record) { r.Outputs[0].Channel = 0 }, "edge 0 is of output 0"},
		{"an edge of output 17", func(r *harness.Record) { r.Outputs[0].Channel = 17 }, "edge 0 is of output 17"},
		{"an edge of less than no uncertainty", func(r *harness.Record) { r.Outputs[0].Within = -1 }, "less than none"},
		{"an edge on an unknown basis", func(r *harness.Record) { r.Outputs[0].Basis = 99 }, "basis 99"},
		{"an edge long before the run", func(r *harness.Record) { r.Outputs[0].At = -s(1) - 1 }, "edge 0 at -1.000 s lies outside the run"},
		{"an edge long after the run", func(r *harness.Record) { r.Outputs[0].At = s(21) + 1 }, "edge 0 at 21.000 s lies outside the run, which ends at 20.000 s"},
		{"an edge as late as can be written", func(r *harness.Record) { r.Outputs[0].At = sim.Never }, "lies outside the run"},
		{"an edge as early as can be written", func(r *harness.Record) { r.Outputs[0].At = math.MinInt64 }, "lies outside the run"},
		{"an event after the end", func(r *harness.Record) { r.Events[3].At = s(20) + 1 }, `event "landing" at 20.000 s comes after the end`},
		{"an event before the start", func(r *harness.Record) { r.Events[0].At = -1 }, `event "liftoff" at -0.000 s stands behind one at 0.000 s`},
		{"events out of order", func(r *harness.Record) { r.Events[1].At = s(11) }, `event "apogee" at 10.000 s stands behind one at 11.000 s`},
		{"a tick before the start", func(r *harness.Record) { r.Times[0] = -1 }, "tick 0 at -0.000 s comes before the start"},
		{"a count below nothing", func(r *harness.Record) { r.Health[0].Bad = -1 }, "the health of board 0 holds a count below 0"},
		{"an infinite limit", with(func(e *harness.Expectation) { e.Most = math.Inf(1) }), "its limit is no finite number: 0 to +Inf"},
		{"kind", with(func(e *harness.Expectation) { e.Kind = 99 }), "kind 99"},
		{"board", with(func(e *harness.Expectation) { e.Output.Bay = 1 }), "a board that is not among the 1"},
		{"later board", with(func(e *harness.Expectation) { e.Kind, e.Then.Bay = harness.Order, -1 }), "a board that is not among the 1"},
		{"board of a report", with(func(e *harness.Expectation) { e.Kind, e.Report, e.Bay = harness.Reports, harness.ApogeeHeight, 5 }), "board 5 of 1"},
		{"report", with(func(e *harness.Expectation) { e.Kind = harness.Reports }), "report 0 is unknown"},
		{"quantity", with(func(e *harness.Expectation) { e.Quantity = 99 }), "quantity 99"},
		{"no quantity", with(func(e *harness.Expectation) { e.Quantity = 0 }), "quantity 0"},
		{"stage", with(func(e *harness.Expectation) { e.Stage = -1 }), "stage -1 of 1"},
		{"limit", with(func(e *harness.Expectation) { e.Most = math.NaN() }), "no finite number: 0 to NaN"},
		{"no limit", with(func(e *harness.Expectation) { e.HasMost = false }), "no limit"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			rec := lit(flight(tilt), drogue, s(5), 0, ms)
			c.spoil(rec)
			v := verdict.Judge(rec)
			assert.Equal(t, harness.Unsure, v.Answer)
			assert.Contains(t, v.Findings[0].Reason, c.says)
		})
	}
}

// injected gives the one injection of a record whose fault it is.
func injected(r *harness.Record) *sim.Injection {
	r.Plan.Setup.Faults = []sim.Fault{{Kind: sim.Step, Part: sim.PartBaro}}
	r.Active[0] = 1
	r.Injected = []sim.Injection{{Part: 1}}
	return &r.Injected[0]
}

// NaN makes no comparison true, and so no quantity out of bounds: such a record must not pass.
func TestANumberThatIsNoneNeverPasses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := something(t)
		bad := rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1)}).Draw(t, "bad")
		st := &rec.States[rapid.IntRange(0, len(rec.States)-1).Draw(t, "tick")]
		*rapid.SampledFrom([]*float64{&st.Position.Z, &st.Velocity.Z, &st.Airspeed, &st.Attitude.Jmag, &st.Mach, &st.Force.X, &st.Dynamic}).Draw(t, "number") = bad
		v := verdict.Judge(rec)
		if v.Answer != harness.Unsure || first(rec).Answer != harness.Unsure {
			t.Fatalf("%s: %s", v.Answer, v.Findings[0].Reason)
		}
	})
}

func TestEveryQuantityHasAUnit(t *testing.T) {
	for q := range sim.Quantities() {
		e := harness.Expectation{Kind: harness.AtEvent, Event: "apogee", Quantity: sim.Quantity(q + 1), Most: 1e6, HasMost: true}
		f := first(flight(e))
		assert.Equal(t, harness.Pass, f.Answer, "%s: %s", sim.Quantity(q+1), f.Reason)
		assert.Equal(t, sim.Quantity(q+1) == sim.Mach, f.Unit == "", "only a Mach number has no unit: %s", sim.Quantity(q+1))
	}
}

// anything draws an expectation on a random pair of outputs.
func anything(t *rapid.T) harness.Expectation {
	span := func(name string) sim.Time { return sim.Time(rapid.Int64Range(-1e9, 25e9).Draw(t, name)) }
	event := rapid.SampledFrom([]string{"", "apogee", "landing", "sustainer.burnout", "absent"})
	flag := func(name string) bool { return rapid.Bool().Draw(t, name) }
	e := harness.Expectation{
		Kind: harness.ExpectationKind(rapid.IntRange(0, int(harness.Reaction)).Draw(t, "kind")), Output: drogue, Then: main,
		From: at(event.Draw(t, "from event"), span("from")), To: at(event.Draw(t, "to event"), span("to")), HasFrom: flag("has from"), HasTo: flag("has to"),
		Quantity: sim.Quantity(rapid.IntRange(0, len(sim.Quantities())).Draw(t, "quantity")), Event: event.Draw(t, "event"), Report: harness.ApogeeHeight,
		Least: rapid.Float64Range(-50, 50).Draw(t, "least"), HasLeast: flag("has least"), HasMost: flag("has most"),
	}
	e.Most = e.Least + rapid.Float64Range(0, 300).Draw(t, "room")
	return e
}

// something draws a record whose edges are known exactly.
func something(t *rapid.T) *harness.Record {
	rec := flight(anything(t))
	if rapid.Bool().Draw(t, "cut") {
		rec = cut(rec, sim.Time(rapid.Int64Range(0, 20e9).Draw(t, "end")))
	}
	for _, c := range []harness.Channel{drogue, main} {
		for range rapid.IntRange(0, 2).Draw(t, "pulses") {
			end := rec.Times[len(rec.Times)-1]
			on := sim.Time(rapid.Int64Range(0, int64(end)).Draw(t, "on"))
			off := on + sim.Time(rapid.Int64Range(-2e9, 3e9).Draw(t, "for"))
			lit(rec, c, on, min(max(off, -s(1)), end+s(1)), 0) // what else lies outside the run is malformed
		}
	}
	return rec
}

func TestMoreUncertaintyOnlyMovesTowardUnsure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := something(t)
		before := first(rec)
		for range 3 {
			for i := range rec.Outputs {
				rec.Outputs[i].Within += sim.Time(rapid.Int64Range(0, 2e9).Draw(t, "within"))
			}
			after := first(rec)
			if after.Answer != before.Answer && after.Answer != harness.Unsure {
				t.Fatalf("%s (%s) became %s (%s)", before.Answer, before.Reason, after.Answer, after.Reason)
			}
			before = after
		}
	})
}

func TestJudgingTwiceGivesEqualVerdicts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := something(t)
		a, b := verdict.Judge(rec), verdict.Judge(rec)
		assert.Equal(t, a, b)
		for _, f := range a.Findings {
			if f.HasMargin && (math.IsNaN(f.Margin) || math.IsInf(f.Margin, 0) || math.IsNaN(f.Share) || math.IsInf(f.Share, 0)) {
				t.Fatalf("margin %v, share %v", f.Margin, f.Share)
			}
			if f.HasMargin && f.Answer == harness.Pass && f.Margin < 0 || f.HasMargin && f.Answer == harness.Fail && f.Margin > 0 {
				t.Fatalf("%s with a margin of %v: %s", f.Answer, f.Margin, f.Reason)
			}
			if f.Reason == "" {
				t.Fatalf("%q has no reason", f.Text)
			}
		}
	})
}

// A record that stops early can hide a fail, but never turns one answer into the opposite one.
func TestACutRecordNeverTurnsPassIntoFailOrBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := flight(anything(t))
		on := sim.Time(rapid.Int64Range(0, 20e9).Draw(t, "on"))
		lit(rec, drogue, on, min(on+sim.Time(rapid.Int64Range(1, 3e9).Draw(t, "for")), s(21)), 0)
		whole := first(rec)
		end := sim.Time(rapid.Int64Range(0, 20e9).Draw(t, "end"))
		cut(rec, end)
		var kept []harness.Edge
		for _, e := range rec.Outputs {
			if e.At <= rec.Times[len(rec.Times)-1] {
				kept = append(kept, e)
			}
		}
		rec.Outputs = kept
		part := first(rec)
		opposite := part.Answer == harness.Pass && whole.Answer == harness.Fail || part.Answer == harness.Fail && whole.Answer == harness.Pass
		if opposite {
			t.Fatalf("cut at %s: %s (%s), whole: %s (%s)", end, part.Answer, part.Reason, whole.Answer, whole.Reason)
		}
	})
}

// A record that was flown here is judged as one from elsewhere, but its numbers are not looked at again.
func TestJudgeFlown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rec := something(t)
		require.Equal(t, verdict.Judge(rec), verdict.JudgeFlown(rec))
	})
	for name, spoil := range map[string]func(*harness.Record){
		"a tick without a frame": func(r *harness.Record) { r.Frames = r.Frames[1:] },
		"an edge of no board": func(r *harness.Record) {
			r.Outputs = append(r.Outputs, harness.Edge{Output: sim.Output{Bay: 9, Channel: 1}})
		},
	} {
		rec := flight(harness.Expectation{Kind: harness.Once, Output: drogue})
		spoil(rec)
		require.Equal(t, harness.Unsure, verdict.JudgeFlown(rec).Answer, name)
	}
}
