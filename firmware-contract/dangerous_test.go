//go:build linux || darwin

package firmwarecontract

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/judge/hazards"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// dangers says for each dangerous firmware which shipped scenario fails, until when that has to be flown, which
// expectation fails, and the words of its reason that point to the mistake.
var dangers = []struct {
	name     string // of the file in dangerous/
	scenario string
	until    string // an event; 4 s after it all is seen; empty: the whole flight
	fails    string // how the expectation begins
	named    string
}{
	{"disarm-ignored", "disarmed", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"main-on-pad-restart", "restart-pad", sim.EventLiftoff, "sustainer.main never fires before apogee", "sustainer.main was on at 4.4"},
	{"tilt-about-one-axis", "tip-off-pitched", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"main-fires-again", "power-cut-main", "", "sustainer.main fires at most once", "switched on 13 times"},
	{"main-never-off", "nominal", "", "sustainer.main pulse lasts from 0.2 s to 3 s", "still on at"},
	{"no-number-after-a-gap", "imu-gap", sim.EventApogee, "sustainer.drogue fires from apogee", "never switched on"},
	{"clock-in-16-bits", "wrap-in-boost", sim.EventApogee, "sustainer.drogue fires from apogee", "never switched on"},
	{"speed-in-16-bits", "gannet", "booster.burnout", "sustainer.drogue never fires while sustainer airspeed above 60 m/s", "where it must be dark"},
	{"height-in-16-bits", "as-set", "", "sustainer reports the apogee height within 3 m", "an apogee height of 327."},
	{"outputs-a-tick-late", "command-good", "booster.burnout", "sustainer.ignite switches on within", "took 0.005 s after command stage"},
	{"trusts-a-frozen-gyro", "gyro-stuck", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"trusts-a-lost-gyro", "gyro-lost", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"no-apogee-without-barometer", "baro-lost", sim.EventApogee, "sustainer.drogue fires from apogee", "never switched on"},
	{"no-main-without-barometer", "baro-lost-descent", "", "sustainer descent at most", "at sustainer.landing"},
	{"gravity-not-removed", "baro-dropout", "", "sustainer.drogue fires from apogee", "after the window closes"},
	{"stale-sample-repeated", "baro-lost", sim.EventApogee, "sustainer.drogue never fires while sustainer airspeed above 50 m/s", "where it must be dark"},
	{"stages-at-each-command", "command-twice", "sustainer.burnout", "sustainer.ignite fires at most once", "switched on 2 times"},
	{"timers-from-the-restart", "timers-restart", sim.EventApogee, "sustainer.drogue fires from liftoff", "switched on"},
	{"stages-too-low", "too-low", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"gyro-range-too-small", "spinning-over", "booster.burnout", "sustainer.ignite never fires while sustainer tilt above 20 deg", "where it must be dark"},
	{"samples-counted-for-time", "gyro-half-lost", "booster.burnout", "sustainer.ignite never fires while sustainer tilt above 20 deg", "where it must be dark"},
	{"apogee-of-a-shove", "shoved-back", sim.EventLiftoff, "sustainer.drogue never fires before liftoff", "where it must be dark"},
	{"lockout-from-first-burnout", "timers", sim.EventApogee, "sustainer.drogue never fires while sustainer climb above 43 m/s", "where it must be dark"},
	{"gyro-error-in-motion", "slow-turn", "", "sustainer.ignite never fires while sustainer tilt above 20 deg", "where it must be dark"},
	{"armed-anew-in-flight", "armed-again-in-flight", "booster.burnout", "sustainer.ignite fires from booster.burnout", "never switched on"},
	{"command-overrides-tilt", "command-tilted", "", "sustainer.ignite never fires while sustainer tilt above 20 deg", "where it must be dark"},
	{"second-shove-believed", "shoved-twice", sim.EventLiftoff, "sustainer.drogue never fires before liftoff", "where it must be dark"},
	{"ready-for-the-next-flight", "fetched", "", "sustainer.main never fires after sustainer.landing", "where it must be dark"},
	{"silence-is-burnout", "accelerometer-lost-boost", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"rail-is-upright", "leaning-rail", "", "sustainer.ignite never fires while sustainer tilt above 20 deg", "where it must be dark"},
	{"no-fire-on-a-low-battery", "battery-reads-low", "booster.burnout", "sustainer.ignite fires from booster.burnout", "never switched on"},
	{"one-end-for-all-pulses", "pulses-overlap", "", "sustainer.drogue pulse lasts from 7.98 s", "sustainer.drogue was on at"},
	{"open-once-is-dead", "wire-back", sim.EventApogee, "sustainer.drogue fires from apogee", "never switched on"},
	{"height-of-a-dead-accelerometer", "knocked-dead", sim.EventLiftoff, "sustainer.drogue never fires before apogee", "where it must be dark"},
	{"liftoff-of-a-drift", "baro-lost-waiting", sim.EventLiftoff, "sustainer.drogue never fires before liftoff", "where it must be dark"},
	{"never-lands", "fetched-unopened", "", "sustainer.main never fires", "where it must be dark"},
	{"lag-is-apogee", "vent-sealed", "booster.burnout", "sustainer.drogue never fires while sustainer airspeed above 50 m/s", "where it must be dark"},
	{"believes-the-accelerometer-alone", "accelerometer-false-flight", sim.EventLiftoff, "sustainer.drogue never fires before liftoff", "where it must be dark"},
	{"loose-barometer-lifts-off", "baro-loose", sim.EventLiftoff, "sustainer.drogue never fires before liftoff", "where it must be dark"},
	{"sinks-on-the-pad", "baro-lost-sinking", "", "sustainer.drogue fires from apogee", "never switched on"},
	{"last-word-is-fresh", "accelerometer-lost-boost", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"gyro-clipped", "spinning-over", "booster.burnout", "sustainer.ignite never fires while sustainer tilt above 20 deg", "where it must be dark"},
	{"turn-is-gyro-error", "raised-late", "", "sustainer.ignite fires from booster.burnout", "never switched on"},
	{"asks-its-wires", "wire-back", sim.EventApogee, "sustainer.drogue fires from apogee", "never switched on"},
	{"mirrored-upside-down", "mounted-otherwise-leaning", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"disarms-on-a-loose-wire", "wire-loose-on-pad", sim.EventApogee, "sustainer.drogue fires from apogee", "never switched on"},
	{"disarms-after-a-wait", "long-wait", "booster.burnout", "sustainer.ignite fires from booster.burnout", "never switched on"},
	{"slept-through-the-flight", "baro-climbs-waiting", sim.EventLiftoff, "sustainer.drogue never fires before apogee", "where it must be dark"},
	{"zero-is-the-ground", "pulses-overlap", "", "sustainer.main switches on within 3.5 s", "did not go on"},
	{"second-thrust-begins-anew", "chuff-past-tilt", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"safe-until-the-next-start", "disarmed", "booster.burnout", "sustainer.ignite never fires", "where it must be dark"},
	{"waits-for-equality", "as-set", sim.EventApogee, "sustainer.drogue fires from apogee", "never switched on"},
	{"thrust-less-weight", "weak-motor", sim.EventApogee, "sustainer.ignition happens", "never happened"},
	{"disarms-on-a-low-battery", "battery-reads-low", "booster.burnout", "sustainer.ignite fires from booster.burnout", "never switched on"},
}

