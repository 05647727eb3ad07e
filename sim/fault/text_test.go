package fault

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"drystage/sim"
)

func TestText(t *testing.T) {
	for _, c := range []struct {
		fault  sim.Fault
		want   string
		reason string
	}{
		{sim.Fault{Kind: sim.Spike, Part: sim.PartAccel, Axis: sim.AxisX, From: sim.Anchor{Event: "booster.burnout", Offset: 10 * ms}, Duration: 60 * ms, Value: -100},
			"spike sustainer.accelerometer x from booster.burnout + 0.01 s for 0.06 s by -100 m/s2", "everything said"},
		{sim.Fault{Kind: sim.Dropout, Bay: 1, Part: sim.PartGNSS}, "dropout booster.gnss", "all of the run"},
		{sim.Fault{Kind: sim.Dropout, Part: sim.PartGyro, From: sim.Anchor{Event: "apogee"}}, "dropout sustainer.gyro from apogee", "no offset, no end"},
		{sim.Fault{Kind: sim.Step, Part: sim.PartBaro, Axis: sim.AxisX, From: sim.Anchor{Offset: 3 * sim.Second}, Value: 250}, "step sustainer.barometer from start + 3 s by 250 Pa", "no axis to speak of"},
		{sim.Fault{Kind: sim.Drift, Part: sim.PartBaro, Value: 5}, "drift sustainer.barometer by 5 Pa/s", "a rate"},
		{sim.Fault{Kind: sim.Drift, Part: sim.PartGNSS, Axis: sim.AxisZ, Value: 2}, "drift sustainer.gnss z by 2 m/s", "height"},
		{sim.Fault{Kind: sim.Stuck, Part: sim.PartBattery, From: sim.Anchor{Event: "apogee", Offset: -500 * ms}}, "stuck sustainer.battery from apogee - 0.5 s", "before"},
		{sim.Fault{Kind: sim.NoiseBurst, Part: sim.PartGyro, Duration: 500 * sim.Microsecond, Value: 0.01}, "noise_burst sustainer.gyro for 0.0005 s by 0.01 rad/s", "finer than a millisecond"},
		{sim.Fault{Kind: sim.PowerCut, From: sim.Anchor{Event: "sustainer.ignition"}, Duration: 400 * ms}, "power_cut sustainer from sustainer.ignition for 0.4 s", "power"},
		{sim.Fault{Kind: sim.DeadIgniter}, "igniter_dead sustainer", "vehicle"},
		{sim.Fault{Kind: sim.LateIgniter, Stage: 1, Value: 1.5}, "igniter_late booster by 1.5 s", "seconds"},
		{sim.Fault{Kind: sim.EarlyBurnout, Stage: 1, From: sim.Anchor{Event: "booster.ignition", Offset: sim.Second}}, "early_burnout booster from booster.ignition + 1 s", "vehicle"},
		{sim.Fault{Kind: sim.DeviceDead, Device: 1}, "device_dead sustainer.main", "a recovery device"},
		{sim.Fault{Kind: sim.DeviceDead, Device: 7}, "device_dead sustainer", "no such device"},
		{sim.Fault{Kind: sim.Dropout, Bay: 9, Part: sim.PartBaro}, "dropout bay9.barometer", "no such bay"},
		{sim.Fault{Kind: sim.Delayed, Part: sim.PartGNSS, Value: 0.5}, "delayed sustainer.gnss by 0.5 s", "seconds"},
		{sim.Fault{Kind: sim.Stale, Part: sim.PartBaro, Value: 5}, "stale sustainer.barometer by 5", "a count"},
		{sim.Fault{Kind: sim.Clipped, Part: sim.PartAccel, Value: 80}, "clipped sustainer.accelerometer by 80 m/s2", "a range"},
		{sim.Fault{Kind: sim.BrownOut, Bay: 1, Value: 3, Duration: 50 * ms, Times: 3, Every: sim.Second}, "brown_out booster for 0.05 s by 3 V 3 times every 1 s", "again and again"},
		{sim.Fault{Kind: sim.TipOff, Stage: 1, Axis: sim.AxisZ, From: sim.Anchor{Event: "rail_exit"}, Value: 0.5}, "tip_off booster z from rail_exit by 0.5 rad/s", "an axis of the body"},
		{sim.Fault{Kind: sim.HighTilt, Value: 0.5, Duration: sim.Second}, "high_tilt sustainer for 1 s by 0.5 rad", "an angle"},
		{sim.Fault{Kind: sim.NoseLost, From: sim.Anchor{Event: "apogee"}, Value: 0.2, Speed: 5}, "nose_lost sustainer from apogee by 0.2 kg at 5 m/s", "two amounts"},
		{sim.Fault{Kind: sim.ImpulseError, Stage: 1, Motor: 2, Value: -0.1}, "impulse_error booster motor 2 by -0.1", "a share"},
		{sim.Fault{}, "nothing sustainer", "the zero value"},
	} {
		assert.Equal(t, c.want, Text(c.fault, setup()), c.reason)
	}
}

// For any numbers in a fault, Text prints it, and New and Apply don't panic.
func TestNothingPanics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		small := rapid.IntRange(-2, 300)
		f := sim.Fault{
			Kind: sim.FaultKind(rapid.Uint8().Draw(t, "kind")), Bay: small.Draw(t, "bay"), Stage: small.Draw(t, "stage"),
			Part: sim.Part(rapid.Uint8().Draw(t, "part")), Axis: sim.Axis(rapid.Uint8().Draw(t, "axis")),
			From: sim.Anchor{Offset: sim.Time(rapid.Int64().Draw(t, "from"))}, Duration: sim.Time(rapid.Int64().Draw(t, "for")),
			Value: rapid.Float64().Draw(t, "by"),
		}
		s := setup(f)
		assert.NotEmpty(t, Text(f, s))
		x, g := New(s), clean(0, sim.Second)
		x.sense(&g, nil)
		x.Powered(f.Bay, sim.Second, nil)
	})
}
