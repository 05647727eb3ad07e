package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// weaknesses pairs each kind of fault with a shipped scenario that has it
// and a board whose mistake it is.
var weaknesses = []struct {
	kind             sim.FaultKind
	scenario, defect string
}{
	{sim.Spike, "ejection-spike", "main-on-pressure-spike"},
	{sim.Step, "baro-jump-fast", "standstill-is-apogee"},
	{sim.Step, "gnss-jump", "trusts-gnss"},
	{sim.Stuck, "accelerometer-stuck", "inertial-only"},
	{sim.Stuck, "gnss-frozen", "trusts-gnss"},
	{sim.Dropout, "gnss-loss", "trusts-gnss"},
	{sim.Drift, "accelerometer-drift", "inertial-only"},
	{sim.NoiseBurst, "baro-noise", "apogee-on-first-fall"},
	{sim.PowerCut, "power-cut-coast", "forgets-on-restart"},
	{sim.Stale, "baro-stale", "standstill-is-apogee"},
	{sim.Clipped, "accelerometer-clipped", "inertial-only"},
	{sim.Swapped, "accelerometer-swapped", "no-self-test"},
	{sim.Reversed, "accelerometer-reversed", "no-self-test"},
	{sim.Scaled, "accelerometer-scaled", "inertial-only"},
	{sim.Delayed, "gnss-late", "trusts-gnss"},
	{sim.Jittered, "baro-jitter", "no-speed-lockout"},
	{sim.Duplicated, "accelerometer-twice", "counts-samples"},
	{sim.Reordered, "baro-reordered", "apogee-on-first-fall"},
	{sim.Extreme, "baro-extreme", "main-on-pressure-spike"},
	{sim.VentBlocked, "baro-vent-blocked", "standstill-is-apogee"},
	{sim.BayLeak, "bay-leak", "no-speed-lockout"},
	{sim.FixLost, "gnss-no-fix", "trusts-gnss"},
	{sim.HeightLimit, "gnss-height-limit", "trusts-gnss"},
	{sim.Restart, "restart-coast", "forgets-on-restart"},
	{sim.BrownOut, "brown-out-firing", "forgets-on-restart"},
	{sim.ClockError, "clock-slow", "timer-only"},
	{sim.BitsFlipped, "link-bits-flipped", "no-checksum"},
	{sim.BytesLost, "link-bytes-lost", "counts-samples"},
	{sim.FramesCut, "link-frames-cut", "counts-samples"},
	{sim.LinkStalled, "link-stalled", "inertial-only"},
	{sim.DeadIgniter, "sustainer-dead", "stages-twice"},
	{sim.LateIgniter, "sustainer-late", "stages-twice"},
	{sim.EarlyBurnout, "early-burnout", "waits-for-sustainer"},
	{sim.SelfIgnition, "sustainer-self", "waits-for-sustainer"},
	{sim.SeparationStuck, "separation-stuck", "stages-twice"},
	{sim.SeparationEarly, "separation-early", "stages-twice"},
	{sim.DeviceDead, "drogue-dead", "main-before-drogue"},
	{sim.DeviceEarly, "main-with-drogue", "main-before-drogue"},
	{sim.Chuff, "chuff", "first-burnout-counts"},
	{sim.ImpulseError, "weak-motor", "timer-only"},
	{sim.BurnTimeError, "long-burn", "timer-only"},
	{sim.WireLost, "wire-lost", "main-on-lost-continuity"},
	{sim.WireShorted, "wire-shorted", "main-on-lost-continuity"},
	{sim.TipOff, "tip-off", "ignores-tilt"},
	{sim.HighTilt, "high-tilt", "ignores-tilt"},
	{sim.NoseLost, "nose-lost", "drogue-on-deceleration"},
}

