//go:build linux

package firmwarecontract

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// faultsInFlight are faults of the buses in the good flight, whose motor lights at 5.2 s and burns out at 7.2 s, and whether the
// sustainer is then still lit in its window; else it must stay dark, and so must all else until 4 s after the burnout.
var faultsInFlight = []struct {
	reason, fault string
	lit           bool
}{
	{"an IMU with another's identity is never armed", "{part: imu, fault: identity, from: 0 s, value: 16}", false},
	{"an IMU that never answers is never armed", "{part: imu, fault: silent, from: 0 s}", false},
	{"an IMU that resets on the pad is set up again", "{part: imu, fault: reset, from: 3 s, to: 3.1 s}", true},
	{"an IMU that resets under thrust leaves the tilt unknown", "{part: imu, fault: reset, from: 6 s, to: 6.1 s}", false},
	{"an IMU that holds the clock for 0.1 ms a byte is read in time", "{part: imu, fault: stretch, from: 0 s, value: 100}", true},
	{"a FIFO that runs over on the pad is emptied", "{part: imu, fault: stuck, from: 2.5 s, to: 3.5 s}", true},
	{"a bus that is held under thrust leaves the tilt unknown", "{part: barometer, fault: stuck, from: 6 s, to: 6.3 s}", false},
	{"a barometer with a wrong calibration word is never armed", "{part: barometer, fault: identity, from: 0 s, value: 4}", false},
	{"a barometer with a bit error in 500 bytes is read in spite of it", "{part: barometer, fault: flips, from: 0 s, value: 500}", true},
	{"a barometer with a bit error in 10 bytes isn't trusted", "{part: barometer, fault: flips, from: 0 s, value: 10}", false},
	{"a barometer that resets under thrust is set up again", "{part: barometer, fault: reset, from: 6 s, to: 6.1 s}", true},
	{"a high-g accelerometer that never answers isn't needed here", "{part: high, fault: silent, from: 0 s}", true},
	{"a high-g accelerometer that holds its line isn't needed here", "{part: high, fault: stuck, from: 0 s}", true},
}

// TestBusFaults flies the unaware firmware with each fault of a bus: it recovers, or fires nothing. make boards flies all,
// make check the first.
func TestBusFaults(t *testing.T) {
	if raceOn {
		t.Skip("emulators are not raced; make suite flies them without")
	}
	address := chip(t, "")
	for i, c := range faultsInFlight {
		if i > 0 && os.Getenv("DRYSTAGE_BOARDS") != "all" {
			break
		}
		wiring := wiringWith(t, c.fault)
		t.Run(c.reason, func(t *testing.T) {
			t.Parallel()
			plan := planOf(t, "../scenarios/nominal.yaml")
			plan.Setup.Until = sim.Anchor{Event: "booster.burnout", Offset: 4 * sim.Second}
			rec := flyChip(t, plan, address+wiring)
			v := verdict.Judge(rec)
			if !c.lit {
				assert.Empty(t, edgesOf(rec.Outputs, 0), "the sustainer's board fires something")
				return
			}
			for _, f := range v.Findings {
				if strings.HasPrefix(f.Text, "sustainer.ignite ") {
					assert.Equal(t, harness.Pass, f.Answer, "%s: %s", f.Text, f.Reason)
				}
			}
		})
	}
}
