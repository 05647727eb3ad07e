package verdict_test

import (
	"math"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
	"drystage/sim/r3"

	"gonum.org/v1/gonum/num/quat"
)

const ms = sim.Millisecond

// s is seconds as a time.
func s(x float64) sim.Time { return sim.Seconds(x) }

var (
	drogue = harness.Channel{Bay: 0, Channel: 1, Name: "sustainer.drogue"}
	main   = harness.Channel{Bay: 0, Channel: 2, Name: "sustainer.main"}
)

// flight is a synthetic record of 20 s at 100 ticks/s: height 500 - 5 (t-10)^2 m, so that apogee is at
// 10 s, climb 10 (10-t) m/s, and 100 m/s down at landing; tilt 2 deg/s from 0 at the start.
func flight(es ...harness.Expectation) *harness.Record {
	rec := &harness.Record{Health: []harness.Health{{Boots: 1, RoundTrips: 2001}}}
	rec.Plan = harness.Plan{Name: "parabola", File: "scenarios/parabola.yaml", Expect: es}
	rec.Plan.Setup = sim.Setup{
		Seed:    7,
		Vehicle: sim.Vehicle{Stages: []sim.Stage{{Name: "sustainer"}}},
		Bays: []sim.Bay{{Name: "sustainer", Sensors: sim.Sensors{Accel: sim.Triad{Rate: 100}},
			Wires: []sim.Wire{{Channel: 1, Name: "drogue"}, {Channel: 2, Name: "main"}}}},
	}
	for i := range 2001 {
		at := sim.Time(i) * 10 * ms
		t := at.Seconds()
		st := sim.State{Position: r3.Vec{Z: 500 - 5*(t-10)*(t-10)}, Velocity: r3.Vec{Z: -10 * (t - 10)}, Attitude: leaning(2 * t * math.Pi / 180)}
		if i == 2000 {
			st.Landed, st.Velocity = true, r3.Vec{}
		}
		rec.Times = append(rec.Times, at)
		rec.Active = append(rec.Active, 0)
		rec.States = append(rec.States, st)
		rec.Frames = append(rec.Frames, sim.Frame{Now: at, Due: true, Powered: true})
	}
	rec.Events = []sim.Event{{Name: "liftoff"}, {Name: "sustainer.burnout", At: s(3)}, {Name: "apogee", At: s(10)}, {Name: "landing", At: s(20) - 5*ms}}
	return rec
}

// leaning is the attitude of a body whose x axis leans from the vertical.
func leaning(tilt float64) quat.Number {
	sin := math.Sin(tilt)
	return quat.Number{Real: math.Sqrt((1 + sin) / 2), Jmag: math.Copysign(math.Sqrt((1-sin)/2), tilt-math.Pi/2)}
}

// lit adds an on-interval to a record, with U on either edge; off 0 means never off.
func lit(rec *harness.Record, c harness.Channel, on, off, within sim.Time) *harness.Record {
	edge := func(at sim.Time, on bool) {
		rec.Outputs = append(rec.Outputs, harness.Edge{Output: sim.Output{Bay: c.Bay, Channel: c.Channel, On: on, At: at}, Within: within})
	}
	edge(on, true)
	if off != 0 {
		edge(off, false)
	}
	return rec
}

// cut ends a record early.
func cut(rec *harness.Record, at sim.Time) *harness.Record {
	n := int(at/(10*ms)) + 1
	rec.Times, rec.Active, rec.States, rec.Frames = rec.Times[:n], rec.Active[:n], rec.States[:n], rec.Frames[:n]
	var es []sim.Event
	for _, e := range rec.Events {
		if e.At <= at {
			es = append(es, e)
		}
	}
	rec.Events, rec.Cause = es, "board: exchange 412: deadline exceeded after 50ms"
	return rec
}

// seated gives a record a second board, with frames of its own.
func seated(rec *harness.Record) *harness.Record {
	rec.Plan.Setup.Bays = append(rec.Plan.Setup.Bays, sim.Bay{Name: "booster"})
	rec.Health = append(rec.Health, rec.Health[0])
	var frames []sim.Frame
	for _, f := range rec.Frames {
		second := f
		second.Bay = 1
		frames = append(frames, f, second)
	}
	rec.Frames = frames
	return rec
}

// first judges a record and gives its first finding.
func first(rec *harness.Record) harness.Finding { return verdict.Judge(rec).Findings[0] }

func at(event string, offset sim.Time) sim.Anchor { return sim.Anchor{Event: event, Offset: offset} }

func fires(from, to sim.Anchor) harness.Expectation {
	return harness.Expectation{Kind: harness.Fires, Text: "drogue fires", Output: drogue, From: from, To: to, HasFrom: true, HasTo: true}
}

func never() harness.Expectation {
	return harness.Expectation{Kind: harness.Never, Text: "drogue never fires", Output: drogue}
}