// TestEachFaultFindsItsWeakness flies each pair, and wants the honest board to pass where the weak one
// fails.
func TestEachFaultFindsItsWeakness(t *testing.T) {
	slow(t)
	plans := map[string]harness.Plan{}
	for _, p := range shippedPlans(t) {
		plans[p.Name] = p
	}
	shown := map[sim.FaultKind]bool{}
	for _, w := range weaknesses {
		p, is := plans[w.scenario]
		require.True(t, is, w.scenario)
		has := false
		for _, f := range p.Setup.Faults {
			has = has || f.Kind == w.kind
		}
		require.True(t, has, "%s has no %s", w.scenario, w.kind)
		shown[w.kind] = true
		honest := flyOn(t, p, "mock")
		assert.Equal(t, harness.Pass, verdict.Judge(honest).Answer, "%s on the honest board", w.scenario)
		assert.Equal(t, harness.Fail, verdict.Judge(flyOn(t, p, "mock:"+w.defect)).Answer, "%s on a board that is %s", w.scenario, w.defect)
		if w.kind.Layer() == sim.OnSensor {
			assert.NotEmpty(t, honest.Injected, "%s: what was injected is on record", w.scenario)
		}
	}
	for i, word := range sim.FaultKinds() {
		assert.True(t, shown[sim.FaultKind(i+1)], "no pair shows %s", word)
	}
}

// effects pairs each effect of parts, airframe, pad and canopies with a scenario that shows a mistake, and takes the effect
// away.
var effects = []struct {
	effect, scenario, defect string
	without                  func(s *sim.Setup)
}{
	{"vibration clipped before the filter", "vibration-clipped", "misses-clipped-vibration", func(s *sim.Setup) { s.Bays[0].Sensors.Accel.Transmissibility = 0 }},
	{"shocks of charges and lines", "hard-charges", "landed-on-a-jolt", func(s *sim.Setup) {
		for i := range s.Vehicle.Stages {
			for k := range s.Vehicle.Stages[i].Recovery {
				d := &s.Vehicle.Stages[i].Recovery[k]
				d.Shock, d.Snatch = sim.Pyroshock{}, sim.Snatch{}
			}
		}
	}},
	{"the ground", "restart-landed", "on-its-side-is-flight", func(s *sim.Setup) { s.Vehicle.Site.Ground = sim.Ground{} }},
	{"static ports near the speed of sound", "gannet-transonic", "transonic-fall-is-apogee", func(s *sim.Setup) { s.Bays[0].Sensors.Baro.Ports = nil }},
	{"raising the rocket with the board on", "pad-handling", "zero-at-power-up", func(s *sim.Setup) { s.Pad.Raised, s.Pad.Carried = sim.Span{}, sim.Carried{} }},
	{"the swing below a canopy", "swinging-descent", "main-on-a-swing", func(s *sim.Setup) {
		for i := range s.Vehicle.Stages {
			for k := range s.Vehicle.Stages[i].Recovery {
				s.Vehicle.Stages[i].Recovery[k].Swing = sim.Swing{}
			}
		}
	}},
	{"the earth's magnetic field", "turned-about-the-field", "tilt-from-the-field", func(s *sim.Setup) { s.Bays[0].Sensors.Mag.Rate = 0 }},
	{"the height that a receiver holds", "gnss-held", "apogee-on-a-held-height", func(s *sim.Setup) { s.Bays[0].Sensors.GNSS.Hold = 0 }},
}

// TestEachEffectFindsItsWeakness wants the honest board to pass and the weak one to fail, and to pass without the effect.
func TestEachEffectFindsItsWeakness(t *testing.T) {
	slow(t)
	for _, w := range effects {
		p := plansOf(t, "scenarios/"+w.scenario+".yaml")[0]
		assert.Equal(t, harness.Pass, verdict.Judge(flyOn(t, p, "mock")).Answer, "%s on the honest board", w.effect)
		assert.Equal(t, harness.Fail, verdict.Judge(flyOn(t, p, "mock:"+w.defect)).Answer, "%s on a board that %s", w.effect, w.defect)
		w.without(&p.Setup)
		assert.Equal(t, harness.Pass, verdict.Judge(flyOn(t, p, "mock:"+w.defect)).Answer, "without %s a board that %s", w.effect, w.defect)
	}
}
