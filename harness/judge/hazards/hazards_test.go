package hazards

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/num/quat"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/r3"
)

const ms = sim.Millisecond

// flight is a record of 100 s in which the rocket stands for 5 s and then rises at 100 m/s, level with the time; the
// booster burns out at 8 s.
func flight(edges ...sim.Output) *harness.Record {
	r := new(harness.Record)
	r.Plan.Setup = sim.Setup{
		Vehicle: sim.Vehicle{Stages: []sim.Stage{
			{Name: "sustainer", Mount: sim.Mount{Igniter: sim.Igniter{Pulse: 100 * ms}}, Recovery: []sim.Device{{Name: "drogue", Pulse: 50 * ms}, {Name: "main", Pulse: 50 * ms}}},
			{Name: "booster"}}},
		Bays: []sim.Bay{{Name: "sustainer", Wires: []sim.Wire{{Channel: 1, Effect: sim.Effect{Kind: sim.Ignite}},
			{Channel: 2, Effect: sim.Effect{Kind: sim.Deploy}}, {Channel: 3, Effect: sim.Effect{Kind: sim.Deploy, Device: 1}}}}},
		Commands: []sim.Command{{At: sim.Anchor{Event: "start", Offset: sim.Second}, Bay: -1, What: sim.CommandArm}},
	}
	for i := range 1001 {
		t := sim.Time(i) * 100 * ms
		st := sim.State{Attitude: quat.Number{Real: 0.7071, Jmag: -0.7071}, OnPad: t < 5*sim.Second}
		if !st.OnPad {
			st.Velocity, st.Position, st.Airspeed = r3.Vec{Z: 100}, r3.Vec{Z: 100 * (t.Seconds() - 5)}, 100
		}
		r.Times, r.States = append(r.Times, t), append(r.States, st, st)
	}
	r.Events = []sim.Event{{Name: "liftoff", At: 5 * sim.Second}, {Name: "booster.burnout", At: 8 * sim.Second}}
	for _, e := range edges {
		r.Outputs = append(r.Outputs, harness.Edge{Output: e})
	}
	return r
}

func pulse(channel int, at, length sim.Time) []sim.Output {
	return []sim.Output{{Channel: channel, On: true, At: at}, {Channel: channel, At: at + length}}
}

func TestOf(t *testing.T) {
	second := func(s float64) sim.Time { return sim.Seconds(s) }
	change := func(r *harness.Record, f func(*harness.Record)) *harness.Record { f(r); return r }
	for _, c := range []struct {
		rec    *harness.Record
		want   []Hazard
		reason string
	}{
		{flight(), nil, "nothing fires"},
		{flight(pulse(1, second(9), second(1))...), nil, "upright, fast and high, after burnout"},
		{flight(pulse(1, second(3), second(1))...), []Hazard{OnPad}, "before liftoff"},
		{change(flight(pulse(1, second(9), second(1))...), func(r *harness.Record) { r.Plan.Setup.Commands = nil }), []Hazard{Disarmed}, "no command to arm"},
		{flight(pulse(1, second(7), second(1))...), []Hazard{WhileBurning}, "before burnout"},
		{change(flight(pulse(1, second(9), second(1))...), func(r *harness.Record) {
			for i := range r.States {
				r.States[i].Airspeed = 30
			}
		}), []Hazard{SlowOrLow}, "slow"},
		{change(flight(pulse(1, second(9), second(1))...), func(r *harness.Record) {
			for i := range r.States {
				r.States[i].Attitude = quat.Number{Real: 0.9, Jmag: -0.436}
			}
		}), []Hazard{OffVertical}, "leaning"},
		{flight(append(pulse(1, second(9), second(1)), pulse(1, second(20), second(1))...)...), []Hazard{Again}, "twice"},
		{flight(pulse(1, second(9), second(6))...), []Hazard{StaysOn}, "6 s long"},
		{flight(sim.Output{Channel: 1, On: true, At: second(9)}), []Hazard{StaysOn}, "to the end"},
		{flight(pulse(1, second(9), 60*ms)...), []Hazard{TooShort}, "60 ms of 100"},
		{flight(pulse(2, second(9), second(1))...), []Hazard{DrogueAtSpeed}, "drogue at 100 m/s"},
		{change(flight(pulse(3, second(9), second(1))...), func(r *harness.Record) {
			r.Events = append(r.Events, sim.Event{Name: "sustainer.drogue", At: second(6)})
		}), []Hazard{MainAtSpeed}, "main at 100 m/s, some seconds after the drogue"},
		{flight(pulse(3, second(9), second(1))...), []Hazard{MainAtSpeed, MainTooHigh}, "main without drogue"},
		{change(flight(pulse(1, second(95), second(1))...), func(r *harness.Record) {
			r.Events = append(r.Events, sim.Event{Name: "sustainer.landing", At: second(90)})
			for i := range r.States {
				r.States[i].Velocity.Z = min(100, -15)
				r.States[i].Landed = r.Times[i/2] >= second(90)
			}
		}), []Hazard{AfterLanding, DrogueOnly}, "on the ground, after a hard landing"},
	} {
		var want Set
		for _, h := range c.want {
			want.add(h, true)
		}
		assert.Equal(t, want, Of(c.rec, new(harness.Verdict)), c.reason)
	}
	rec := flight(pulse(1, second(9), second(1))...)
	rec.Plan.Expect = []harness.Expectation{{Kind: harness.Never, Output: harness.Channel{Channel: 1}}, {Kind: harness.Fires, Output: harness.Channel{Channel: 2}}}
	v := harness.Verdict{Findings: []harness.Finding{{Answer: harness.Fail}, {Answer: harness.Pass}}}
	assert.True(t, Of(rec, &v).Has(MotorRefused))
	assert.False(t, Of(rec, &v).Has(Late))
}

func TestMatrix(t *testing.T) {
	m := New([]string{"a", "b", "c"})
	var s Set
	s.add(OnPad, true)
	s.add(Late, true)
	m.SetHonest(1, 1<<Late)
	m.Add(2, "defect x", s)
	m.Add(1, "defect x", s)
	assert.Equal(t, []string{"b", "c"}, m.Tries(OnPad))
	assert.Equal(t, []string{"c"}, m.Tries(Late), "in b the sound board is late, too")
	assert.Equal(t, []Proof{{"c", "defect x"}}, m.Boards(OnPad), "each board once")
	assert.Empty(t, m.Boards(Again))
}