// TestDangerousFirmwares builds each dangerous firmware and flies its scenario. make check flies every third, make boards
// and make hazards all.
func TestDangerousFirmwares(t *testing.T) {
	t.Parallel()
	diffs, err := filepath.Glob("dangerous/*.diff")
	require.NoError(t, err)
	require.Len(t, diffs, len(dangers), "each has a row")
	cc := need(t, "cc")
	all := os.Getenv("DRYSTAGE_BOARDS") == "all" || os.Getenv("DRYSTAGE_HAZARDS") != ""
	for i, d := range dangers {
		if i%3 != 0 && !all {
			continue
		}
		t.Run(d.name, func(t *testing.T) {
			t.Parallel()
			board := firmware(t, cc, "dangerous/"+d.name+".diff")
			plan := planOf(t, "../scenarios/"+d.scenario+".yaml")
			if d.until != "" {
				plan.Setup.Until = sim.Anchor{Event: d.until, Offset: 4 * sim.Second}
			}
			rec := fly(t, plan, func(role string) (link.Link, error) {
				if role != "sustainer" { // all that fails is the sustainer's
					g, err := mock.New("")
					return link.Memory(g), err
				}
				return link.Open(t.Context(), "exec:'"+board+"'", link.Options{})
			})
			v := verdict.Judge(rec)
			note(t, d.name, d.scenario, hazards.Of(rec, &v))
			var failed []string
			named := slices.ContainsFunc(v.Findings, func(f harness.Finding) bool {
				if f.Answer == harness.Fail {
					failed = append(failed, f.Text+": "+f.Reason)
				}
				return f.Answer == harness.Fail && strings.HasPrefix(f.Text, d.fails) && strings.Contains(f.Reason, d.named)
			})
			assert.True(t, named, "wanted %q to fail with %q; what failed:\n%s", d.fails, d.named, strings.Join(failed, "\n"))
		})
	}
}

var noting sync.Mutex

// note writes what a firmware has shown for the page of hazards, a line of JSON in the file of $DRYSTAGE_HAZARDS.
func note(t *testing.T, firmware, scenario string, shown hazards.Set) {
	assert.NotZero(t, shown, "a hazard")
	file := os.Getenv("DRYSTAGE_HAZARDS")
	if file == "" {
		return
	}
	text, err := json.Marshal(map[string]any{"Firmware": firmware, "Scenario": scenario, "Hazards": shown})
	require.NoError(t, err)
	noting.Lock()
	defer noting.Unlock()
	f, err := os.OpenFile(file, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	require.NoError(t, err)
	_, err = f.Write(append(text, '\n'))
	require.NoError(t, errors.Join(err, f.Close()))
}
