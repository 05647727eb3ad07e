package examine

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// TestFaultsThatShowNothingAreRefused: a finding becomes a fault only where the scenario's flight shows it again.
func TestFaultsThatShowNothingAreRefused(t *testing.T) {
	found := odd(t) // a spike of the accelerometer in the coast, and a step of the barometer after it
	require.Len(t, found.Findings, 2)
	for _, c := range []struct {
		reason  string
		change  func(s *sim.Setup, r *Result)
		refused []string
	}{
		{"both show again", func(*sim.Setup, *Result) {}, nil},
		{"a flight that ends before the step", func(s *sim.Setup, _ *Result) {
			s.Until = sim.Anchor{Event: "sustainer.ignition", Offset: 500 * sim.Millisecond}
		}, []string{"the scenario's flight has no sustainer.burnout"}},
		{"a flight that ends just before it", func(s *sim.Setup, _ *Result) {
			s.Until = sim.Anchor{Event: "sustainer.burnout", Offset: 500 * sim.Millisecond}
		}, []string{"step at .* is not played: the scenario ends at .*, before it begins at"}},
		{"a board without a barometer", func(s *sim.Setup, _ *Result) { s.Bays[0].Sensors.Baro.Rate = 0 },
			[]string{"step at .* is not played: the scenario's board has no barometer"}},
		{"a shift far below the noise", func(_ *sim.Setup, r *Result) { r.Findings[1].Size = 0.02 },
			[]string{"it is lost: a simulated flight with it shows no step there"}},
		{"a value held between two samples", func(s *sim.Setup, r *Result) {
			r.Findings[0].Kind, r.Findings[0].Until = Stuck, r.Findings[0].From+0.001
			r.Findings[0].From += 0.0075
		}, []string{"no sample falls into its"}},
		{"an event that the flight lacks", func(s *sim.Setup, r *Result) {
			s.Vehicle.Stages[0].Mount.Lit = sim.Anchor{Event: "never"}
		}, []string{"the scenario's flight has no sustainer.burnout"}},
	} {
		t.Run(c.reason, func(t *testing.T) {
			r := *found
			r.Findings = append([]Finding(nil), found.Findings...)
			s := loaded(t, "")
			s.Until, s.Limit = sim.Anchor{Event: "sustainer.landing", Offset: 1500 * sim.Millisecond}, 300*sim.Second
			c.change(&s, &r)
			text, refused := r.FaultScenario(Written{Like: "nominal.yaml", LogFile: "x.csv", Setup: &s})
			require.Len(t, refused, len(c.refused), refused)
			for i, want := range c.refused {
				assert.Regexp(t, want, refused[i])
				if text != "" {
					assert.Contains(t, text, "# Left out: "+refused[i])
				}
			}
			assert.Equal(t, len(c.refused) < len(r.Findings), text != "")
		})
	}
}

// TestASpikeOfOneSampleIsPlayedAsOne: a bump of one sample's length is met anywhere on its flanks, or not at all.
func TestASpikeOfOneSampleIsPlayedAsOne(t *testing.T) {
	s := loaded(t, "")
	w := Written{Setup: &s}
	rate := s.Bays[0].Sensors.Accel.Rate
	one := sim.Fault{Kind: sim.Spike, Part: sim.PartAccel, Duration: sim.Seconds(1 / rate), Value: -100}
	w.oneSample(&one)
	assert.Equal(t, sim.Step, one.Kind)
	assert.Equal(t, sim.Seconds(1/rate), one.Duration)
	long := sim.Fault{Kind: sim.Spike, Part: sim.PartAccel, Duration: 100 * sim.Millisecond, Value: -100}
	w.oneSample(&long)
	assert.Equal(t, sim.Spike, long.Kind)
}
