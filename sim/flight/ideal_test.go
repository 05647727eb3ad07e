package flight

import (
	"testing"

	"drystage/sim"

	"github.com/stretchr/testify/assert"
)

// In an ideal flight things happen when the builder means them to.
func TestIdeal(t *testing.T) {
	apogee := sim.Anchor{Event: "apogee", Offset: -second}
	for _, r := range []struct {
		reason        string
		change        func(*sim.Setup)
		event, anchor string
		offset        float64 // s from anchor to event
	}{
		{"a motor burns at its Lit", nil, "sustainer.ignition", "booster.burnout", 2},
		{"a device opens at its Opens", nil, "sustainer.drogue", "apogee", 0.5},
		{"a device opens at a crossing", nil, "sustainer.main", "sustainer height falling through 150 m", 0},
		{"stages part by drag after the burnout", nil, "separation", "booster.burnout", 0.3},
		{"a charge fires at the burnout", func(s *sim.Setup) { s.Vehicle.Stages[1].Separation.Mode = sim.ByCharge }, "separation", "booster.burnout", 0.3},
		{"by motor: at ignition", func(s *sim.Setup) { s.Vehicle.Stages[1].Separation.Mode = sim.ByMotor }, "separation", "sustainer.ignition", 0},
		{"before an event, not rehearsed: at the event", func(s *sim.Setup) { s.Vehicle.Stages[0].Recovery[0].Opens = apogee }, "sustainer.drogue", "apogee", 0},
		{"before a rehearsed event", func(s *sim.Setup) {
			s.Vehicle.Stages[0].Recovery[0].Opens = apogee
			s.Rehearsed = []sim.Event{{Name: "apogee", At: 18 * second}}
		}, "sustainer.drogue", "launch", 12},
		{"at a time of the run", func(s *sim.Setup) { s.Vehicle.Stages[0].Recovery[0].Opens = sim.Anchor{Offset: 17 * second} }, "sustainer.drogue", "launch", 12},
		{"faults are left out", func(s *sim.Setup) { s.Faults = []sim.Fault{{Kind: sim.DeadIgniter, Stage: 1}} }, "sustainer.ignition", "booster.burnout", 2},
	} {
		s := dunlin()
		if r.change != nil {
			r.change(s)
		}
		f := NewIdeal(s)
		f.SetOutput(drogue, true) // of no effect
		f.AdvanceTo(140 * second)
		assert.Positive(t, f.at(r.anchor), r.reason)
		assert.InDelta(t, r.offset, f.at(r.event)-f.at(r.anchor), 1e-8, r.reason)
		assert.Zero(t, f.FaultActivity(), r.reason)
	}
	s := dunlin()
	s.Vehicle.Stages[0].Mount.Lit = sim.Anchor{}
	f := NewIdeal(s)
	f.AdvanceTo(100 * second)
	assert.Negative(t, f.at("sustainer.ignition"), "a motor without Lit stays cold")
	empty := New(&sim.Setup{})
	empty.AdvanceTo(second)
	assert.Empty(t, empty.States(), "no stages, no states")
	assert.False(t, empty.Landed())
}
